// SPDX-License-Identifier: MIT
// One car of the entry list: its columns as fields.

import { button, make } from '../shared/dom.js';
import { field, input, onSubmit } from './forms.js';
import { para } from './parts.js';

const COLUMNS = [
  'number',
  'driver',
  'navigator',
  'make',
  'model',
  'year',
  'engine_cc',
  'supercharged',
  'category',
  'team',
  'country',
  'club',
  'groups',
  'coefficient',
  'born',
];
const TITLES = {
  number: 'Number',
  driver: 'Driver',
  navigator: 'Navigator',
  make: 'Make',
  model: 'Model',
  year: 'Year',
  engine_cc: 'Engine, cc',
  supercharged: 'Supercharged (yes or no)',
  category: 'Category',
  team: 'Team',
  country: 'Country',
  club: 'Club',
  groups: 'Groups',
  coefficient: 'Coefficient of this car',
  born: 'Driver born',
};
const HINTS = {
  groups: 'ids of the event’s groups, parted by “;”',
  coefficient: 'such as 1.35, where coefficients go by entry',
  born: 'a year, or a date such as 1961-04-30; the public never sees it',
};

/** The list with the changed car in it, or with a further one where `car` is null. Its other columns stay,
 * and a column that the list has not yet comes behind them. */
export function changedList(list, car, values) {
  const changed = { ...(car || {}), ...values };
  const further = COLUMNS.filter((name) => changed[name] && !list.heads.includes(name));
  return {
    heads: [...list.heads, ...further],
    cars: car
      ? list.cars.map((one) => (one.number === car.number ? changed : one))
      : [...list.cars, changed],
  };
}

/** A form for a car, null for a further one. propose(values, note) asks what would change. */
export function carForm(car, propose) {
  const controls = Object.fromEntries(
    COLUMNS.map((name) => [name, input(name, { value: car ? car[name] || '' : '', size: '24' })]),
  );
  const since = make('input', { type: 'date', name: 'since' });
  const why = input('why', { size: '50' });
  const form = make(
    'form',
    { class: 'sheet', novalidate: true },
    make('h2', { tabindex: '-1' }, car ? `Car ${car.number}` : 'A further car'),
    ...COLUMNS.map((name) => field(TITLES[name], controls[name], HINTS[name])),
    ...(car
      ? [
          field(
            'From which day it is so',
            since,
            'for the log; the scores of all days go by the new entry',
          ),
          field(
            'Why it changes',
            why,
            'such as a change of crew, with who allowed it; for the log',
          ),
        ]
      : []),
    para(
      make('button', { class: 'strong' }, 'Show what would change'),
      ' ',
      button('Back', () => form.remove()),
    ),
  );
  onSubmit(form, () => {
    const values = COLUMNS.map((name) => [name, controls[name].value.trim()]);
    const note = { reason: why.value.trim(), since: since.value };
    return propose(Object.fromEntries(values), note);
  });
  return form;
}
