// SPDX-License-Identifier: MIT
// Decisions: made with a reason, shown with their effect before they are kept, undone by new ones.

import { button, make } from '../shared/dom.js';
import { decisionForm, decisionPlace, undoing, withReason } from './decision-form.js';
import { field, input, routeList, select } from './forms.js';
import { moment } from './moments.js';
import { askedFor, neverBusy, table } from './parts.js';

// What each kind needs, in words; a worked example tells what it does.
const KINDS = [
  [
    'allowance',
    'Allowance: the car was held up',
    { car: true, point: true, value: 'How long, as 00:02:00' },
    'Due times of this car are later by this from this point on.',
  ],
  [
    'penalty',
    'Penalty',
    {
      car: true,
      point: 'Empty: on the total; else a point, or a test as R3',
      value: 'Points; with a minus sign they are taken off',
    },
    'Without a point it is added to the total as it is, without any coefficient; ' +
      'with one it is part of that test or control, beside its caps.',
  ],
  [
    'fails',
    'Fails',
    {
      car: true,
      point: 'Empty: in the total; else a point, or a test as R3',
      value: 'How many more, 1 to 99',
    },
    'So many fails more, in the total or in that test or control.',
  ],
  [
    'faults',
    'Faults told by a judge',
    {
      car: true,
      point: 'The point where they were, as R3/2',
      value: 'How many of which, as cone=2;line=1',
    },
    'They count as if they had come with a reading of that point, which they are not.',
  ],
  [
    'waive',
    'Waive: costs this car nothing',
    { car: true, point: true },
    'The point, or the whole test, costs this car nothing.',
  ],
  [
    'notional',
    'Notional result',
    { car: true, point: true, value: 'What it costs, in points; of a whole test also: average' },
    'The point, or the whole test, costs this car exactly this; average: what its other tests of that kind cost on average.',
  ],
  [
    'cancel',
    'Cancel for everybody',
    { point: true },
    'The point, or the whole test, counts for nobody.',
  ],
  [
    'close',
    'Close: no further cars',
    { point: 'Point, test, or day:N' },
    'From now on a missing reading there is a missed point.',
  ],
  [
    'retire',
    'Retired',
    { car: true, point: 'After which point; empty: before the start' },
    'The car is out after this point.',
  ],
  [
    'rejoin',
    'Back from a day on',
    { car: true, value: 'Number of the day' },
    'The car is back from the start of that day.',
  ],
  ['disqualify', 'Disqualified', { car: true }, 'The car is out of every classification.'],
];

const POINT_MAY_BE_EMPTY = ['retire', 'penalty', 'fails'];

const KIND_NAMES = new Map(KINDS.map(([kind, words]) => [kind, words.split(':')[0]]));

/** What the fields of a form say, and what is wrong with them. */
function decisionFrom(form) {
  const [kind, , needs] = KINDS.find(([name]) => name === form.elements.kind.value);
  const faults = [];
  const row = { kind };
  for (const name of ['car', 'point', 'value']) {
    if (!needs[name]) continue;
    row[name] = form.elements[name].value.trim();
    if (!row[name] && !(name === 'point' && POINT_MAY_BE_EMPTY.includes(kind)))
      faults.push({
        text: {
          car: "Enter the car's number.",
          point: 'Enter the point or test.',
          value: 'Enter the value.',
        }[name],
        control: form.elements[name],
      });
  }
  return { row, faults };
}

/** A form for one decision: filled in, tried out, then kept. `done` is called once it is kept. */
function newDecisionForm(office, given, done) {
  const kind = select(
    'kind',
    KINDS.map(([name, words]) => [name, words]),
    given.kind || 'allowance',
  );
  const car = input('car', { inputmode: 'numeric', size: '6', value: given.car || '' });
  const point = input('point', { size: '12', value: given.point || '', list: 'points-known' });
  const value = input('value', { size: '16', value: given.value || '' });
  const rows = {
    car: field('Car number', car),
    point: field('Point or test', point, 'such as R3/2, or R3 for the whole test'),
    value: field('Value', value, ' '),
  };
  const words = make('p', { class: 'small' });
  const change = () => {
    const [, , needs, about] = KINDS.find(([name]) => name === kind.value);
    for (const name of ['car', 'point', 'value']) {
      rows[name].hidden = !needs[name];
      const hint = rows[name].querySelector('.hint');
      if (hint && typeof needs[name] === 'string') hint.textContent = needs[name];
    }
    words.textContent = about;
  };
  kind.addEventListener('change', change);
  const form = decisionForm(office, {
    head: [field('Kind', kind), words, rows.car, rows.point, rows.value],
    reason: given.reason,
    keep: 'Keep this decision',
    tail: [routeList(office, 'points-known')],
    faults: () => decisionFrom(form).faults,
    rows: (reason) => ({ decisions: [withReason(office, decisionFrom(form).row, reason)] }),
    said: 'Kept.',
    done: async () => {
      form.reset();
      change();
      await done();
    },
  });
  change();
  return form;
}

/** Undoing is a decision of its own, with its reason; it can be undone too. */
const undoingOf = (decision, log) => {
  const of = [decision.car && `car ${decision.car}`, decision.point].filter(Boolean).join(' at ');
  return undoing(
    decision,
    `Undo decision ${decision.number}, ${(KIND_NAMES.get(decision.kind) || 'Undone').toLowerCase()}${of && `, ${of}`}`,
    `Undo decision ${log.decisions.length + 1}`,
  );
};

function logTable(office, log, decide) {
  const rows = log.decisions
    .slice()
    .reverse()
    .map((d) => [
      d.number,
      KIND_NAMES.get(d.kind) || 'Undone',
      d.car || '–',
      d.point || '–',
      d.kind === 'revoke' ? numberOf(log, d.value) : d.value || '–',
      d.reason,
      d.by || '–',
      d.at ? moment(office, d.at) : '–',
      d.holds ? 'holds' : 'undone',
      d.holds
        ? button('Undo', () => decide.open(undoingOf(d, log)), {
            'aria-label': `Undo decision ${d.number}`,
          })
        : null,
    ]);
  return table(
    `All ${rows.length} decisions, the latest first`,
    ['No.', 'Kind', '#Car', 'Point', '#Value', 'Reason', 'By', 'At', 'Is', 'Do'],
    rows,
    { id: 'log' },
  );
}

const numberOf = (log, id) => {
  const found = log.decisions.find((d) => d.id === id);
  return found ? `decision ${found.number}` : id;
};

export async function showDecisions(office, place) {
  const list = make('div', {});
  let seen = null;
  const refresh = async (unless = neverBusy) => {
    const log = await office.api.tagged('decisions');
    if (log.tag === seen || unless()) return;
    seen = log.tag;
    list.replaceChildren(logTable(office, log, decide));
  };
  const decide = decisionPlace(office, () => refresh());
  const form = newDecisionForm(office, askedFor(), refresh);
  place.append(
    make('h2', {}, 'A new decision'),
    form,
    make('h2', {}, 'The log'),
    decide.place,
    list,
  );
  await refresh();
  return { refresh, busy: () => list.contains(document.activeElement) };
}
