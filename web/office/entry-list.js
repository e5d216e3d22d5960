// SPDX-License-Identifier: MIT
// An entry list as text and as cars. Columns that the office does not know go along untouched.

import { parseTable } from '../shared/csv.js';

/** {heads, cars}: cars as objects by column. */
export function readList(text) {
  const [heads = [], ...rows] = parseTable(text);
  return {
    heads: [...heads],
    cars: rows.map((row) => Object.fromEntries(heads.map((head, i) => [head, row[i] || '']))),
  };
}

const quote = (cell) =>
  /[",\r\n;]|^\s|\s$/.test(cell) ? '"' + cell.replaceAll('"', '""') + '"' : cell;

/** The other way round. */
export function writeList({ heads, cars }) {
  const line = (cells) => cells.map(quote).join(',') + '\n';
  return line(heads) + cars.map((car) => line(heads.map((head) => car[head] || ''))).join('');
}
