// SPDX-License-Identifier: MIT
// Pieces that the sections of the office share.

import { make } from '../shared/dom.js';
import { Refused } from './api.js';

/** A table in a box of its own that may scroll sideways.
 *   heads  texts; one that begins with "#" is a column of figures
 *   rows   arrays of cells: texts, numbers or nodes; null is empty */
export function table(caption, heads, rows, { id = null } = {}) {
  const figures = heads.map((head) => head.startsWith('#'));
  const cells = (row) =>
    row.map((cell, i) =>
      make(
        i === 0 ? 'th' : 'td',
        { class: figures[i] ? 'n' : null, scope: i === 0 ? 'row' : null },
        cell === null || cell === undefined ? '' : cell instanceof Node ? cell : String(cell),
      ),
    );
  return make(
    'div',
    { class: 'scroll', role: 'region', tabindex: '0', 'aria-label': caption },
    make(
      'table',
      { id },
      make('caption', {}, caption),
      make(
        'thead',
        {},
        make(
          'tr',
          {},
          ...heads.map((head, i) =>
            make('th', { scope: 'col', class: figures[i] ? 'n' : null }, head.replace(/^#/, '')),
          ),
        ),
      ),
      make('tbody', {}, ...rows.map((row) => make('tr', {}, ...cells(row)))),
    ),
  );
}

/** A section's refresh(unless) asks before it draws whether somebody is at work there; this says no. */
export const nobody = () => false;

export const para = (...parts) => make('p', {}, ...parts);
export const button = (text, click, attributes = {}) =>
  make('button', { type: 'button', click, ...attributes }, text);

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

export const option = (value, text) => [value, text];

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
  faulty(
    form,
    [error.message, ...error.errors].map((text) => ({ text, control: null })),
  );
}

/** Shows what is wrong with a form, if anything is; returns whether. */
export function faulty(form, faults) {
  if (!faults.length) return false;
  const box = summary(faults);
  form.prepend(box);
  box.focus();
  return true;
}

/** Does `act`; what the server refuses stands at the top of the form then, unless `handled(error)`
 * resolves to true. */
export async function orRefused(form, act, handled = null) {
  try {
    await act();
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    if (!handled || !(await handled(error))) showRefused(form, error);
  }
}

/** Nobody has said at the top of the page who it is. */
export const noName = (text = 'Say at the top of the page who decides.') => ({
  text,
  control: document.getElementById('by'),
});

/** What every ruling needs and is not there: the reason, `reason` being its control, and a name. */
export const unsaid = (office, reason, words = 'Give the reason: everybody will read it.') => [
  ...(reason.value.trim() ? [] : [{ text: words, control: reason }]),
  ...(office.by() ? [] : [noName()]),
];

/** Penalty as it is written, with its sign. */
export const signed = (value) =>
  value.startsWith('-') || Number(value) === 0 ? value : '+' + value;
