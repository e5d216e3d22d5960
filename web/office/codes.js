// SPDX-License-Identifier: MIT
// Codes of the crews: on paper, as a table, and a new one for a car whose code was lost.

import { button, make, saveFile } from '../shared/dom.js';
import { clearFaults, field, input, onSubmit, tryAct } from './forms.js';
import { para } from './parts.js';

/** Asks with the key, which no plain link would send, and hands the browser a file. */
async function save(office, name, file) {
  const { body } = await office.api.ask('GET', name);
  saveFile(body, `${office.slug}-${file}`);
  office.say(`${file} is saved.`);
}

/** The part of the Keys section that is about codes. */
export function codesPart(office) {
  const car = input('car', { size: '6', inputmode: 'numeric', maxlength: '4', id: 'renew-car' });
  const renewed = make('div', { 'aria-live': 'polite', id: 'renewed' });
  const form = make(
    'form',
    { class: 'sheet', novalidate: true },
    field(
      'New code for car',
      car,
      'where the strip was lost or seen by others; the old code ends at once',
    ),
    para(make('button', {}, 'Make a new code')),
  );
  const saving = (name, file) => () => {
    clearFaults(form);
    return tryAct(form, () => save(office, name, file));
  };
  onSubmit(form, async () => {
    const made = await office.api.post(`codes/${encodeURIComponent(car.value.trim() || '–')}`, {
      renew: true,
    });
    renewed.replaceChildren(para(`Car ${made.car}: `, make('strong', {}, made.code)));
  });
  return make(
    'section',
    {},
    make('h2', {}, 'Codes of the crews'),
    para(
      'With its code a crew asks about its card and reads the answer. Hand each crew its own strip.',
    ),
    para(
      button('Strips as PDF', saving('paper/codes', 'codes.pdf')),
      ' ',
      button('Codes as CSV', saving('codes?format=csv', 'codes.csv')),
    ),
    form,
    renewed,
  );
}
