// SPDX-License-Identifier: MIT
// Forms of the office: their fields, what is wrong with them, and sending them.

import { make } from '../shared/dom.js';
import { Refused } from './api.js';

let serial = 0;

/** A labelled field. `hint` stands below the label. Returns the row and the control in it. */
export function field(label, control, hint = null) {
  const id = control.id || `f${++serial}`;
  control.id = id;
  const note = hint ? make('span', { class: 'hint', id: id + '-hint' }, hint) : null;
  if (note) control.setAttribute('aria-describedby', id + '-hint');
  return make('p', { class: 'field' }, make('label', { for: id }, label), note, control);
}

export const input = (name, attributes = {}) =>
  make('input', { type: 'text', name, autocomplete: 'off', spellcheck: 'false', ...attributes });

export const select = (name, choices, chosen = null) =>
  make(
    'select',
    { name },
    ...choices.map(([value, text]) => make('option', { value, selected: value === chosen }, text)),
  );

/** The days of the event, as choices. */
export const dayChoices = (office) =>
  office.event.days.map(({ day, date }) => [String(day), `Day ${day}, ${date}`]);

/** The items of the route, for fields whose `list` is that id. */
export const routeList = (office, id) =>
  make(
    'datalist',
    { id },
    ...office.event.route.map((item) => make('option', { value: item.id }, item.name)),
  );

/** What is wrong, at the top of a form: gets the focus, each line leads to its field.
 *   faults  [{text, control, lead}]; control may be null; where `lead` is a function, it is what
 *           shows the field, which may not be there yet */
export function summary(faults) {
  const line = ({ text, control, lead }) => {
    if (!control && !lead) return text;
    const go = lead || (() => control.focus());
    return make(
      'a',
      {
        href: control ? '#' + control.id : location.hash,
        click: (event) => {
          event.preventDefault();
          go();
        },
      },
      text,
    );
  };
  const box = make(
    'div',
    { class: 'faults', tabindex: '-1', role: 'group', 'aria-label': 'There is a problem' },
    make('h2', {}, 'There is a problem'),
    make('ul', {}, ...faults.map((fault) => make('li', {}, line(fault)))),
  );
  for (const { text, control } of faults) {
    if (control) markFault(control, text);
  }
  return box;
}

/** Says beside a field what is wrong with it. */
export function markFault(control, text) {
  control.setAttribute('aria-invalid', 'true');
  control.before(make('span', { class: 'fault' }, text));
}

/** Takes the marks of a summary away again. */
export function clearFaults(form) {
  form.querySelectorAll('.faults, .fault').forEach((node) => node.remove());
  form.querySelectorAll('[aria-invalid]').forEach((node) => node.removeAttribute('aria-invalid'));
}

/** An error of the server at the top of a form. */
export function showRefused(form, error) {
  showFaults(
    form,
    [error.message, ...error.errors].map((text) => ({ text, control: null })),
  );
}

/** Shows what is wrong with a form, if anything is; returns whether. */
export function showFaults(form, faults) {
  if (!faults.length) return false;
  const box = summary(faults);
  form.prepend(box);
  box.focus();
  return true;
}

/** Does `act`; what the server refuses stands at the top of the form then, unless `handled(error)`
 * resolves to true. */
export async function tryAct(form, act, handled = null) {
  try {
    await act();
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    if (!handled || !(await handled(error))) showRefused(form, error);
  }
}

/** When the form is sent: takes the marks of the last time away and does `act`, as tryAct() does. */
export function onSubmit(form, act) {
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    clearFaults(form);
    await tryAct(form, act);
  });
}

/** A form of those rows whose button asks the server: `act`. */
export function requestForm(rows, words, act) {
  const form = make(
    'form',
    { class: 'sheet', novalidate: true },
    ...rows,
    make('p', {}, make('button', {}, words)),
  );
  onSubmit(form, act);
  return form;
}

/** The fault that there is no name at the top of the page. */
export const nameMissing = (text = 'Say at the top of the page who decides.') => ({
  text,
  control: document.getElementById('by'),
});

/** The faults of a ruling that lacks its reason, whose control is `reason`, or a name. */
export const missingReason = (
  office,
  reason,
  words = 'Give the reason: everybody will read it.',
) => [
  ...(reason.value.trim() ? [] : [{ text: words, control: reason }]),
  ...(office.by() ? [] : [nameMissing()]),
];
