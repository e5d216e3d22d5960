// SPDX-License-Identifier: MIT
// Pieces that the sections of the office share.

import { make } from '../shared/dom.js';

/** A table in a box of its own that may scroll sideways.
 *   heads  texts; one that begins with "#" is a column of figures
 *   rows   arrays of cells: texts, numbers or nodes; null is empty */
export function table(caption, heads, rows, { id = null } = {}) {
  const figures = heads.map((head) => head.startsWith('#'));
  const cells = (row) =>
    row.map((cell, i) =>
      make(
        i === 0 ? 'th' : 'td',
        { class: figures[i] ? 'n' : null, scope: i === 0 ? 'row' : null },
        cell === null || cell === undefined ? '' : cell instanceof Node ? cell : String(cell),
      ),
    );
  return make(
    'div',
    { class: 'scroll', role: 'region', tabindex: '0', 'aria-label': caption },
    make(
      'table',
      { id },
      make('caption', {}, caption),
      make(
        'thead',
        {},
        make(
          'tr',
          {},
          ...heads.map((head, i) =>
            make('th', { scope: 'col', class: figures[i] ? 'n' : null }, head.replace(/^#/, '')),
          ),
        ),
      ),
      make('tbody', {}, ...rows.map((row) => make('tr', {}, ...cells(row)))),
    ),
  );
}

/** A section's refresh(unless) asks before it draws whether somebody is at work there; this says no. */
export const nobody = () => false;

export const para = (...parts) => make('p', {}, ...parts);

/** What stands behind the "?" of the section's address, by name. */
export const askedFor = () =>
  Object.fromEntries(new URLSearchParams(location.hash.split('?')[1] || ''));
