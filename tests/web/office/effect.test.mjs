// SPDX-License-Identifier: MIT
// An effect names each change with the value before it.

import assert from 'node:assert/strict';
import test from 'node:test';
import { moved, placeText } from '../../../web/office/effect.js';

test('what stays is told once, what changes with both', () => {
  assert.equal(moved(3, 3), '3');
  assert.equal(moved(3, 2), '3 → 2');
  assert.equal(moved(null, 2), 'no place → 2');
  assert.equal(moved(null, null), 'no place');
  assert.equal(moved('ok', 'out', String), 'ok → out');
  assert.equal(placeText(1), '1');
});
