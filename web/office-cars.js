// SPDX-License-Identifier: MIT
// The entry list: one car after the other, or a whole list at once; always tried before it is taken.

import { parseTable } from './desk-csv.js';
import { make } from './desk-dom.js';
import { actPlace, undoing } from './office-act.js';
import { Refused } from './office-api.js';
import { button, clearFaults, field, input, para, showRefused, table } from './office-parts.js';

const COLUMNS = ['number', 'driver', 'navigator', 'make', 'model', 'year', 'engine_cc', 'supercharged',
  'category', 'team', 'country', 'club'];
const TITLES = { number: 'Number', driver: 'Driver', navigator: 'Navigator', make: 'Make', model: 'Model',
  year: 'Year', engine_cc: 'Engine, cc', supercharged: 'Supercharged (yes or no)', category: 'Category',
  team: 'Team', country: 'Country', club: 'Club' };

/** A table as objects by column; every column is kept, known or not. */
function readList(text) {
  const [heads = [], ...rows] = parseTable(text);
  return { heads: [...heads], cars: rows.map((row) => Object.fromEntries(heads.map((head, i) => [head, row[i] || '']))) };
}

const quote = (cell) => (/[",\r\n;]|^\s|\s$/.test(cell) ? '"' + cell.replaceAll('"', '""') + '"' : cell);

function writeList({ heads, cars }) {
  const line = (cells) => cells.map(quote).join(',') + '\n';
  return line(heads) + cars.map((car) => line(heads.map((head) => car[head] || ''))).join('');
}

/** Numbers by age, the oldest first; of equal years the smaller engine, then the order of entry.
 * Cars in `kept` keep their number, and the others go round them. */
export function numberByAge(cars, kept) {
  const taken = new Set(kept);
  const order = cars.map((car, entered) => ({ car, entered }))
    .filter(({ car }) => !taken.has(car.number))
    .sort((a, b) => a.car.year - b.car.year ||
      (Number(a.car.engine_cc) || 0) - (Number(b.car.engine_cc) || 0) || a.entered - b.entered);
  let next = 1;
  const numbers = new Map();
  for (const { car } of order) {
    while (taken.has(String(next))) next++;
    numbers.set(car, String(next++));
  }
  return cars.map((car) => ({ ...car, number: numbers.get(car) || car.number }));
}

function remarks(title, list) {
  return list.length ? [make('h3', {}, title), make('ul', {}, ...list.map((one) =>
    make('li', {}, one.place ? `${one.place}: ${one.text}` : `${one.reading || one.decision}: ${one.reason}`)))] : [];
}

function numbers(title, list) {
  return list && list.length ? [para(make('strong', {}, `${list.length} ${title}: `), list.join(', '))] : [];
}

/** What would come of a list, in words. */
export function proposalWords(told) {
  const same = told.cars === undefined ? null : told.cars - told.added.length - told.changed.length;
  return [
    make('h3', {}, told.taken ? 'It can be taken' : 'It cannot be taken'),
    ...numbers('added', told.added), ...numbers('changed', told.changed), ...numbers('gone', told.gone),
    ...(same === null ? [] : [para(`${same} as before.`)]),
    ...remarks('Wrong', told.errors), ...remarks('Readings and decisions that would lose their car', told.lost),
    // What is doubtful in the readings was so before, and stands in the review.
    ...remarks('Worth a look', [...told.warnings, ...told.doubts].filter((one) => !/^(readings|decisions)\.csv/.test(one.place))),
  ];
}

export async function showCars(office, place) {
  const act = actPlace(office, () => refresh());
  let kept = await office.api.document('entries');
  let list = readList(kept.text);
  const body = make('div', {});
  const preview = make('div', { class: 'sheet', hidden: true, 'aria-live': 'polite', tabindex: '-1' });

  /** Tries a whole list; it is taken only after it was seen.
   *   note  who changes it, why and from which day, for the log */
  const propose = async (next, note = {}) => {
    const text = writeList(next);
    const told = await office.api.send('POST', 'entries/try', text, 'text/csv');
    preview.hidden = false;
    preview.replaceChildren(make('h2', {}, 'What would change'), ...proposalWords(told),
      para(told.taken ? button('Take this list', () => take(text, note), { class: 'strong' }) : '', ' ',
        button('Leave it as it was', () => { preview.hidden = true; })));
    preview.focus();
  };
  const take = async (text, note) => {
    const given = Object.entries({ by: office.by(), ...note }).filter(([, value]) => value);
    try {
      await office.api.send('PUT', 'entries?' + new URLSearchParams(given), text, 'text/csv', kept.tag);
      office.say('The entry list is taken.');
      preview.hidden = true;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      showRefused(preview, error);
      return;
    }
    await refresh();
  };

  const edit = (car) => {
    const controls = Object.fromEntries(COLUMNS.map((name) =>
      [name, input(name, { value: car ? car[name] || '' : '', size: '24' })]));
    const since = make('input', { type: 'date', name: 'since' });
    const why = input('why', { size: '50' });
    const form = make('form', { class: 'sheet', novalidate: true },
      make('h2', { tabindex: '-1' }, car ? `Car ${car.number}` : 'A further car'),
      ...COLUMNS.map((name) => field(TITLES[name], controls[name])),
      ...(car ? [field('From which day it is so', since, 'for the log; the scores of all days go by the new entry'),
        field('Why it changes', why, 'such as a change of crew, with who allowed it; for the log')] : []),
      para(make('button', { class: 'strong' }, 'Show what would change'), ' ',
        button('Back', () => form.remove())));
    form.addEventListener('submit', async (event) => {
      event.preventDefault();
      clearFaults(form);
      const changed = { ...(car || {}), ...Object.fromEntries(COLUMNS.map((name) => [name, controls[name].value.trim()])) };
      const heads = [...list.heads, ...COLUMNS.filter((name) => changed[name] && !list.heads.includes(name))];
      const cars = car ? list.cars.map((one) => (one === car ? changed : one)) : [...list.cars, changed];
      try {
        await propose({ heads, cars }, { reason: why.value.trim(), since: since.value });
      } catch (error) {
        if (!(error instanceof Refused)) throw error;
        showRefused(form, error);
      }
    });
    body.prepend(form);
    form.querySelector('h2').focus();
  };

  const paste = make('textarea', { rows: '6', cols: '60', spellcheck: 'false' });
  const whole = make('input', { type: 'checkbox' });
  const keep = input('keep', { size: '20' });
  const pasteForm = make('form', { class: 'sheet', novalidate: true },
    field('Paste a list', paste, 'with a row of headings: number, driver, navigator, make, model, year, …; commas, semicolons or tabs'),
    make('p', {}, make('label', {}, whole, ' It is the whole list: cars that are not in it are taken out')),
    para(make('button', {}, 'Show what would change')));
  pasteForm.addEventListener('submit', async (event) => {
    event.preventDefault();
    clearFaults(pasteForm);
    const given = readList(paste.value);
    const numbersGiven = new Set(given.cars.map((car) => car.number));
    const heads = [...new Set([...list.heads, ...given.heads])];
    const cars = whole.checked ? given.cars : [
      ...list.cars.map((car) => (numbersGiven.has(car.number) ?
        { ...car, ...given.cars.find((one) => one.number === car.number) } : car)),
      ...given.cars.filter((car) => !list.cars.some((one) => one.number === car.number))];
    try {
      await propose({ heads: whole.checked ? given.heads : heads, cars });
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      showRefused(pasteForm, error);
    }
  });

  /** A car that will not start stays in the list; what takes it out is a decision. One that has been
   * read retires in the control room. */
  const withdrawing = (car) => ({ title: `Car ${car.number} is withdrawn`,
    words: 'It does not start. The entry stays in the list, so that nobody takes its number.',
    keep: 'Keep the withdrawal', next: `Undo the withdrawal of car ${car.number}`, row: () => ({ kind: 'retire', car: car.number }) });
  const withdrawal = (car, ruling, started) => (started && !ruling ? '' : ruling ?
    button('Undo', () => act.open(undoing(ruling, `Undo the withdrawal of car ${car.number}`, `Withdraw car ${car.number}`)),
      { 'aria-label': `Undo the withdrawal of car ${car.number}` }) :
    button('Withdraw', () => act.open(withdrawing(car)), { 'aria-label': `Withdraw car ${car.number}` }));

  const refresh = async () => {
    const [log, road] = await Promise.all([office.api.get('decisions'), office.api.get('road')]);
    const read = new Set(road.cars.filter((car) => car.last).map((car) => String(car.car)));
    const withdrawn = new Map(log.decisions.filter((d) => d.holds && d.kind === 'retire' && !d.point).map((d) => [d.car, d]));
    kept = await office.api.document('entries');
    list = readList(kept.text);
    body.replaceChildren(table(`${list.cars.length} cars, ${withdrawn.size} withdrawn`, ['No.', 'Driver', 'Navigator', 'Car', '#Year', '#Engine', 'Category', 'Team', 'Is', 'Do'],
      list.cars.map((car) => [car.number, car.driver, car.navigator, `${car.make} ${car.model}`, car.year, car.engine_cc,
        car.category, car.team, withdrawn.has(car.number) ? 'withdrawn' : 'entered',
        make('span', {}, button('Change', () => edit(car), { 'aria-label': `Change car ${car.number}` }), ' ',
          withdrawal(car, withdrawn.get(car.number), read.has(car.number)))]), { id: 'entries' }));
  };
  place.append(
    para(button('Add a car', () => edit(null)), ' ',
      button('Number by age', () => propose({ heads: list.heads,
        cars: numberByAge(list.cars, keep.value.split(/[\s,]+/).filter(Boolean)) }))),
    field('Numbers that stay as they are', keep, 'for “Number by age”, with commas; the others go by year, then the smaller engine, then the order of entry'),
    act.place, preview, make('details', {}, make('summary', {}, 'Import a list'), pasteForm), body);
  await refresh();
  return { refresh: async () => {}, busy: () => true };
}
