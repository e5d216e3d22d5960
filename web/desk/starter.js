// SPDX-License-Identifier: MIT
// What a starter goes by: the next car, the minute at which it is to be started, and the seconds
// until then, counted down.

import { timeMs, timeText } from '../shared/time.js';

const MINUTE_MS = 60000;
const GO_MS = 2000; // so long "Start" stands
const LAST = 5; // seconds that are shown alone

/**
 * The start that is next.
 *   list  the expected cars;  now  time of day, ms
 * Returns {car, due, left}: `due` and `left` in ms, left no less than -GO_MS; car null where nobody is
 * known to be due, and `due` is then the next full minute.
 */
export function nextStart(list, now) {
  let next = null;
  for (const { car, due, state } of list) {
    const ms = state === 'expected' ? timeMs(due) : null;
    if (ms !== null && ms > now - GO_MS && (!next || ms < next.due)) next = { car, due: ms };
  }
  if (!next) {
    const minute = Math.floor(now / MINUTE_MS) * MINUTE_MS;
    next = { car: null, due: now - minute < GO_MS ? minute : minute + MINUTE_MS };
  }
  return { ...next, left: next.due - now };
}

/** What stands in the place of the countdown: 12:04, 0:42, 5 … 1, or null for the start itself. */
export function countdown(left) {
  if (left <= 0) return null;
  const seconds = Math.ceil(left / 1000);
  if (seconds <= LAST) return String(seconds);
  if (seconds >= 3600) return timeText(seconds * 1000, 0);
  return Math.floor(seconds / 60) + ':' + String(seconds % 60).padStart(2, '0');
}

/** Whether cars are started there. */
export const isStart = (station) => Boolean(station) && station.part === 'start' && !station.laps;
