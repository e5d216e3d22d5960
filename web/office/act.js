// SPDX-License-Identifier: MIT
// One decision at a time where it is needed: asked for its reason, shown with its effect, then kept.

import { make } from '../shared/dom.js';
import { Refused } from './api.js';
import { effectTables } from './effect.js';
import { button, clearFaults, field, input, para, showRefused, summary } from './parts.js';

/** Adds what every decision holds. */
export const stamped = (office, row, reason) => ({
  ...row,
  reason,
  at: new Date().toISOString(),
  by: office.by(),
});

/** A form for a decision whose kind is known.
 *   title   what it is;  words  what it means, in a sentence
 *   fields  rows made by `field`, which stand before the reason
 *   row     makes the decision's kind, car, point and value;  faults  those of the fields
 *   reason  what stands in the reason at first
 *   keep    what the button says;  done  is told when it was kept, with the decision;  back  when not */
export function actForm(
  office,
  { title, words, fields = [], row, faults = () => [], reason = '', keep, done, back },
) {
  const why = input('reason', { size: '50', value: reason });
  const effect = make('div', { 'aria-live': 'polite' });
  const kept = button(keep, () => save(), { hidden: true, class: 'strong' });
  const form = make(
    'form',
    { class: 'sheet', novalidate: true, id: 'act' },
    make('h2', { tabindex: '-1' }, title),
    para(words),
    ...fields,
    field('Reason', why, 'for everybody to read'),
    para(
      make('button', {}, 'Show what it does'),
      ' ',
      kept,
      ' ',
      button('Leave it', () => back()),
    ),
    effect,
  );
  let tried = null;
  const forget = () => {
    tried = null;
    kept.hidden = true;
    effect.replaceChildren();
  };
  const save = async () => {
    try {
      const told = await office.api.post('decisions', [tried.row], tried.tag);
      if (told.refused.length) throw new Refused(400, told.refused[0].reason);
      office.say(`${title}: kept.`);
      await done(tried.row);
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      forget();
      showRefused(form, error);
    }
  };
  form.addEventListener('input', forget);
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    clearFaults(form);
    const wrong = faults();
    if (!why.value.trim())
      wrong.push({ text: 'Give the reason: everybody will read it.', control: why });
    if (!office.by())
      wrong.push({
        text: 'Say at the top of the page who decides.',
        control: document.getElementById('by'),
      });
    if (wrong.length) {
      const box = summary(wrong);
      form.prepend(box);
      box.focus();
      return;
    }
    try {
      const log = await office.api.tagged('decisions');
      const decision = stamped(office, row(), why.value.trim());
      const told = await office.api.post('effects', [decision]);
      if (told.refused.length) throw new Refused(400, told.refused[0].reason);
      tried = { row: decision, tag: log.tag };
      effect.replaceChildren(...effectTables(told));
      kept.hidden = false;
      kept.focus();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      showRefused(form, error);
    }
  });
  return form;
}

/** Puts one form into its place and gives the focus back where it came from; once it was kept, to
 * the control of the name `next`, which stands there now. `redraw` brings the tables up to date. */
export function actPlace(office, redraw) {
  const place = make('div', {});
  let from = null;
  const back = (name = from) => {
    place.replaceChildren();
    const again =
      name &&
      [...document.querySelectorAll('[aria-label]')].find(
        (node) => node.getAttribute('aria-label') === name,
      );
    (again || document.getElementById('office')).focus();
  };
  const open = (what) => {
    from = document.activeElement && document.activeElement.getAttribute('aria-label');
    const form = actForm(office, {
      ...what,
      back: () => back(),
      done: async () => {
        await redraw();
        back(what.next);
      },
    });
    place.replaceChildren(form);
    form.querySelector('h2').focus();
  };
  return { place, open, back };
}

/** The undoing of a decision, for `open`. `next` as there. */
export const undoing = (decision, title, next) => ({
  title,
  next,
  words: 'What was decided no longer holds; it stays in the log.',
  keep: 'Keep this',
  row: () => ({ kind: 'revoke', value: decision.id }),
});
