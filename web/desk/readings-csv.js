// SPDX-License-Identifier: MIT
// The desk's readings as the event's readings.csv.

import { saveFile } from '../shared/dom.js';

const CONTRACT = [
  'point',
  'car',
  'time',
  'elapsed',
  'faults',
  'id',
  'at',
  'by',
  'replaces',
  'void',
  'reason',
];
const DESK = [
  'desk',
  'seq',
  'source',
  'wall_ms',
  'mono_ms',
  'offset_ms',
  'uncertainty_ms',
  'sync_age_s',
  'flags',
  'note',
];

const quoted = (text) => (/[",\r\n]/.test(text) ? '"' + text.replaceAll('"', '""') + '"' : text);

/** readings.csv of these bodies, the desk's own columns behind the contract's. */
export function readingsCsv(bodies) {
  const names = [...CONTRACT, ...DESK];
  const lines = bodies.map((body) =>
    names.map((name) => quoted(String(body[name] ?? ''))).join(','),
  );
  return [names.join(','), ...lines, ''].join('\r\n');
}

/** Hands the browser the event's readings.csv of this desk's records. */
export function saveCopy(records, name) {
  saveFile(new Blob([readingsCsv(records.map((r) => r.body))], { type: 'text/csv' }), name);
}
