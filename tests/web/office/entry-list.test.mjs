// SPDX-License-Identifier: MIT
// An entry list is written back as it was read, with columns that the office does not know.

import assert from 'node:assert/strict';
import test from 'node:test';
import { changedList } from '../../../web/office/entry-form.js';
import { readList, writeList } from '../../../web/office/entry-list.js';

test('a list is read by its headings, whatever separates them', () => {
  for (const separator of [',', ';', '\t']) {
    const text = [['number', 'driver', 'plate'], ['7', 'H. Fenn', 'MN 12'], ['8']]
      .map((row) => row.join(separator))
      .join('\r\n');
    assert.deepEqual(readList(text), {
      heads: ['number', 'driver', 'plate'],
      cars: [
        { number: '7', driver: 'H. Fenn', plate: 'MN 12' },
        { number: '8', driver: '', plate: '' },
      ],
    });
  }
});

test('what is written is read as it was', () => {
  const list = {
    heads: ['number', 'driver', 'club'],
    cars: [
      { number: '1', driver: 'A "Tom" Rill', club: 'Harbour, North' },
      { number: '2', driver: 'one\ntwo', club: 'a;b' },
      { number: '3', driver: '', club: '' },
    ],
  };
  assert.deepEqual(readList(writeList(list)), list);
  assert.equal(writeList({ heads: ['number'], cars: [{ number: '4' }] }), 'number\n4\n');
  assert.equal(writeList(readList('')), '\n');
});

test('a changed car keeps the columns that its form does not show, a new column comes last', () => {
  const list = {
    heads: ['number', 'driver', 'plate'],
    cars: [
      { number: '1', driver: 'A', plate: 'MN 1' },
      { number: '2', driver: 'B', plate: 'MN 2' },
    ],
  };
  const values = { number: '2', driver: 'C', team: 'Harbour', club: '' };
  const changed = changedList(list, list.cars[1], values);
  assert.deepEqual(changed.heads, ['number', 'driver', 'plate', 'team']);
  assert.deepEqual(changed.cars[0], list.cars[0]);
  assert.deepEqual(changed.cars[1], { ...values, plate: 'MN 2' });
  const further = changedList(list, null, { number: '3', driver: 'D' });
  assert.deepEqual(
    further.cars.map((car) => car.number),
    ['1', '2', '3'],
  );
});
