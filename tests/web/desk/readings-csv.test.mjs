// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { readingsCsv } from '../../../web/desk/readings-csv.js';
import { parseTable } from '../../../web/shared/csv.js';

test('the copy is the contract’s readings.csv', () => {
  const text = readingsCsv([
    {
      point: 'TC1',
      car: 22,
      time: '10:42:07.123',
      id: 'a-1',
      reason: 'said "22", not 23',
      desk: '0a1b2c3d',
      seq: 1,
      offset_ms: -12.5,
    },
  ]);
  const [names, row] = parseTable(text);
  assert.deepEqual([...names].slice(0, 11), [
    'point',
    'car',
    'time',
    'elapsed',
    'faults',
    'id',
    'at',
    'by',
    'replaces',
    'void',
    'reason',
  ]);
  assert.equal(row[names.indexOf('reason')], 'said "22", not 23');
  assert.equal(row[names.indexOf('offset_ms')], '-12.5');
  assert.ok(text.endsWith('\r\n'));
});
