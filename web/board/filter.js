// SPDX-License-Identifier: MIT
// The rows that fit what is typed: a number from its first digit on, or words of the crew and its car
// without their accents.

import { byId } from '../shared/dom.js';
import { carOf, rowsOfCars } from './rows.js';
import { say, status } from './status.js';

const plain = (text) => text.normalize('NFD').replace(/\p{M}/gu, '').toLowerCase();
const found = new WeakMap();
export function filter() {
  const typed = plain(byId('q').value.trim());
  const words = typed.split(/\s+/);
  let count = 0;
  for (const tr of rowsOfCars()) {
    if (!found.has(tr)) found.set(tr, plain(tr.querySelector('th').textContent));
    const fit =
      typed === '' ||
      (/^\d+$/.test(typed)
        ? String(carOf(tr)).startsWith(typed)
        : words.every((word) => found.get(tr).includes(word)));
    if (tr.hidden === fit) tr.hidden = !fit;
    count += fit;
  }
  if (typed && count === 0) say(status.dataset.noneFits);
  else if (status.textContent === status.dataset.noneFits) say('');
}
