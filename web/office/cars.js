// SPDX-License-Identifier: MIT
// The entry list: one car after the other, or a whole list at once; always tried before it is taken.

import { button, make } from '../shared/dom.js';
import { Refused } from './api.js';
import { decisionPlace, undoing } from './decision-form.js';
import { carForm, changedList } from './entry-form.js';
import { importForm } from './entry-import.js';
import { readList, writeList } from './entry-list.js';
import { numberForm } from './entry-numbers.js';
import { showRefused } from './forms.js';
import { para, table } from './parts.js';

function remarks(title, list) {
  return list.length
    ? [
        make('h3', {}, title),
        make(
          'ul',
          {},
          ...list.map((one) =>
            make(
              'li',
              {},
              one.place
                ? `${one.place}: ${one.text}`
                : `${one.reading || one.decision}: ${one.reason}`,
            ),
          ),
        ),
      ]
    : [];
}

function numbers(title, list) {
  return list && list.length
    ? [para(make('strong', {}, `${list.length} ${title}: `), list.join(', '))]
    : [];
}

const OVERTAKEN =
  'Somebody else has changed the entry list meanwhile. Nothing of yours was taken, and what you ' +
  'typed is still here: show once more what would change.';

/** What would come of a list, in words. */
function proposalWords(proposal) {
  const same =
    proposal.cars === undefined
      ? null
      : proposal.cars - proposal.added.length - proposal.changed.length;
  return [
    make('h3', {}, proposal.taken ? 'It can be taken' : 'It cannot be taken'),
    ...numbers('added', proposal.added),
    ...numbers('changed', proposal.changed),
    ...numbers('gone', proposal.gone),
    ...(same === null ? [] : [para(`${same} as before.`)]),
    ...remarks('Wrong', proposal.errors),
    ...remarks('Readings and decisions that would lose their car', proposal.lost),
    // What is doubtful in the readings was so before, and stands in the review.
    ...remarks(
      'Worth a look',
      [...proposal.warnings, ...proposal.doubts].filter(
        (one) => !/^(readings|decisions)\.csv/.test(one.place),
      ),
    ),
  ];
}

/** A car that will not start stays in the list; what takes it out is a decision. One that has been
 * read retires in the control room. */
const withdrawing = (car) => ({
  title: `Car ${car.number} is withdrawn`,
  words: 'It does not start. The entry stays in the list, so that nobody takes its number.',
  keep: 'Keep the withdrawal',
  next: `Undo the withdrawal of car ${car.number}`,
  row: () => ({ kind: 'retire', car: car.number }),
});
/** Its button. decide: see decisionPlace */
const withdrawal = (decide, car, ruling, started) =>
  started && !ruling
    ? ''
    : ruling
      ? button(
          'Undo',
          () =>
            decide.open(
              undoing(
                ruling,
                `Undo the withdrawal of car ${car.number}`,
                `Withdraw car ${car.number}`,
              ),
            ),
          { 'aria-label': `Undo the withdrawal of car ${car.number}` },
        )
      : button('Withdraw', () => decide.open(withdrawing(car)), {
          'aria-label': `Withdraw car ${car.number}`,
        });

/** Which cars are withdrawn, by what decision, which have been read, and whether teams are clubs:
 * {withdrawn, read, clubs}. */
async function rulings(office) {
  const [log, road, rules] = await Promise.all([
    office.api.get('decisions'),
    office.api.get('road'),
    office.api.document('rules'),
  ]);
  const read = new Set(road.cars.filter((car) => car.last).map((car) => String(car.car)));
  const withdrawn = new Map(
    log.decisions.filter((d) => d.holds && d.kind === 'retire' && !d.point).map((d) => [d.car, d]),
  );
  const clubs = JSON.parse(rules.text).scoring?.teams?.by === 'club';
  return { withdrawn, read, clubs };
}

/** All cars; of each `edit` changes it. withdrawn: decisions by number; read: numbers that were read;
 * clubs: teams are clubs */
const entriesTable = (list, { withdrawn, read, clubs, edit, decide }) =>
  table(
    `${list.cars.length} cars, ${withdrawn.size} withdrawn`,
    [
      'No.',
      'Driver',
      'Navigator',
      'Car',
      '#Year',
      '#Engine',
      'Category',
      'Groups',
      clubs ? 'Club' : 'Team',
      'Is',
      'Do',
    ],
    list.cars.map((car) => [
      car.number,
      car.driver,
      car.navigator,
      `${car.make} ${car.model}`,
      car.year,
      car.engine_cc,
      car.category,
      car.groups,
      clubs ? car.club : car.team,
      withdrawn.has(car.number) ? 'withdrawn' : 'entered',
      make(
        'span',
        {},
        button('Change', () => edit(car), { 'aria-label': `Change car ${car.number}` }),
        ' ',
        withdrawal(decide, car, withdrawn.get(car.number), read.has(car.number)),
      ),
    ]),
    { id: 'entries' },
  );

export async function showCars(office, place) {
  const decide = decisionPlace(office, () => refresh());
  let kept = await office.api.document('entries');
  let list = readList(kept.text);
  const body = make('div', {});
  const editing = make('div', {});
  const preview = make('div', {
    class: 'sheet',
    hidden: true,
    'aria-live': 'polite',
    tabindex: '-1',
  });

  /** Shows what would come of a whole list; it is taken only after it was seen.
   *   proposal  the server's answer; text  the list; parts  what to say before all else
   *   note   who changes it, why and from which day, for the log */
  const offer = (proposal, text, parts = [], note = {}) => {
    preview.hidden = false;
    preview.replaceChildren(
      make('h2', {}, 'What would change'),
      ...parts,
      ...proposalWords(proposal),
      para(
        proposal.taken ? button('Take this list', () => take(text, note), { class: 'strong' }) : '',
        ' ',
        button('Leave it as it was', () => {
          preview.hidden = true;
        }),
      ),
    );
    preview.focus();
  };
  const propose = async (next, note) => {
    const text = writeList(next);
    offer(await office.api.send('POST', 'entries/try', text, 'text/csv'), text, [], note);
  };
  const show = (proposal, parts) => offer(proposal, proposal.entries, parts);
  const take = async (text, note) => {
    const given = Object.entries({ by: office.by(), ...note }).filter(([, value]) => value);
    try {
      await office.api.send(
        'PUT',
        'entries?' + new URLSearchParams(given),
        text,
        'text/csv',
        kept.tag,
      );
      office.say('The entry list is taken.');
      preview.hidden = true;
      editing.replaceChildren();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      if (error.status !== 412) {
        showRefused(preview, error);
        return;
      }
      // What was shown is no longer what would change; the forms keep what was typed.
      preview.replaceChildren();
      showRefused(preview, new Refused(412, OVERTAKEN));
    }
    await refresh();
  };

  const edit = (car) => {
    const form = carForm(car, (values, note) => propose(changedList(list, car, values), note));
    editing.replaceChildren(form);
    form.querySelector('h2').focus();
  };
  const refresh = async () => {
    const ruled = await rulings(office);
    kept = await office.api.document('entries');
    list = readList(kept.text);
    body.replaceChildren(entriesTable(list, { ...ruled, edit, decide }));
  };
  place.append(
    para(button('Add a car', () => edit(null))),
    decide.place,
    make('details', {}, make('summary', {}, 'Import a list'), importForm(office, show)),
    make('details', {}, make('summary', {}, 'Number by age'), numberForm(office, show)),
    preview,
    editing,
    body,
  );
  await refresh();
  return { refresh: async () => {}, busy: () => true };
}
