// SPDX-License-Identifier: MIT
// An entry list comes back as it was, with columns that nobody here knows.

import assert from 'node:assert/strict';
import test from 'node:test';
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
