// SPDX-License-Identifier: MIT
// Figures are written and read in the page's language, and sorted by their value.

import assert from 'node:assert/strict';
import test from 'node:test';
import { decimalSignOf, inOrder } from '../../../web/board/figures.js';

test('the decimal sign is the language’s', () => {
  assert.deepEqual(['en', 'de', 'fr', 'it'].map(decimalSignOf), ['.', ',', ',', ',']);
});

const order = (cells, language = 'en', down = false) =>
  [...cells].sort(inOrder(language, decimalSignOf(language), down));

test('figures go by their worth, also shared places and places won or lost', () => {
  assert.deepEqual(order(['=12', '3', '=2', '101']), ['=2', '3', '=12', '101']);
  assert.deepEqual(order(['▲3', '▼10', '▲12', '▼1']), ['▼10', '▼1', '▲3', '▲12']);
  assert.deepEqual(order(['9,500', '10,000', '−2,000'], 'de'), ['−2,000', '9,500', '10,000']);
  assert.deepEqual(order(['1.0', '3.0', '2.0'], 'en', true), ['3.0', '2.0', '1.0']);
  assert.deepEqual(order(['10:00:00', '0:02:11', '0:10:00.5']), [
    '0:02:11',
    '0:10:00.5',
    '10:00:00',
  ]);
});

test('words go as the language has them, numbers in them as numbers', () => {
  assert.deepEqual(order(['R10', 'R2', 'L1']), ['L1', 'R2', 'R10']);
  assert.deepEqual(order(['Zeta', 'Äther', 'Beta'], 'de'), ['Äther', 'Beta', 'Zeta']);
});

test('empty cells come last, upwards and downwards', () => {
  assert.deepEqual(order(['', '2', '', '1']), ['1', '2', '', '']);
  assert.deepEqual(order(['', '2', '', '1'], 'en', true), ['2', '1', '', '']);
});
