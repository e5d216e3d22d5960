// SPDX-License-Identifier: MIT
// event.json by paths: read, changed, compared, written.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import test from 'node:test';
import { differences, setAt, stepsOf, tidy, valueAt } from '../../../../web/office/rules/json.js';

test('a path is keys and places in lists', () => {
  assert.deepEqual(stepsOf('route[3].speeds[0].speed'), ['route', 3, 'speeds', 0, 'speed']);
  assert.deepEqual(stepsOf('scoring.defaults.set-time.late'), [
    'scoring',
    'defaults',
    'set-time',
    'late',
  ]);
  assert.deepEqual(stepsOf('days.1'), ['days', '1']);
});

test('what is not there is undefined, however deep', () => {
  const root = { route: [{ id: 'R1', penalty: null }] };
  assert.equal(valueAt(root, 'route[0].id'), 'R1');
  for (const path of ['route[1].id', 'scoring.teams.count', 'route[0].penalty.late'])
    assert.equal(valueAt(root, path), undefined, path);
});

test('a value makes what it stands in', () => {
  const root = {};
  setAt(root, 'route[1].speeds[0].speed', 49);
  assert.equal(root.route.length, 2);
  assert.deepEqual(root.route[1], { speeds: [{ speed: 49 }] });
  setAt(root, 'scoring.coefficient', { by: 'year' });
  setAt(root, 'scoring.coefficient.round', 'whole');
  assert.deepEqual(root.scoring, { coefficient: { by: 'year', round: 'whole' } });
});

test('a value that goes takes what it leaves empty with it, but no list and nothing in one', () => {
  const root = { scoring: { teams: { count: 3 } }, route: [{ penalty: { late: 2 } }], days: [{}] };
  setAt(root, 'scoring.teams.count', undefined);
  assert.deepEqual(Object.keys(root), ['route', 'days']);
  setAt(root, 'route[0].penalty.late', undefined);
  assert.deepEqual(root.route, [{}]);
  setAt(root, 'awards[0].name', undefined);
  assert.equal(root.awards, undefined);
});

test('what is written is read as it was, in lines that are not too long', () => {
  const read = (name) => readFileSync(new URL(`../../../../${name}`, import.meta.url), 'utf8');
  const root = JSON.parse(read('seed-demo/merrow-2027/event.json'));
  const text = tidy(root);
  assert.deepEqual(JSON.parse(text), root);
  assert.ok(text.endsWith('}\n'));
  const long = text.split('\n').filter((line) => line.length > 160);
  assert.deepEqual(long, []);
  assert.equal(tidy({ a: [], b: { c: 'x' } }), '{\n  "a": [],\n  "b": {"c": "x"}\n}\n');
});

test('two documents differ where their values do', () => {
  const before = { name: 'A', days: [{ date: '1' }, { date: '2' }], unit: 'km' };
  const after = { name: 'A', days: [{ date: '1' }], unit: 'mi', slug: 's' };
  assert.deepEqual(differences(before, after), [
    { path: 'days[1]', before: { date: '2' }, after: undefined },
    { path: 'unit', before: 'km', after: 'mi' },
    { path: 'slug', before: undefined, after: 's' },
  ]);
  assert.deepEqual(differences(before, structuredClone(before)), []);
  assert.deepEqual(differences({ cap: 60 }, { cap: { late: 60 } }), [
    { path: 'cap', before: 60, after: { late: 60 } },
  ]);
  assert.deepEqual(differences([1], { 0: 1 }), [{ path: '', before: [1], after: { 0: 1 } }]);
});
