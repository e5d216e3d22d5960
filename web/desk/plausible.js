// SPDX-License-Identifier: MIT
// Whether a typed value is asked about before it is kept: one that was meant otherwise scores hours.

import { parseDuration, parseTimeOfDay } from '../shared/time.js';

const MINUTE_MS = 60000;
const AGO_MS = 60 * MINUTE_MS; // a time is written down sooner than that, or after another such one
const AHEAD_MS = 2 * MINUTE_MS; // another clock may be so much before this one
const LONG_MS = 60 * MINUTE_MS; // no test takes so long
const CLOSE_MS = 30 * MINUTE_MS;

/** 9.02 or 83,4 as somebody types seconds. */
const looksMeasured = (typed) => /^\d{1,3}[.,]\d{1,3}$/.test(typed);

/**
 * typed    as it stands behind the number;  measure  'time' or 'elapsed': how it was read
 * ms       what it was read as: the time of day meant, or the time taken
 * now      time of day, ms;  last  the typed time that was kept here before, ms, or null
 * choice   whether the point takes both
 */
export function isOdd({ typed, measure, ms, now, last, choice }) {
  if (measure === 'elapsed') {
    const time = choice && /^\d+$/.test(typed) ? parseTimeOfDay(typed) : null;
    return ms >= LONG_MS || Boolean(time && Math.abs(time.ms - now) < CLOSE_MS);
  }
  if (choice && looksMeasured(typed)) return true;
  const sheet = last !== null && Math.abs(ms - last) < AGO_MS; // a whole sheet is being copied
  return ms > now + AHEAD_MS || (ms < now - AGO_MS && !sheet);
}

/** What the text would be the other way, {measure, ms, text}; null where it is no such value. */
export function otherwise(typed, measure) {
  const other = measure === 'time' ? 'elapsed' : 'time';
  const value = other === 'time' ? parseTimeOfDay(typed) : parseDuration(typed);
  return value && { measure: other, ...value };
}
