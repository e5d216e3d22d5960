// SPDX-License-Identifier: MIT
// What a start list's form asks of the server, by what is typed in it.

import assert from 'node:assert/strict';
import test from 'node:test';
import { noticeText, pairs, planOf } from '../../../web/office/start-plan.js';

const NAMES = ['order', 'first', 'interval', 'reverse', 'intervals', 'gaps', 'late'];
const fieldsOf = (typed) =>
  Object.fromEntries(NAMES.map((name) => [name, { value: typed[name] ?? '' }]));
const plan = (typed) => planOf(fieldsOf({ order: 'number', ...typed }));

test('pairs are read with commas, semicolons or lines between them', () => {
  assert.deepEqual(pairs('22=00:02:00, C=90;D-3 = end\n'), {
    22: '00:02:00',
    C: '90',
    'D-3': 'end',
  });
  assert.deepEqual(pairs(' ,; '), {});
  for (const wrong of ['22', '=3', 'a b=3', '22=']) assert.equal(pairs(wrong), null, wrong);
});

test('what is left empty is as the rules have it', () => {
  assert.deepEqual(plan({}), { body: { order: 'number' }, faults: [] });
});

test('what is typed goes along, without blanks around it', () => {
  const typed = { first: ' 08:01 ', interval: '00:02:00', gaps: '40=00:10:00', late: '9=end' };
  assert.deepEqual(plan(typed).body, {
    order: 'number',
    first: '08:01',
    interval: '00:02:00',
    gaps: { 40: '00:10:00' },
    late: { 9: 'end' },
  });
});

test('how many are reversed belongs to one order alone, and is a number', () => {
  const reversed = (reverse) => plan({ order: 'standings-reversed', reverse });
  assert.equal(reversed('15').body.reverse_first, 15);
  assert.equal(reversed('').body.reverse_first, undefined);
  assert.equal(plan({ reverse: 'three' }).faults.length, 0);
  const { faults, body } = reversed('three');
  assert.deepEqual([faults.length, body.reverse_first], [1, undefined]);
  assert.equal(faults[0].control.value, 'three');
});

test('each field that cannot be read is named', () => {
  const { faults } = plan({ intervals: 'C', gaps: 'x', late: '9=end' });
  assert.deepEqual(
    faults.map(({ control }) => control.value),
    ['C', 'x'],
  );
});

test('as a notice a list has a line for each car', () => {
  const starts = [
    { time: '09:30:00', car: 3, crew: ['A. Rill', 'B. Fenn'], vehicle: 'Calder Six' },
    { time: '09:31:00', car: 5, crew: ['C. Lund'], vehicle: 'Brixham Tourer' },
  ];
  assert.equal(
    noticeText({ starts }),
    '09:30:00  car 3  A. Rill / B. Fenn, Calder Six\n09:31:00  car 5  C. Lund, Brixham Tourer',
  );
});
