// SPDX-License-Identifier: MIT
// What is typed into a field of the rules is read as it was meant, or told as unreadable; nothing of
// it is lost in silence.

import assert from 'node:assert/strict';
import test from 'node:test';
import { SORTS } from '../../../../web/office/rules/sorts.js';

const read = (sort, text, before) => {
  assert.equal(SORTS[sort].wrong?.(text) ?? null, null, `${sort}: ${text}`);
  return SORTS[sort].read(text, before);
};
const wrong = (sort, text) => SORTS[sort].wrong(text);

test('a comma that parts, and a comma that is a decimal point', () => {
  assert.deepEqual(read('pads', '11.70, 9.00'), ['11.70', '9.00']);
  assert.deepEqual(read('pads', '11.70,9.00,8.50'), ['11.70', '9.00', '8.50']);
  assert.deepEqual(read('pads', '00:10:00,00:12:00; 9'), ['00:10:00', '00:12:00', '9']);
  for (const [sort, text] of [
    ['pads', '11,70'],
    ['pads', '11,70, 9,00'],
    ['number', '42,5'],
    ['cost', '0,5'],
    ['charge', '2,5'],
    ['charge', '0,5 up to 00:01:00, then 1'],
    ['cap', '90,5'],
    ['cap', 'early 90,5, late 60'],
    ['table', 'cone 5,5, line 10'],
    ['table', 'tour 0,9'],
  ])
    assert.match(wrong(sort, text), /with a point/, `${sort}: ${text}`);
});

test('a most for each side is read whole or not at all', () => {
  assert.equal(read('cap', '60'), 60);
  assert.deepEqual(read('cap', 'early 90, late 60'), { early: 90, late: 60 });
  assert.deepEqual(read('cap', 'Late 60'), { late: 60 });
  for (const text of ['early 90 late 60', 'early 90, 60', 'sixty', 'late 60, late 70'])
    assert.match(wrong('cap', text), /one for each side/, text);
});

test('names with figures: each once, each with its worth', () => {
  assert.deepEqual(read('table', 'cone 5, speeding 1 fail; wrong-way missed'), {
    cone: 5,
    speeding: { fails: 1 },
    'wrong-way': 'missed',
  });
  assert.deepEqual(read('table', 'cone=5, line: 10'), { cone: 5, line: 10 });
  assert.match(wrong('table', 'cone 5, cone 10'), /“cone” stands twice/);
  assert.match(wrong('table', 'cone 5, stop'), /“stop” has no figure/);
});

test('steps and a best with so much more', () => {
  assert.deepEqual(read('charge', '2 up to 00:01:00, then 5'), [
    { to: '00:01:00', rate: 2 },
    { rate: 5 },
  ]);
  assert.deepEqual(read('maximum', 'best of class plus 30'), { best: 'class', plus: '30' });
  assert.deepEqual(read('maximum', 'best of class + 00:00:30'), {
    best: 'class',
    plus: '00:00:30',
  });
});

test('cars are named by what they are', () => {
  assert.deepEqual(read('cars', 'group ladies'), { group: 'ladies' });
  assert.deepEqual(read('cars', 'category touring, sport'), { category: ['touring', 'sport'] });
  assert.match(wrong('cars', 'ladies'), /group ladies/);
});

test('a text that stands for nothing is shown as it was typed', () => {
  for (const [sort, text] of [
    ['table', 'cone 5, cone 10'],
    ['pads', '11,70'],
    ['cap', 'sixty'],
    ['charge', '2,5'],
    ['cars', 'ladies'],
  ])
    assert.equal(SORTS[sort].show(text), text);
});
