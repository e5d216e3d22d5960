// SPDX-License-Identifier: MIT
// What each answer to a doubt would send.

import assert from 'node:assert/strict';
import test from 'node:test';
import {
  MOST_WITHDRAWN,
  answersTo,
  hiddenOf,
  rowsOf,
  valueOf,
} from '../../../web/office/answers.js';

const QUAY = { id: 'q', time: '08:55', by: 'quay' };
const MOLE = { id: 'm', time: '08:48:00', faults: 'cone=1', counts: true };

/** A doubt about these readings, with its answers by their words. */
function doubtOf(readings, { passage = false, count = readings.length, fields = {} } = {}) {
  const doubt = { point: 'TC1', car: 3, readings, readings_count: count };
  const controls = {};
  for (const name of ['car', 'time', 'faults', 'points'])
    controls[name] = { value: fields[name] ?? '' };
  const list = answersTo(doubt, controls, passage, () => readings);
  return { doubt, controls, list, words: list.map((answer) => answer.words) };
}
const answer = ({ list }, start) => list.find(({ words }) => words.startsWith(start));
const AT_ALL = [
  'It was here at this time',
  'It costs this car nothing',
  'It costs this car so many points',
];

test('a reading is told by its time and its faults', () => {
  assert.equal(valueOf(QUAY), '08:55');
  assert.equal(valueOf(MOLE), '08:48:00, cone=1');
  assert.equal(valueOf({ elapsed: '01:23.4' }), '01:23.4');
  assert.equal(valueOf({}), 'seen');
});

test('where readings differ one of them holds and the others are withdrawn', () => {
  const made = doubtOf([QUAY, MOLE]);
  assert.deepEqual(made.words, [
    '08:55 holds (quay); the others are withdrawn',
    '08:48:00, cone=1 holds (nobody named); the others are withdrawn',
    'Nothing of it is right: all are withdrawn',
    'It was another car',
    ...AT_ALL,
  ]);
  assert.deepEqual(made.list[0].readings(), [{ point: 'TC1', car: 3, replaces: 'm', void: true }]);
  assert.deepEqual(
    made.list[2].readings().map((row) => [row.replaces, row.void]),
    [
      ['q', true],
      ['m', true],
    ],
  );
});

test('another car gets the reading that counts, whatever stands first', () => {
  const made = doubtOf([QUAY, MOLE], { fields: { car: ' 8 ' } });
  const found = answer(made, 'It was another car');
  assert.equal(found.control, made.controls.car);
  assert.deepEqual(found.readings(), [
    {
      point: 'TC1',
      car: '8',
      time: '08:48:00',
      elapsed: undefined,
      faults: 'cone=1',
      replaces: 'm',
    },
  ]);
});

test('a time that is known takes the place of the first, the others are withdrawn', () => {
  const fields = { time: '08:50', faults: 'cone=2' };
  const rows = answer(doubtOf([QUAY, MOLE], { fields }), 'It was here at this');
  assert.deepEqual(rows.readings(), [
    { point: 'TC1', car: 3, time: '08:50', faults: 'cone=2', replaces: 'q' },
    { point: 'TC1', car: 3, replaces: 'm', void: true },
  ]);
});

test('where nothing was read, it was there or it costs', () => {
  assert.deepEqual(doubtOf([]).words, AT_ALL);
  const passage = doubtOf([], { passage: true });
  assert.deepEqual(passage.words, ['It was here', ...AT_ALL]);
  assert.deepEqual(passage.list[0].readings(), [{ point: 'TC1', car: 3 }]);
  const typed = answer(doubtOf([], { fields: { time: '9:01' } }), 'It was here at this time');
  assert.deepEqual(typed.readings(), [{ point: 'TC1', car: 3, time: '9:01', faults: '' }]);
});

test('a single reading is not held against others', () => {
  assert.equal(doubtOf([QUAY]).words[0], 'Nothing of it is right: all are withdrawn');
});

test('more than go into one body are not withdrawn from here', () => {
  const many = doubtOf([QUAY, MOLE], { count: MOST_WITHDRAWN + 1 });
  assert.deepEqual(many.words, ['It was another car', ...AT_ALL.slice(1)]);
  assert.equal(hiddenOf(many.doubt), MOST_WITHDRAWN - 1);
  assert.ok(doubtOf([QUAY, MOLE], { count: MOST_WITHDRAWN }).words.includes(AT_ALL[0]));
});

test('rows are completed, and what was left empty is not sent', () => {
  const stamp = (row) => ({ ...row, by: 'C. Clerk', reason: '' });
  const made = doubtOf([QUAY], { fields: { car: '8', points: '12.5' } });
  assert.deepEqual(rowsOf(answer(made, 'It was another car'), stamp), {
    readings: [{ point: 'TC1', car: '8', time: '08:55', replaces: 'q', by: 'C. Clerk' }],
    decisions: [],
  });
  assert.deepEqual(rowsOf(answer(made, 'It costs this car so many'), stamp), {
    readings: [],
    decisions: [{ kind: 'notional', car: 3, point: 'TC1', value: '12.5', by: 'C. Clerk' }],
  });
  assert.equal(rowsOf(answer(made, 'It costs this car nothing'), stamp).decisions[0].kind, 'waive');
});

/** A doubt about a reading that is of no car of the list. */
function aside(kind, car, fields = {}) {
  const readings = [{ id: 'b', time: '08:55:10', faults: 'cone=1', by: 'quay' }];
  const doubt = { kind, point: 'S1/finish', car, readings, readings_count: 1 };
  return answersTo(doubt, { car: { value: '', ...fields } }, false, () => readings);
}

test('a time without a number is given to a car, with its faults, or withdrawn', () => {
  const list = aside('no-car', null, { value: ' 8 ' });
  assert.deepEqual(
    list.map(({ words }) => words),
    ['It was car number', 'Nothing of it is right: it is withdrawn'],
  );
  const given = { point: 'S1/finish', car: '8', time: '08:55:10', faults: 'cone=1', replaces: 'b' };
  assert.deepEqual(rowsOf(list[0], (row) => row).readings, [given]);
  assert.deepEqual(list[1].readings(), [
    { point: 'S1/finish', desk: 'office', replaces: 'b', void: true },
  ]);
});

test('a reading of an unknown car is given to another, or withdrawn', () => {
  const list = aside('unknown-car', 417, { value: '41' });
  assert.equal(list[0].words, 'It was another car');
  assert.equal(list[0].readings()[0].car, '41');
  assert.equal(list.length, 2);
});
