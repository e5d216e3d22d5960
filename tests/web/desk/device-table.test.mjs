// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { guessColumns, readRows } from '../../../web/desk/device-table.js';
import { parseTable } from '../../../web/shared/csv.js';

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
