// SPDX-License-Identifier: MIT
// Shows the reader's own car and its rivals above the table, and marks one's own in it.

import { board, others } from '../../build/web/board/columns.mjs';
import { byId } from '../shared/dom.js';
import { cellAt } from './cells.js';
import * as pins from './pins.js';
import { carOf, rowOf, rowsOfCars } from './rows.js';

// The cells of a car without a place, under the columns of the others. A class without a place in it
// would read as a place.
const asPlaced = (tr) =>
  board.map(
    (key) =>
      cellAt(tr, others, { note: 'why', era: 0 }[key] ?? key) || document.createElement('td'),
  );

export function showPinned() {
  const body = byId('pins').querySelector('tbody');
  const rows = pins
    .list()
    .map(rowOf)
    .filter(Boolean)
    .map((tr) => {
      const row = tr.cloneNode(true);
      row.removeAttribute('id');
      if (tr.closest('.others')) row.replaceChildren(...asPlaced(row));
      if (pins.has('own', carOf(tr))) row.className = 'own';
      return row;
    });
  for (const tr of rowsOfCars()) tr.classList.toggle('own', pins.has('own', carOf(tr)));
  body.replaceChildren(...rows);
  byId('pins').hidden = rows.length === 0;
}
