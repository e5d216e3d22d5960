// SPDX-License-Identifier: MIT
// The rules: event.json as it is in force, tried before it is taken.

import { make } from './desk-dom.js';
import { Refused } from './office-api.js';
import { proposalWords } from './office-cars.js';
import { button, clearFaults, field, para, showRefused } from './office-parts.js';

export async function showRules(office, place) {
  let kept = await office.api.document('rules');
  const text = make('textarea', { rows: '30', cols: '90', spellcheck: 'false', class: 'code-text' });
  text.value = kept.text;
  const preview = make('div', { 'aria-live': 'polite' });
  const form = make('form', { class: 'sheet', novalidate: true },
    field('event.json', text, 'the event, its days, classes, scoring and route; schema/README.md explains every key'),
    para(make('button', {}, 'Check it')), preview);
  text.addEventListener('input', () => preview.replaceChildren());
  const take = async () => {
    try {
      await office.api.send('PUT', 'rules', text.value, 'application/json', kept.tag);
      kept = await office.api.document('rules');
      preview.replaceChildren(para('The rules are taken; everything was scored again.'));
      office.say('The rules are taken.');
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      showRefused(form, error);
    }
  };
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    clearFaults(form);
    try {
      const told = await office.api.send('POST', 'rules/try', text.value, 'application/json');
      preview.replaceChildren(...proposalWords(told),
        told.taken ? button('Take these rules', take, { class: 'strong' }) : '');
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      showRefused(form, error);
    }
  });
  place.append(form);
  return { refresh: async () => {}, busy: () => true };
}
