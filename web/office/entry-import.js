// SPDX-License-Identifier: MIT
// A pasted entry list, row by row: the server says what would come of it.

import { make } from '../shared/dom.js';
import { field, requestForm } from './forms.js';
import { para, table } from './parts.js';

const RESULTS = { refused: 'refused', added: 'added', changed: 'changed', same: 'the same' };

const cellWords = ({ column, before, now }) => `${column}: ${before || '–'} → ${now || '–'}`;

const crewOf = (row) => [row.driver, row.navigator].filter(Boolean).join(' / ');

/** Each row of a pasted list, those that are refused first, those that change nothing counted only. */
function rowsWords(rows) {
  const of = (result) => rows.filter((row) => row.result === result);
  const shown = ['refused', 'added', 'changed'].flatMap(of);
  const counts = Object.entries(RESULTS)
    .map(([result, words]) => `${of(result).length} ${words}`)
    .join(', ');
  return [
    para(
      make('strong', {}, `${rows.length} rows: ${counts}.`),
      of('refused').length
        ? ' The list is taken whole or not at all: mend the rows that are refused.'
        : '',
    ),
    shown.length
      ? table(
          'Rows of the list',
          ['Row', 'Is', 'No.', 'Crew', 'What'],
          shown.map((row) => [
            row.line,
            RESULTS[row.result],
            row.number || '–',
            crewOf(row),
            row.reason || (row.changes || []).map(cellWords).join('; '),
          ]),
          { id: 'rows' },
        )
      : '',
  ];
}

/** The form of a pasted list.
 *   show  gets the answer and the words for its rows */
export function importForm(office, show) {
  const list = make('textarea', { rows: '8', cols: '60', spellcheck: 'false' });
  const whole = make('input', { type: 'checkbox' });
  return requestForm(
    [
      field(
        'Paste a list',
        list,
        'with a row of headings: number, driver, navigator, make, model, year, …; commas, semicolons ' +
          'or tabs. Only “number” must be there for cars that are in the list already.',
      ),
      make(
        'p',
        {},
        make('label', {}, whole, ' It is the whole list: cars that are not in it are taken out'),
      ),
    ],
    'Show what would change',
    async () => {
      const reply = await office.api.post('entries/import', {
        list: list.value,
        whole: whole.checked,
      });
      show({ ...reply, cars: undefined, added: [], changed: [] }, rowsWords(reply.rows));
    },
  );
}
