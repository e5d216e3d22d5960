// SPDX-License-Identifier: MIT
// The reader's own car and its rivals, of one event: import * as pins.

import { keep } from './keep.js';
import { root } from './root.js';

const event = root.dataset.event || '';

/** Own car and rivals, as kept on this device: {own: 22, rivals: [31, 40]}; 0 and [] for none. */
export function read() {
  const kept = keep.get('pins-' + event) || {};
  return { own: kept.own || 0, rivals: Array.isArray(kept.rivals) ? kept.rivals : [] };
}

/** All of them, one's own first. */
export function list() {
  const { own, rivals } = read();
  return (own ? [own] : []).concat(rivals.filter((n) => n !== own));
}

/** Makes a car one's own ('own') or a rival ('rivals'), or no longer. */
export function toggle(kind, car) {
  const kept = read();
  if (kind === 'own') kept.own = kept.own === car ? 0 : car;
  else
    kept.rivals = kept.rivals.includes(car)
      ? kept.rivals.filter((n) => n !== car)
      : kept.rivals.concat(car).slice(-12);
  keep.set('pins-' + event, kept);
}

export function has(kind, car) {
  const kept = read();
  return kind === 'own' ? kept.own === car : kept.rivals.includes(car);
}
