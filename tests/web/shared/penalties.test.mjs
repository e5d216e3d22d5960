// SPDX-License-Identifier: MIT
// Penalties are written in points or as time, and read back.

import assert from 'node:assert/strict';
import test from 'node:test';
import { figureText, thousandths } from '../../../web/shared/penalties.js';

test('a figure has three decimals and comes back as it was', () => {
  for (const [n, text] of [
    [0, '0.000'],
    [7, '0.007'],
    [-20, '-0.020'],
    [65090, '65.090'],
    [-1234567, '-1234.567'],
  ]) {
    assert.equal(figureText(n, '.'), text);
    assert.equal(thousandths(text), n);
    assert.equal(thousandths(figureText(n, ',')), n);
  }
});

test('a figure may be a time, and comes back as it was', () => {
  for (const [n, text] of [
    [0, '0:00:00'],
    [131000, '0:02:11'],
    [3723500, '1:02:03.5'],
    [270000000, '75:00:00'],
    [-5000, '-0:00:05'],
    [10000, '0:00:10'],
    [10045, '0:00:10.045'],
    [600250, '0:10:00.25'],
  ]) {
    assert.equal(figureText(n, '.', true), text);
    assert.equal(thousandths(text), n);
    assert.equal(thousandths(figureText(n, ',', true)), n);
  }
});
