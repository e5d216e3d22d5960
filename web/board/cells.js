// SPDX-License-Identifier: MIT
// Cells by the key of their column, as server/pages/columns.def has it. Knows no column by number.

import { board, others } from '../../build/web/board/columns.mjs';

/** The cell of a row under the column of that key, undefined where its table has none. */
export const cellAt = (tr, columns, key) => tr.cells[columns.indexOf(key)];

/** The same for a row of the standings, of a car that is placed or not. */
export const cellOf = (tr, key) => cellAt(tr, tr.closest('.others') ? others : board, key);
