// SPDX-License-Identifier: MIT
// Practice as a window over the desk: see practice-steps.js. The desk behind it is left alone.

import { button, make, t } from './first.js';
import { beginPractice, pressed, stepOf } from './practice-steps.js';

const KEYS = { Enter: 'stamp', '+': 'blank', '*': 'give', '-': 'strike' };
const TEN_MS = 36_000_000; // the made-up minute begins at ten

/** What is said now. */
function words(state) {
  const step = stepOf(state);
  if (!step) return t('practice.done');
  const asks = state.asked ? 'once' : step.does;
  return (state.other ? t('practice.other') + ' ' : '') + t('practice.' + asks, step);
}

function rowOf({ car, time, struck }) {
  const text = `${car || '(1)'}  ${time}`;
  return make('li', {}, struck ? make('s', {}, text) : text);
}

/** Puts the button that opens it below the help. */
export function offerPractice(box) {
  box.append(button(t('practice.begin'), practise));
}

function practise() {
  const began = performance.now();
  let state = beginPractice();
  const say = make('p', { class: 'banner', role: 'status' });
  const rows = make('ol', { class: 'practice-rows' });
  const field = make('input', {
    type: 'text',
    inputmode: 'numeric',
    autocomplete: 'off',
    maxlength: '4',
    'aria-label': t('field.label'),
  });
  const show = () => {
    const done = !stepOf(state);
    say.textContent = words(state);
    rows.replaceChildren(...state.rows.map(rowOf));
    for (const node of [field, ...acts]) node.disabled = done;
    again.hidden = !done;
    (done ? close : field).focus();
  };
  const press = (does, instant) => {
    const time = new Date(TEN_MS + instant - began).toISOString().slice(11, 19);
    state = pressed(state, does, field.value.trim(), time);
    field.value = '';
    show();
  };
  const act = (does, label, attributes = {}) =>
    button(label, (event) => press(does, event.timeStamp), attributes);
  const acts = [
    act('stamp', t('pad.stamp'), { class: 'main' }),
    act('blank', t('pad.blank') + ' +'),
    act('give', t('pad.give') + ' ✱'),
    act('strike', t('edit.strike') + ' −'),
  ];
  const close = button(t('practice.close'), () => box.close());
  const again = button(t('practice.again'), () => {
    state = beginPractice();
    show();
  });
  field.addEventListener('keydown', (event) => {
    const [, digit] = /^(?:Digit|Numpad)(\d)$/.exec(event.code) ?? [];
    const plain = !event.ctrlKey && !event.altKey && !event.metaKey;
    if (!plain || (event.repeat && event.key in KEYS)) return;
    if (event.key in KEYS) press(KEYS[event.key], event.timeStamp);
    else if (digit !== undefined)
      field.setRangeText(digit, field.selectionStart, field.selectionEnd, 'end');
    else return;
    event.preventDefault();
  });
  const box = make(
    'dialog',
    {
      class: 'practice',
      'aria-labelledby': 'practice-title',
      // The desk's own keys are not meant here.
      keydown: (event) => event.stopPropagation(),
      close: () => box.remove(),
    },
    make('h2', { id: 'practice-title' }, t('practice.title')),
    say,
    field,
    make('div', { class: 'row' }, ...acts),
    rows,
    make('div', { class: 'row' }, again, close),
  );
  document.body.append(box);
  box.showModal();
  show();
}
