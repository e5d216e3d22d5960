// SPDX-License-Identifier: MIT
// The cars expected at a point: the server's list, or its last copy, with what this desk has read
// since laid over it.

import { durationShown, timeMs, timeShown } from '../shared/time.js';

const FRESH_MS = 300000;
const OVERDUE_MS = 60000;

/** Whether a copy is new enough to tell where cars have been. */
export function isFresh(copy, wall) {
  return Boolean(copy) && Math.abs(wall - copy.fetched) < FRESH_MS;
}

/**
 * The list as it stands.
 *   copy   the server's answer, with `fetched`; null without one
 *   log    the desk's log;  points  the station's points
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
    if (car.state === 'seen' && known)
      return { ...car, state: 'expected', time: null, sent: false };
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
    through:
      Boolean(last) && (last.state === 'seen' || here.every((car) => car.state !== 'expected')),
  };
}

/** How many minutes a car is overdue; 0 where it is not. */
export function overdue(car, nowMs) {
  const due = timeMs(car.due);
  if (car.state !== 'expected' || due === null || nowMs === null) return 0;
  return nowMs - due > OVERDUE_MS ? Math.floor((nowMs - due) / 60000) : 0;
}

/** When a car is due. */
export const dueShown = (due) => timeShown(due.replace(/^(\d\d:\d\d):00$/, '$1'));

/** When it was seen, to the second. */
export const seenShown = ({ time, elapsed }) =>
  time ? timeShown(time.split('.')[0]) : durationShown(elapsed || '');
