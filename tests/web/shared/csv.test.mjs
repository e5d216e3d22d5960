// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { parseTable } from '../../../web/shared/csv.js';

const cells = (text) => parseTable(text).map((row) => [...row]);

test('the separator is told from the first line', () => {
  assert.deepEqual(cells('car,time\n22,10:42:07\n'), [
    ['car', 'time'],
    ['22', '10:42:07'],
  ]);
  assert.deepEqual(cells('Nr;Zeit\r\n22;10:42:07,5\r\n'), [
    ['Nr', 'Zeit'],
    ['22', '10:42:07,5'],
  ]);
  assert.deepEqual(cells('22\t10:42:07'), [['22', '10:42:07']]);
});

test('quotes, line breaks within them, a byte-order mark, empty lines', () => {
  assert.deepEqual(cells('\uFEFFa,b\n"x, ""y""","1\n2"\n\n,\nz,\n'), [
    ['a', 'b'],
    ['x, "y"', '1\n2'],
    ['z', ''],
  ]);
  assert.deepEqual(
    parseTable('a,b\n"1\n2",x\n3,y\n').map((row) => row.line),
    [1, 2, 4],
  );
});
