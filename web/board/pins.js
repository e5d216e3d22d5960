// SPDX-License-Identifier: MIT
// The reader's own car and its rivals, of one event.

import { keep } from './keep.js';

const event = document.documentElement.dataset.event || '';

// Own car and rivals, kept on this device: {own: 22, rivals: [31, 40]}.
export const pins = {
  read() {
    const kept = keep.get('pins-' + event) || {};
    return { own: kept.own || 0, rivals: Array.isArray(kept.rivals) ? kept.rivals : [] };
  },
  list() {
    const { own, rivals } = pins.read();
    return (own ? [own] : []).concat(rivals.filter((n) => n !== own));
  },
  toggle(kind, car) {
    const kept = pins.read();
    if (kind === 'own') kept.own = kept.own === car ? 0 : car;
    else
      kept.rivals = kept.rivals.includes(car)
        ? kept.rivals.filter((n) => n !== car)
        : kept.rivals.concat(car).slice(-12);
    keep.set('pins-' + event, kept);
  },
  has(kind, car) {
    const kept = pins.read();
    return kind === 'own' ? kept.own === car : kept.rivals.includes(car);
  },
};
