// SPDX-License-Identifier: MIT
// What stands in the one field, taken apart. Nothing is done here, and nothing is thrown away: a
// text that says nothing comes back as `bad`, with the reason's word.

import { parseDuration, parseTimeOfDay } from '../shared/time.js';

/**
 * text     what was typed
 * measures 'time' or 'elapsed': what a value behind the number is, at this point
 * Returns {kind, car?, value?, typed?, blank?, why?}; kind is one of
 *   empty  nothing typed
 *   car    a number alone
 *   value  a number and its typed time or elapsed time ({ms, text}), which was written `typed`
 *   open   a number and a blank after it, the value still to come
 *   give   a number for a blank stamp (`blank`: which, 0 for the oldest)
 *   bad    `why`: 'number', 'time', 'elapsed'; the latter two with `typed`
 */
export function parseCommand(text, measures = 'time') {
  if (!text.trim()) return { kind: 'empty' };
  const give = /^\s*(\d+)\s*\*\s*(\d{0,3})\s*$/.exec(text);
  const parts = /^\s*(\d+)(?:(\s+)(.*))?$/.exec(text);
  const number = give || parts;
  if (!number) return { kind: 'bad', why: 'number' };
  const car = Number(number[1]);
  if (car < 1 || car > 9999) return { kind: 'bad', why: 'number' };
  if (give) return { kind: 'give', car, blank: Number(give[2]) };
  if (parts[2] === undefined) return { kind: 'car', car };
  if (!parts[3].trim()) return { kind: 'open', car };
  const typed = parts[3].trim();
  const value = measures === 'elapsed' ? parseDuration(typed) : parseTimeOfDay(typed);
  return value ? { kind: 'value', car, value, typed } : { kind: 'bad', car, why: measures, typed };
}

// Letters of the desk itself: blank, give, undo.
const TAKEN = 'bgu';

/** One letter for each fault, its first that is free: {c: 'cone', l: 'line', w: 'wrong-route'}. */
export function faultLetters(faults) {
  const letters = {};
  for (const fault of faults) {
    const letter = [...fault, ...'abcdefghijklmnopqrstuvwxyz'].find(
      (l) => /[a-z]/.test(l) && !TAKEN.includes(l) && !(l in letters),
    );
    if (letter) letters[letter] = fault;
  }
  return letters;
}

/** {cone: 2, line: 0} as the files write it: cone=2. */
export function faultsText(counts) {
  return Object.keys(counts)
    .filter((f) => counts[f] > 0)
    .map((f) => f + '=' + counts[f])
    .join(';');
}

/** Two counts together: the faults told with a blank, and those told with its number. */
export function bothFaults(text, counts) {
  const both = { ...parseFaults(text) };
  for (const [fault, n] of Object.entries(counts)) both[fault] = (both[fault] || 0) + n;
  return faultsText(both);
}

/** The other way round; null where it is malformed. An empty text has no faults. */
export function parseFaults(text) {
  const counts = {};
  for (const part of text
    .split(';')
    .map((p) => p.trim())
    .filter(Boolean)) {
    const pair = /^([\w-]+)\s*=\s*(\d{1,4})$/.exec(part);
    if (!pair) return null;
    counts[pair[1]] = Number(pair[2]);
  }
  return counts;
}
