// SPDX-License-Identifier: MIT
// The time in a sentence of a satellite receiver (NMEA 0183): ZDA and RMC of any talker, one line at
// a time, as lib/format/nmea.h reads them.

const SENTENCE = /^\$([^*\r\n]{0,116})\*([0-9A-F]{2})[\r\n]*$/i;

/** Milliseconds since 1970 of hhmmss[.f…] and a day; NaN where there is none such. */
function instant(clock, year, month, day) {
  const at = /^(\d\d)(\d\d)(\d\d)(?:\.(\d*))?$/.exec(clock);
  if (!at || at[1] > 23 || at[2] > 59 || at[3] > 59) return NaN;
  const ms = Date.UTC(year, month - 1, day, at[1], at[2], at[3]);
  const date = new Date(ms);
  // 30 February is a day of March to Date.
  if (date.getUTCDate() !== day || date.getUTCMonth() !== month - 1) return NaN;
  return ms + Number((at[4] || '').padEnd(3, '0').slice(0, 3));
}

function readZda([clock, day, month, year]) {
  if (!clock || !year) return null;
  if (!/^\d{1,2},\d{1,2},\d{4}$/.test([day, month, year].join()) || year < 1980) return null;
  return { ms: instant(clock, Number(year), Number(month), Number(day)), fix: 'untold' };
}

function readRmc(fields) {
  const [clock, status] = fields;
  const date = /^(\d\d)(\d\d)(\d\d)$/.exec(fields[8] || '');
  if (!clock || !date) return null;
  const year = Number(date[3]) + (date[3] < 80 ? 2000 : 1900);
  return {
    ms: instant(clock, year, Number(date[2]), Number(date[1])),
    fix: status === 'A' ? 'good' : 'none',
  };
}

/**
 * Reads a sentence. Returns {ms, fix}: milliseconds since 1970; `good` (status A), `none` (status V) or
 * `untold` (ZDA: it may be the receiver's own battery clock). null for other sentences, empty times
 * and whatever the line spoilt.
 */
export function readNmea(line) {
  const [, body, sum] = SENTENCE.exec(line) || [];
  if (body === undefined) return null;
  const found = [...body].reduce((all, c) => all ^ c.charCodeAt(0), 0);
  if (found !== parseInt(sum, 16)) return null;
  const [name, ...fields] = body.split(',');
  const read = { ZDA: readZda, RMC: readRmc }[name.slice(2)];
  const time = name.length === 5 && read ? read(fields) : null;
  return time && Number.isFinite(time.ms) ? time : null;
}
