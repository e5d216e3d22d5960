// SPDX-License-Identifier: MIT
// The badges about clock, network and outbox.

import { byId, make } from '../shared/dom.js';

/** Shows a badge; `more`, of less weight, has no room on a phone. */
export function badge(id, level, text, more = '') {
  const node = byId(id);
  if (node.dataset.level !== level) node.dataset.level = level;
  if (node.textContent === text + more) return;
  node.replaceChildren(text, make('span', { class: 'more' }, more));
}
