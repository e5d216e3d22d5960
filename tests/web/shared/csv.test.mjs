// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { guessColumns, parseTable, readRows, readingsCsv } from '../../../web/shared/csv.js';

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

test('columns are known by their names in four languages', () => {
  assert.deepEqual(guessColumns(parseTable('No,Name,Time\n22,x,10:42')), {
    header: true,
    columns: { car: 0, time: 2 },
  });
  assert.deepEqual(guessColumns(parseTable('Startnummer;Laufzeit')), {
    header: true,
    columns: { car: 0, elapsed: 1 },
  });
  assert.deepEqual(guessColumns(parseTable('numéro;heure;fautes')).columns, {
    car: 0,
    time: 1,
    faults: 2,
  });
  assert.deepEqual(guessColumns(parseTable('Vettura;Ora;Punto')).columns, {
    car: 0,
    time: 1,
    point: 2,
  });
});

test('without names they are told from what they hold', () => {
  assert.deepEqual(guessColumns(parseTable('22,10:42:07.5\n31,10:43:00')), {
    header: false,
    columns: { car: 0, time: 1 },
  });
  assert.deepEqual(guessColumns(parseTable('22,83.45\n')), {
    header: false,
    columns: { car: 0, elapsed: 1 },
  });
  assert.deepEqual(guessColumns([]), { header: false, columns: {} });
});

const points = [
  { id: 'TC1', takes: ['time'], faults: [] },
  { id: 'S1/finish', takes: ['time', 'elapsed'], faults: ['cone'] },
  { id: 'PC1', takes: ['time', 'sighting'], faults: [] },
];
const read = (text, columns, point = 'TC1') =>
  readRows(parseTable(text), { header: false, columns, points, point });

test('each row is a reading or says what is wrong', () => {
  const rows = read('22,104207\n0,10:42\nx,10:42\n31,late\n31,', { car: 0, time: 1 });
  assert.deepEqual(
    rows.map((r) => r.reading),
    [{ point: 'TC1', car: 22, time: '10:42:07' }, null, null, null, null],
  );
  assert.deepEqual(
    rows.map((r) => r.wrong),
    ['', 'car', 'car', 'time', 'nothing'],
  );
});

test('a table may be for several points', () => {
  const rows = read(
    'S1/finish,22,1:23.45,cone=2\nTC1,31,10:42,\nTC9,31,10:42,\nS1/finish,22,83.4,line=1',
    { point: 0, car: 1, elapsed: 2, time: 2, faults: 3 },
    '',
  );
  assert.deepEqual(rows[1].reading, { point: 'TC1', car: 31, time: '10:42' });
  assert.equal(rows[2].wrong, 'point');
  const tests = read('S1/finish,22,1:23.45,cone=2\nS1/finish,22,83.4,line=1', {
    point: 0,
    car: 1,
    elapsed: 2,
    faults: 3,
  });
  assert.deepEqual(tests[0].reading, {
    point: 'S1/finish',
    car: 22,
    elapsed: '00:01:23.45',
    faults: 'cone=2',
  });
  assert.equal(tests[1].wrong, 'faults');
});

test('a sighting serves a passage control', () => {
  assert.deepEqual(read('22', { car: 0 }, 'PC1')[0].reading, { point: 'PC1', car: 22 });
});

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
