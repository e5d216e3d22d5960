// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { beginPractice, pressed, stepOf } from '../../../web/desk/practice-steps.js';

const MINUTE = [
  ['stamp', '7', '10:00:05'],
  ['blank', '', '10:00:15'],
  ['give', '12', '10:00:20'],
  ['stamp', '3', '10:00:31'],
  ['strike', '', '10:00:40'],
  ['strike', '', '10:00:41'],
];

test('three cars: stamp, time only, its number, and one that is struck out', () => {
  let state = beginPractice();
  for (const press of MINUTE) {
    assert.notEqual(stepOf(state), null);
    state = pressed(state, ...press);
    assert.equal(state.other, false, press.join(' '));
  }
  assert.equal(stepOf(state), null);
  assert.deepEqual(state.rows, [
    { car: '3', time: '10:00:31', struck: true },
    { car: '12', time: '10:00:15', struck: false },
    { car: '7', time: '10:00:05', struck: false },
  ]);
  assert.equal(pressed(state, 'stamp', '9', '10:00:59'), state);
});

test('what was not asked for is said and changes nothing', () => {
  let state = beginPractice();
  for (const wrong of [
    ['stamp', '8'],
    ['stamp', ''],
    ['blank', ''],
    ['give', '7'],
    ['strike', ''],
  ]) {
    const after = pressed(state, ...wrong, '10:00:01');
    assert.deepEqual(after, { ...state, other: true }, wrong.join(' '));
  }
  for (const press of MINUTE.slice(0, 5)) state = pressed(state, ...press);
  assert.equal(state.asked, true);
  const left = pressed(state, 'stamp', '3', '10:00:50');
  assert.equal(left.asked, false, 'a strike that was asked about is asked about anew');
  assert.equal(left.rows[0].struck, false);
});
