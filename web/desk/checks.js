// SPDX-License-Identifier: MIT
// What may be wrong with a reading. A doubt never stops one: it becomes a flag that goes with it.

import { orderDoubt } from './order.js';
import { timeMs } from '../shared/time.js';

const EARLY_MS = 10 * 60000; // a car is not expected longer than this before its due time
const LATE_MS = 30 * 60000;
const SOON_MS = 3000;

/**
 * cars     Map of number to entry
 * rows     the readings that hold at this point, newest first: {car, time, …}
 * earlier  those at the desk's own points before this one, same day
 * expected Map of number to the expected car of this point; may be empty
 * fresh    whether that list is new enough to tell where a car has been
 * rehearsal whether today is another day than the point's; trial: whether the reading is one of a
 *          rehearsal, which it is not where the date itself is doubtful
 * clock    flags of the clock at the stamp
 * reading  {car, none where there is a time only; time or elapsed, source, note}
 * Returns [{flag, …what the words need}], the gravest first. Where it is another reading that looks
 * odd beside this one, `flag` is '' and `ahead` is its car.
 */
export function doubts(reading, { cars, rows, earlier, expected, fresh, rehearsal, trial, clock }) {
  const found = trial ? [{ flag: 'rehearsal' }] : [];
  const ms = timeMs(reading.time);
  const due = expected.get(reading.car);
  if (reading.car !== undefined && !cars.has(reading.car)) {
    found.push({ flag: 'unknown-number', near: nearest(reading.car, [...cars.keys()]) });
  }
  if (cars.has(reading.car) && expected.size && !due) found.push({ flag: 'not-expected' });
  const before = rows.find((row) => row.car === reading.car);
  if (before) found.push({ flag: 'seen-before', at: before.time || before.elapsed || '' });
  if (due && due.state === 'out') found.push({ flag: 'retired' });
  const place = earlier.find((row) => row.car === reading.car && row.time);
  if (place && ms !== null && ms < timeMs(place.time)) {
    found.push({ flag: 'earlier-than-before', at: place.time, point: place.point });
  }
  if (fresh && due && due.before === false && othersCame(due, expected)) {
    found.push({ flag: 'skipped-control' });
  }
  const dueMs = due ? timeMs(due.due) : null;
  if (!rehearsal && ms !== null && dueMs !== null) {
    if (ms < dueMs - EARLY_MS || ms > dueMs + LATE_MS)
      found.push({ flag: 'far-from-due', due: due.due });
    const order = orderDoubt(reading, { rows, expected });
    if (order) found.push(order);
  }
  if (reading.source !== 'typed' && reading.source !== 'device' && ms !== null) {
    for (const flag of clock) found.push({ flag });
  }
  if (reading.source === 'typed' && reading.time) found.push({ flag: 'typed-time' });
  if (reading.note) found.push({ flag: 'note' });
  return found;
}

// A control before that cannot be reached has sent nothing of anybody; then nobody skipped it.
function othersCame(due, expected) {
  let after = false;
  for (const car of expected.values()) {
    if (after && car.before && car.state !== 'out') return true;
    if (car === due) after = true;
  }
  return false;
}

/** Whether two laps of one car are so close in time that one must be a mistake. */
export function tooSoon(time, last) {
  return Boolean(time && last) && Math.abs(timeMs(time) - timeMs(last)) < SOON_MS;
}

/** Up to three entered numbers that a slip turns into this one: a digit wrong, two changed over,
 * one too many or too few. */
export function nearest(number, numbers) {
  const typed = String(number);
  return numbers
    .filter((n) => slip(typed, String(n)))
    .sort((a, b) => a - b)
    .slice(0, 3);
}

function slip(a, b) {
  if (a === b) return false;
  const [long, short] = a.length >= b.length ? [a, b] : [b, a];
  let from = 0;
  while (from < short.length && long[from] === short[from]) from++;
  let end = 0;
  while (end < short.length - from && long.at(-1 - end) === short.at(-1 - end)) end++;
  const differ = long.length - from - end;
  if (long.length !== short.length) return long.length - short.length === 1 && differ === 1;
  return (
    differ === 1 ||
    (differ === 2 && long[from] === short[from + 1] && long[from + 1] === short[from])
  );
}
