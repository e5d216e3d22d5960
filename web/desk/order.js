// SPDX-License-Identifier: MIT
// Cars that come in another order than they are due. One wrong number stands before many cars that
// come as they should: the odd one of two is told by the cars that are due between them.

import { timeMs } from '../shared/time.js';

const OVERTAKEN_MS = 60000; // cars a minute apart often change places while they wait

/**
 * reading  {car, time}, due at that point;  rows, expected: see doubts()
 * Returns null where the reading is in order, {flag: 'out-of-order', by} where it comes behind a car
 * that is due well after it, or {flag: '', ahead, id}: that car, and its reading, came too soon.
 */
export function orderDoubt(reading, { rows, expected }) {
  const ms = timeMs(reading.time);
  const due = (car) => timeMs(expected.get(car)?.due);
  const own = due(reading.car);
  const before = rows.filter(
    (row) => row.time && timeMs(row.time) <= ms && due(row.car) > own + OVERTAKEN_MS,
  );
  if (before.length === 0) return null;
  const came = new Set(rows.filter((row) => !row.time || timeMs(row.time) <= ms).map((r) => r.car));
  const late = before.find((row) => {
    const between = [...expected.values()].filter(
      (car) =>
        car.car !== reading.car &&
        car.state !== 'out' &&
        timeMs(car.due) > own &&
        timeMs(car.due) < due(row.car),
    );
    const seen = between.filter(({ car, state }) => came.has(car) || state === 'seen').length;
    return seen * 2 >= between.length;
  });
  if (late) return { flag: 'out-of-order', by: late.car };
  return { flag: '', ahead: before[0].car, id: before[0].id };
}
