// SPDX-License-Identifier: MIT
// Pieces that the sections of the office share.

import { make } from '../shared/dom.js';

/** A table in a box of its own that may scroll sideways.
 *   heads  texts; one that begins with "#" is a column of figures; one with a class for the cells
 *          below it, by which a style finds them, is {words, class}
 *   rows   arrays of cells: texts, numbers or nodes; null is empty */
export function table(caption, heads, rows, { id = null } = {}) {
  const columns = heads.map((head) => {
    if (typeof head !== 'string') return head;
    const isFigures = head.startsWith('#');
    return { words: isFigures ? head.slice(1) : head, class: isFigures ? 'n' : null };
  });
  const cells = (row) =>
    row.map((cell, i) =>
      make(
        i === 0 ? 'th' : 'td',
        { class: columns[i].class, scope: i === 0 ? 'row' : null },
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
          ...columns.map((column) =>
            make('th', { scope: 'col', class: column.class }, column.words),
          ),
        ),
      ),
      make('tbody', {}, ...rows.map((row) => make('tr', {}, ...cells(row)))),
    ),
  );
}

/** For refresh(unless) of a section, which does not draw where unless() is true: draws always. */
export const neverBusy = () => false;

export const para = (...parts) => make('p', {}, ...parts);

/** What stands behind the "?" of the section's address, by name. */
export const askedFor = () =>
  Object.fromEntries(new URLSearchParams(location.hash.split('?')[1] || ''));
