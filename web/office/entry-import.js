// SPDX-License-Identifier: MIT
// The entry list as a whole: a pasted list row by row, and numbers by age. The server tells what
// would come of it; it is taken as it was shown.

import { make } from '../shared/dom.js';
import { clearFaults, field, input, para, orRefused, table } from './parts.js';

const RESULTS = { refused: 'refused', added: 'added', changed: 'changed', same: 'the same' };

const cellWords = ({ column, before, now }) => `${column}: ${before || '–'} → ${now || '–'}`;

const crewOf = (row) => [row.driver, row.navigator].filter(Boolean).join(' / ');

/** Each row of a pasted list, those that are refused first, those that change nothing counted only. */
export function rowsWords(rows) {
  const of = (result) => rows.filter((row) => row.result === result);
  const told = ['refused', 'added', 'changed'].flatMap(of);
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
    told.length
      ? table(
          'Rows of the list',
          ['Row', 'Is', 'No.', 'Crew', 'What'],
          told.map((row) => [
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

/** Who gets which number. */
export function numbersWords(cars) {
  const moved = cars.filter((car) => String(car.number) !== car.was).length;
  return [
    para(
      make(
        'strong',
        {},
        moved
          ? `${moved} of ${cars.length} cars get another number.`
          : 'Every car has its number by age already.',
      ),
    ),
    cars.length
      ? table(
          'Numbers by age',
          ['No.', '#Was', 'Driver', '#Year', '#Engine', 'By'],
          cars.map((car) => [
            car.number,
            car.was || '–',
            car.driver,
            car.year,
            car.engine_cc ?? '–',
            car.by_hand ? 'hand' : 'age',
          ]),
          { id: 'numbers' },
        )
      : '',
  ];
}

/** A form that asks the server and shows the answer. */
function asking(parts, button, ask) {
  const form = make(
    'form',
    { class: 'sheet', novalidate: true },
    ...parts,
    para(make('button', {}, button)),
  );
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    clearFaults(form);
    await orRefused(form, async () => {
      await ask();
    });
  });
  return form;
}

/** The form of a pasted list.
 *   show  gets the answer and the words for its rows */
export function importForm(office, show) {
  const list = make('textarea', { rows: '8', cols: '60', spellcheck: 'false' });
  const whole = make('input', { type: 'checkbox' });
  return asking(
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
      const told = await office.api.post('entries/import', {
        list: list.value,
        whole: whole.checked,
      });
      show({ ...told, cars: undefined, added: [], changed: [] }, rowsWords(told.rows));
    },
  );
}

/** The form of numbers by age, with the exceptions that are made by hand. */
export function numberForm(office, show) {
  const keep = input('keep', { size: '24' });
  const give = input('give', { size: '24' });
  const skip = input('skip', { size: '24' });
  const first = input('first', { size: '6', inputmode: 'numeric' });
  return asking(
    [
      para(
        'The oldest car first; of equal years the smaller engine, one that is not known last; ' +
          'then the order of entry. Once start times, readings or decisions name cars, numbers stay.',
      ),
      field('Cars that keep their number', keep, 'numbers with commas, as 1, 22'),
      field(
        'Numbers by hand',
        give,
        'the number that a car has now and the one that it gets, as 22=1, 7=3',
      ),
      field('Numbers that nobody gets', skip, 'with commas, as 13'),
      field('First number', first, 'empty: 1'),
    ],
    'Show the numbers',
    async () => {
      const value = (control) => control.value.trim();
      const told = await office.api.post('entries/number', {
        keep: value(keep),
        give: value(give),
        skip: value(skip),
        first: value(first),
      });
      show(
        { ...told, cars: undefined, added: [], changed: [], gone: [] },
        numbersWords(told.numbers),
      );
    },
  );
}
