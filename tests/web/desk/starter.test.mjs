// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { countdown, isStart, nextStart } from '../../../web/desk/starter.js';
import { timeMs } from '../../../web/shared/time.js';

const LIST = [
  { car: 12, due: '21:52:00', state: 'seen' },
  { car: 13, due: '21:53:00', state: 'out' },
  { car: 14, due: '21:54:00', state: 'expected' },
  { car: 15, due: '21:55:00', state: 'expected' },
  { car: 16, due: null, state: 'expected' },
];
const next = (now, list = LIST) => {
  const { car, due, left } = nextStart(list, timeMs(now));
  return [car, due - timeMs('21:00'), left];
};

test('the next start is that of the first car that is due and was not started', () => {
  assert.deepEqual(next('21:51:18'), [14, 54 * 60000, 162000]);
  assert.deepEqual(next('21:53:59.5'), [14, 54 * 60000, 500]);
  assert.deepEqual(next('21:54:01.5'), [14, 54 * 60000, -1500], 'as it starts');
  assert.deepEqual(next('21:54:02'), [15, 55 * 60000, 58000], 'and then the next');
});

test('cars come in the order in which they are due, whatever their numbers', () => {
  const list = [LIST[3], LIST[2]];
  assert.equal(nextStart(list, timeMs('21:50')).car, 14);
});

test('where nobody is known to be due it is the next full minute', () => {
  assert.deepEqual(next('21:56:10'), [null, 57 * 60000, 50000]);
  assert.deepEqual(next('21:57:01', []), [null, 57 * 60000, -1000]);
  assert.deepEqual(next('21:57:02', []), [null, 58 * 60000, 58000]);
});

test('the last five seconds are counted, and then it is the start', () => {
  const shown = [60000, 10000, 5001, 5000, 4001, 4000, 3000, 2000, 1000, 1, 0, -500].map(countdown);
  assert.deepEqual(shown, ['1:00', '0:10', '0:06', '5', '5', '4', '3', '2', '1', '1', null, null]);
  assert.equal(countdown(724000), '12:04');
  assert.equal(countdown(3724000), '01:02:04');
});

test('cars are started at starts, and laps begin by themselves', () => {
  assert.ok(isStart({ part: 'start', laps: false }));
  assert.ok(!isStart({ part: 'start', laps: true }));
  assert.ok(!isStart({ part: 'finish', laps: false }));
  assert.ok(!isStart(null));
});
