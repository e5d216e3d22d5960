// SPDX-License-Identifier: MIT
// A cell of the public pages is found by the key of its column. That nothing counts cells:
// tests/web/shared/columns.test.mjs.

import assert from 'node:assert/strict';
import { readFileSync, readdirSync } from 'node:fs';
import test from 'node:test';
import * as lists from '../../../build/web/board/columns.mjs';
import { cellAt, cellOf } from '../../../web/board/cells.js';

// The rows look at the page as they are loaded.
const onPage = new Map();
globalThis.document = {
  documentElement: { lang: 'en' },
  getElementById: (id) => onPage.get(id) ?? null,
  querySelectorAll: () => [],
};
globalThis.matchMedia = () => ({ matches: true });
const { placeOf } = await import('../../../web/board/rows.js');

const top = new URL('../../../', import.meta.url);
const read = (name) => readFileSync(new URL(name, top), 'utf8');
const styles = readdirSync(new URL('web/board/', top))
  .filter((name) => name.endsWith('.css'))
  .map((name) => read('web/board/' + name).replace(/\/\*[^]*?\*\//g, ''));

/** A row of a table of that class whose cells are the keys of the list. */
const rowOf = (table, keys) => ({
  cells: keys,
  closest: (selector) => (selector === '.' + table ? {} : null),
});

test('every table of the list has its columns in their order', () => {
  const listed = {};
  let columns;
  for (const [, what, name] of read('server/pages/columns.def').matchAll(
    /^(TABLE|COLUMN|OPTIONAL)\("([^"]+)/gm,
  )) {
    if (what === 'TABLE') columns = listed[name] = [];
    else columns.push(name);
  }
  assert.ok(Object.keys(listed).length > 10);
  assert.deepEqual({ ...lists }, listed);
});

test('a row of the standings gives a cell by its key, of a placed car or of another', () => {
  for (const [table, keys] of [
    ['board', lists.board],
    ['others', lists.others],
  ]) {
    const row = rowOf(table, keys);
    for (const key of keys) assert.equal(cellOf(row, key), key, table);
  }
  assert.equal(cellOf(rowOf('others', lists.others), 'place'), undefined);
  assert.equal(cellAt(rowOf('route', lists.route), lists.route, 'distance'), 'distance');
});

test('a car has the place of its row; one that waits for its place has none, whatever its number', () => {
  const texts = (...all) => all.map((textContent) => ({ textContent }));
  onPage.set('n22', rowOf('board', texts('=3', '', '22')));
  onPage.set('n31', rowOf('others', texts('31', 'Ada Esk', '12.500')));
  assert.deepEqual([22, 31, 40].map(placeOf), [3, 0, 0]);
});

test('the style that pages load has a number for every column that is named', () => {
  const names = styles.flatMap((text) => text.match(/:column\([^)]*\)/g) ?? []);
  assert.ok(names.length > 40);
  const style = read('build/web/board/style.css');
  assert.doesNotMatch(style, /:column/);
  assert.match(style, new RegExp(`\\.board td:nth-child\\(${lists.board.indexOf('place') + 1}\\)`));
});
