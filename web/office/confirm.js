// SPDX-License-Identifier: MIT
// Asks before something that cannot be taken back, in the page and by keyboard.

import { button, make } from '../shared/dom.js';

/** Shows what is about to happen and waits for the answer. Escape means no; the focus goes back to
 * where it was.
 *   title  a question;  parts  nodes, or null for none;  yes, no  what the buttons say
 * Resolves to true or false. */
export function confirmed(title, parts, yes, no) {
  return new Promise((resolve) => {
    const back = document.activeElement;
    const dialog = make('dialog', { 'aria-labelledby': 'asked' });
    const answer = (value) => () => dialog.close(value);
    dialog.append(
      make('h2', { id: 'asked', tabindex: '-1' }, title),
      ...parts.filter(Boolean),
      make(
        'p',
        { class: 'acts' },
        button(yes, answer('yes'), { class: 'strong' }),
        button(no, answer('no')),
      ),
    );
    dialog.addEventListener('close', () => {
      dialog.remove();
      if (back && back.isConnected) back.focus();
      resolve(dialog.returnValue === 'yes');
    });
    document.body.append(dialog);
    dialog.showModal();
    dialog.scrollTop = 0;
    dialog.querySelector('h2').focus();
  });
}

/** True while a question waits for its answer. */
export const asking = () => document.querySelector('dialog[open]') !== null;
