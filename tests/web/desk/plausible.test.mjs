// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { isOdd, otherwise } from '../../../web/desk/plausible.js';
import { parseDuration, parseTimeOfDay, timeMs } from '../../../web/shared/time.js';

const odd = (typed, more = {}) => {
  const it = { typed, measure: 'time', now: timeMs('21:50'), last: null, choice: true, ...more };
  const read = it.measure === 'time' ? parseTimeOfDay : parseDuration;
  return isOdd({ ms: read(typed).ms, ...it });
};

test('an elapsed time that reads as a time of day is asked about', () => {
  assert.equal(odd('9.02'), true);
  assert.equal(odd('9.02', { now: timeMs('09:03') }), true, 'though it is nine o’clock');
  assert.equal(odd('1:23'), true);
  assert.equal(odd('25:23'), true);
  assert.equal(odd('21.48'), true);
});

test('a time of day is none where it was just read off a clock', () => {
  assert.equal(odd('2148'), false);
  assert.equal(odd('21:49:07.5'), false);
  assert.equal(odd('214907,5'), false);
  assert.equal(odd('21.48.10'), false);
  assert.equal(odd('2151'), false, 'by another clock');
});

test('one that lies far back, or ahead, is asked about, also where no elapsed time is taken', () => {
  assert.equal(odd('2040', { choice: false }), true);
  assert.equal(odd('2153', { choice: false }), true);
  assert.equal(odd('21.48', { choice: false }), false);
});

test('a sheet that is copied hours later asks for its first line alone', () => {
  const last = timeMs('18:30');
  assert.equal(odd('1831', { choice: false, last }), false);
  assert.equal(odd('1931', { choice: false, last }), true);
  assert.equal(odd('2153', { choice: false, last: timeMs('21:40') }), true, 'nothing is ahead');
});

test('a time of day that reads as an elapsed time is asked about', () => {
  const elapsed = { measure: 'elapsed' };
  assert.equal(odd('2148', elapsed), true);
  assert.equal(odd('21:48:07', elapsed), true);
  assert.equal(odd('1:23.4', elapsed), false);
  assert.equal(odd('83.45', elapsed), false);
  assert.equal(odd('1042', elapsed), false, 'a quarter of an hour and more');
});

test('what a text is the other way', () => {
  assert.deepEqual(otherwise('9.02', 'time'), { measure: 'elapsed', ms: 9020, text: '9.02' });
  assert.equal(otherwise('1042', 'elapsed').text, '10:42');
  assert.equal(otherwise('83.4', 'elapsed'), null);
  assert.equal(otherwise('x', 'time'), null);
});
