// SPDX-License-Identifier: MIT
// Shows the reader's own car and its rivals above the table, and marks one's own in it.

import { byId } from '../shared/dom.js';
import * as pins from './pins.js';
import { carOf, rowOf, rowsOfCars } from './rows.js';

export function showPinned() {
  const body = byId('pins').querySelector('tbody');
  const rows = pins
    .list()
    .map(rowOf)
    .filter((tr) => tr?.closest('.board'))
    .map((tr) => {
      const row = tr.cloneNode(true);
      row.removeAttribute('id');
      if (pins.has('own', carOf(tr))) row.className = 'own';
      return row;
    });
  for (const tr of rowsOfCars()) tr.classList.toggle('own', pins.has('own', carOf(tr)));
  body.replaceChildren(...rows);
  byId('pins').hidden = rows.length === 0;
}
