// SPDX-License-Identifier: MIT
// Decisions: made with a reason, shown with their effect before they are kept, undone by new ones.

import { make } from '../shared/dom.js';
import { actPlace, undoing } from './act.js';
import { Refused } from './api.js';
import { effectTables } from './effect.js';
import {
  button,
  clearFaults,
  field,
  input,
  nobody,
  para,
  select,
  showRefused,
  summary,
  table,
} from './parts.js';
import { moment } from './times.js';

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
    'Penalty on the total',
    { car: true, value: 'Points; with a minus sign they are taken off' },
    'Added to the total as it is, without any coefficient.',
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
    { car: true, point: true, value: 'What it costs, in points' },
    'The point, or the whole test, costs this car exactly this.',
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

const KIND_NAMES = new Map(KINDS.map(([kind, words]) => [kind, words.split(':')[0]]));

function decisionFrom(form, office) {
  const [kind, , needs] = KINDS.find(([name]) => name === form.elements.kind.value);
  const faults = [];
  const row = { kind, reason: form.elements.reason.value.trim() };
  for (const name of ['car', 'point', 'value']) {
    if (!needs[name]) continue;
    row[name] = form.elements[name].value.trim();
    if (!row[name] && !(kind === 'retire' && name === 'point'))
      faults.push({
        text: {
          car: "Enter the car's number.",
          point: 'Enter the point or test.',
          value: 'Enter the value.',
        }[name],
        control: form.elements[name],
      });
  }
  if (!row.reason)
    faults.push({
      text: 'Give the reason: everybody will read it.',
      control: form.elements.reason,
    });
  if (!office.by())
    faults.push({
      text: 'Say at the top of the page who decides.',
      control: document.getElementById('by'),
    });
  return { row: { ...row, at: new Date().toISOString(), by: office.by() }, faults };
}

/** A form for one decision: filled in, tried out, then kept. `done` is told when it was kept. */
export function decisionForm(office, given, done) {
  const kind = select(
    'kind',
    KINDS.map(([name, words]) => [name, words]),
    given.kind || 'allowance',
  );
  const car = input('car', { inputmode: 'numeric', size: '6', value: given.car || '' });
  const point = input('point', { size: '12', value: given.point || '', list: 'points-known' });
  const value = input('value', { size: '12', value: given.value || '' });
  const reason = input('reason', { size: '50', value: given.reason || '' });
  const rows = {
    car: field('Car number', car),
    point: field('Point or test', point, 'such as R3/2, or R3 for the whole test'),
    value: field('Value', value, ' '),
  };
  const words = make('p', { class: 'small' });
  const effect = make('div', { 'aria-live': 'polite' });
  const keep = button('Keep this decision', () => save(), { hidden: true, class: 'strong' });
  const form = make(
    'form',
    { class: 'sheet', novalidate: true },
    field('Kind', kind),
    words,
    rows.car,
    rows.point,
    rows.value,
    field('Reason', reason, 'for everybody to read'),
    para(make('button', {}, 'Show what it does'), ' ', keep),
    effect,
    make(
      'datalist',
      { id: 'points-known' },
      ...office.event.route.map((item) => make('option', { value: item.id }, item.name)),
    ),
  );
  let tried = null;
  const change = () => {
    const [, , needs, told] = KINDS.find(([name]) => name === kind.value);
    for (const name of ['car', 'point', 'value']) {
      rows[name].hidden = !needs[name];
      const hint = rows[name].querySelector('.hint');
      if (hint && typeof needs[name] === 'string') hint.textContent = needs[name];
    }
    words.textContent = told;
    forget();
  };
  const forget = () => {
    tried = null;
    keep.hidden = true;
    effect.replaceChildren();
  };
  const save = async () => {
    try {
      const told = await office.api.post('decisions', [tried.row], tried.tag);
      if (told.refused.length) throw new Refused(400, told.refused[0].reason);
      office.say('Kept.');
      form.reset();
      forget();
      await done();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      forget();
      showRefused(form, error);
    }
  };
  form.addEventListener('input', forget);
  kind.addEventListener('change', change);
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    clearFaults(form);
    const { row, faults } = decisionFrom(form, office);
    if (faults.length) {
      const box = summary(faults);
      form.prepend(box);
      box.focus();
      return;
    }
    try {
      const log = await office.api.tagged('decisions');
      const told = await office.api.post('effects', [row]);
      if (told.refused.length) throw new Refused(400, told.refused[0].reason);
      tried = { row, tag: log.tag };
      effect.replaceChildren(...effectTables(told));
      keep.hidden = false;
      keep.focus();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      showRefused(form, error);
    }
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

function logTable(office, log, act) {
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
        ? button('Undo', () => act.open(undoingOf(d, log)), {
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
  const refresh = async (unless = nobody) => {
    const log = await office.api.tagged('decisions');
    if (log.tag === seen || unless()) return;
    seen = log.tag;
    list.replaceChildren(logTable(office, log, act));
  };
  const act = actPlace(office, () => refresh());
  const given = Object.fromEntries(new URLSearchParams(location.hash.split('?')[1] || ''));
  const form = decisionForm(office, given, refresh);
  place.append(make('h2', {}, 'A new decision'), form, make('h2', {}, 'The log'), act.place, list);
  await refresh();
  return { refresh, busy: () => list.contains(document.activeElement) };
}
