// SPDX-License-Identifier: MIT
// Sorts a table by the column whose heading was pressed.

import { inOrder } from './figures.js';
import { decimalSign } from './parts.js';
import { root } from './root.js';

// Rows come in the official order; a third press on a heading gives it back.
const orders = new Map(); // by caption: [column, downwards]
const known = new WeakMap(); // a body's rows in their own order
export const official = (body) => known.get(body) || [...body.rows];

// The rows of a table's body in the order that was chosen for it; `rows` are in the official order.
export const sorted = (body, rows = official(body)) => {
  known.set(body, rows);
  const [column, down] = orders.get(body.parentNode.caption.textContent) || [];
  if (column === undefined) return rows;
  const compare = inOrder(root.lang, decimalSign, down);
  return rows
    .map((tr) => [tr.cells[column].textContent.trim(), tr])
    .sort(([a], [b]) => compare(a, b))
    .map(([, tr]) => tr);
};

export const setUpSorts = (within) => {
  for (const table of within.querySelectorAll('table:is(.board, .results, .starts, .teams)')) {
    const body = table.tBodies[0];
    if (!table.tHead || body.rows.length < 2) continue;
    const heads = [...table.tHead.rows[0].cells];
    const name = table.caption.textContent;
    const show = () => {
      const [column, down] = orders.get(name) || [];
      heads.forEach((th, i) => {
        if (i === column) th.ariaSort = down ? 'descending' : 'ascending';
        else th.removeAttribute('aria-sort');
      });
      body.append(...sorted(body));
    };
    heads.forEach((th, i) => {
      const button = document.createElement('button');
      button.type = 'button';
      button.append(...th.childNodes);
      th.append(button);
      button.onclick = () => {
        const [column, down] = orders.get(name) || [];
        if (column === i && down) orders.delete(name);
        else orders.set(name, [i, column === i]);
        show();
      };
    });
    if (orders.has(name)) show();
  }
};
