// SPDX-License-Identifier: MIT
// Who is next: the expected cars as a table.

import { cell, keepRows, make } from '../shared/dom.js';
import { dueShown, overdue, seenShown } from './expected.js';
import { t } from './words.js';

export class ExpectedTable {
  #rows = new Map();
  #next = null;

  constructor(body) {
    this.body = body;
  }

  /** entries: Map of number to entry; nowMs: time of day, or null where it tells nothing. */
  render(list, entries, nowMs) {
    const words = (car) => {
      const late = overdue(car, nowMs);
      if (late) return t('state.overdue', { n: late });
      if (car.state === 'seen') return '✓ ' + seenShown(car);
      return car.state === 'expected' ? '' : t('state.' + car.state);
    };
    keepRows(this.body, this.#rows, list, {
      keyOf: (car) => car.car,
      signOf: (car) => [car.due, words(car), car.doubtful, t('state.out')].join(),
      draw: (car, row) => {
        const entry = entries.get(car.car);
        row.dataset.car = car.car;
        row.dataset.state = car.state;
        row.toggleAttribute('data-overdue', overdue(car, nowMs) > 0);
        row.append(
          make('th', { scope: 'row' }, String(car.car)),
          make('td', { class: 'figure' }, car.due ? dueShown(car.due) : '–'),
          cell(
            entry ? make('b', {}, entry.crew[0]) : '',
            entry ? ' ' + entry.vehicle + ' ' : '',
            make('small', {}, entry ? entry.class : ''),
            ' ',
            make('span', { class: 'word' }, words(car)),
          ),
        );
      },
    });
    this.#follow(list);
  }

  /** Keeps the next car in sight, unless somebody is reading elsewhere in the list. */
  #follow(list) {
    const next = list.find((car) => car.state === 'expected');
    const box = this.body.closest('.scroll');
    if (!next || next.car === this.#next || box.matches(':hover, :focus, :focus-within')) return;
    this.#next = next.car;
    const row = this.#rows.get(next.car).row;
    box.scrollTop = Math.max(0, row.offsetTop - box.querySelector('thead').offsetHeight - 4);
  }
}
