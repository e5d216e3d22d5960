// SPDX-License-Identifier: MIT
// The cars expected at a point: the server's list, or its last copy, with what this desk has read
// since laid over it.

import { keepRows, make } from './desk-dom.js';
import { timeMs } from './desk-time.js';
import { t } from './desk-words.js';

const FRESH_MS = 300000;
const OVERDUE_MS = 60000;

/** Whether a copy is new enough to tell where cars have been. */
export function isFresh(copy, wall) {
  return Boolean(copy) && Math.abs(wall - copy.fetched) < FRESH_MS;
}

/**
 * The list as it stands.
 *   copy   the server's answer, with `fetched`; null without one
 *   log    the desk's log;  points  the place's points
 * Returns [{car, due, state, time, sent}] in the server's order.
 */
export function mergeExpected(copy, log, points) {
  if (!copy) return [];
  const last = points.at(-1);
  const local = new Map();
  for (const line of log.lines([last])) {
    if (line.current && !line.voided) local.set(line.current.body.car, line);
  }
  return copy.cars.map((car) => {
    const line = local.get(car.car);
    if (line) {
      const { time, elapsed } = line.current.body;
      return { ...car, state: 'seen', time, elapsed, sent: line.last.state === 'sent' };
    }
    // The server may not know yet that its reading was struck out, or moved, here.
    const known = car.reading && log.of.get(car.reading);
    if (car.state === 'seen' && known) return { ...car, state: 'expected', time: null, sent: false };
    return { ...car, sent: car.state === 'seen' };
  });
}

/** {total, seen, out, sent, missing: [numbers not seen], through: the last car has come}. */
export function countExpected(list) {
  const here = list.filter((car) => car.state !== 'out');
  const seen = here.filter((car) => car.state === 'seen');
  const last = here.at(-1);
  return {
    total: list.length,
    seen: seen.length,
    out: list.length - here.length,
    sent: seen.filter((car) => car.sent).length,
    missing: here.filter((car) => car.state !== 'seen').map((car) => car.car),
    through: Boolean(last) && (last.state === 'seen' || here.every((car) => car.state !== 'expected')),
  };
}

/** How many minutes a car is overdue; 0 where it is not. */
export function overdue(car, nowMs) {
  const due = timeMs(car.due);
  if (car.state !== 'expected' || due === null || nowMs === null) return 0;
  return nowMs - due > OVERDUE_MS ? Math.floor((nowMs - due) / 60000) : 0;
}

export class ExpectedTable {
  constructor(body) {
    this.body = body;
    this.rows = new Map();
    this.next = null;
  }

  /** entries: Map of number to entry; nowMs: time of day, or null where it tells nothing. */
  render(list, entries, nowMs) {
    const words = (car) => {
      const late = overdue(car, nowMs);
      if (late) return t('state.overdue', { n: late });
      if (car.state === 'seen') return t('state.seen', { time: (car.time || car.elapsed || '').split('.')[0] });
      return t('state.' + car.state);
    };
    keepRows(this.body, this.rows, list, {
      keyOf: (car) => car.car,
      signOf: (car) => [car.due, words(car), car.doubtful, t('state.out')].join(),
      draw: (car, row) => {
        const entry = entries.get(car.car);
        row.dataset.car = car.car;
        row.dataset.state = car.state;
        row.toggleAttribute('data-overdue', overdue(car, nowMs) > 0);
        row.append(
          make('th', { scope: 'row' }, String(car.car)),
          make('td', { class: 'figure' }, car.due ? shortDue(car.due) : '–'),
          make('td', {}, entry ? entry.vehicle : '', ' ',
            make('small', {}, entry ? entry.class : '')),
          make('td', { class: 'word' }, words(car)));
      },
    });
    this.follow(list);
  }

  /** Keeps the next car in sight, unless somebody is reading elsewhere in the list. */
  follow(list) {
    const next = list.find((car) => car.state === 'expected');
    const box = this.body.closest('.scroll');
    if (!next || next.car === this.next || box.matches(':hover, :focus, :focus-within')) return;
    this.next = next.car;
    const row = this.rows.get(next.car).row;
    box.scrollTop = Math.max(0, row.offsetTop - box.querySelector('thead').offsetHeight - 4);
  }
}

const shortDue = (due) => due.replace(/^(\d\d:\d\d):00$/, '$1');
