// SPDX-License-Identifier: MIT
// The faults that are counted for the next reading, by buttons and by letters. Each place has counts
// of its own, which wait there while the desk is at another.

import { faultLetters, faultsText } from './command.js';
import { faultName, faultWords } from './lines.js';
import { byId, button, make } from '../shared/dom.js';
import { t } from './words.js';

export class Faults {
  /** changed(words) is called with each count that was changed. */
  constructor(changed) {
    Object.assign(this, { changed, letters: {}, places: new Map(), place: '' });
  }

  /** Those that can be counted at a station. */
  offer({ id, faults }) {
    this.place = id;
    this.letters = faultLetters(faults);
    this.#show();
  }

  get counts() {
    return this.places.get(this.place) || {};
  }

  /** Whether any is counted. */
  any() {
    return Object.values(this.counts).some((n) => n > 0);
  }

  /** What is counted, in words. */
  words() {
    return faultWords(faultsText(this.counts)).join(', ');
  }

  /** The counts, {fault: n}, which belong to a reading now: the next begins with none. */
  take() {
    const { counts } = this;
    this.places.delete(this.place);
    this.#show();
    return counts;
  }

  /** One more or fewer of the fault of that letter. */
  press(letter, by) {
    if (this.letters[letter]) this.#change(this.letters[letter], by);
  }

  #change(fault, by) {
    const n = Math.max(0, Math.min(99, (this.counts[fault] || 0) + by));
    this.places.set(this.place, { ...this.counts, [fault]: n });
    this.#show();
    this.changed(n + ' × ' + faultName(fault));
  }

  #show() {
    const rows = Object.entries(this.letters).map(([letter, fault]) => this.#row(letter, fault));
    byId('faults').hidden = rows.length === 0;
    byId('faults').replaceChildren(...rows);
  }

  #row(letter, fault) {
    const name = faultName(fault);
    const n = this.counts[fault] || 0;
    const step = (by, label) =>
      button(by < 0 ? '−' : '+', () => this.#change(fault, by), {
        class: by < 0 ? '' : 'plus',
        'aria-label': t(label, { fault: name }),
      });
    return make(
      'div',
      { class: 'fault', 'data-fault': fault, 'data-count': n },
      step(-1, 'faults.fewer'),
      make(
        'span',
        {},
        make('b', {}, String(n)),
        ' ' + name + ' ',
        make('kbd', {}, letter.toUpperCase()),
      ),
      step(1, 'faults.more'),
    );
  }
}
