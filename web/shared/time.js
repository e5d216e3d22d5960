// SPDX-License-Identifier: MIT
// Times of day and durations, as people type them, as the event's files write them, and as they
// are shown. Whole milliseconds throughout. No clock is read here.

const DAY_MS = 86400000;
const LIMIT_MS = 48 * 3600000; // hours run on to 47 for the small hours

const pad = (n, width = 2) => String(n).padStart(width, '0');
const thousandths = (digits) => Number((digits || '').padEnd(3, '0'));

/**
 * A time of day as typed: 1042, 942, 104207, 104207.5, 10:42, 10:42:07.5, 10.42.07; a comma may
 * stand for the decimal point.
 * Returns {ms since midnight, text as the files write it}, or null where it is none.
 */
export function parseTimeOfDay(typed) {
  const text = typed.trim().replace(',', '.');
  const run = /^(\d{1,2})(\d\d)(?:(\d\d)(?:\.(\d{1,3}))?)?$/.exec(text);
  const parts = /^(\d{1,2})([:.])(\d\d)(?:\2(\d\d)(?:\.(\d{1,3}))?)?$/.exec(text);
  const [hours, minutes, seconds, fraction] = run
    ? run.slice(1)
    : parts
      ? [parts[1], ...parts.slice(3)]
      : [];
  if (hours === undefined || hours > 47 || minutes > 59 || seconds > 59) return null;
  return {
    ms: ((hours * 60 + Number(minutes)) * 60 + Number(seconds || 0)) * 1000 + thousandths(fraction),
    text:
      pad(hours) +
      ':' +
      minutes +
      (seconds ? ':' + seconds : '') +
      (fraction ? '.' + fraction : ''),
  };
}

/**
 * A duration as typed: seconds (83.45), or 1:23.45, 1.23.45, 0:01:23.45.
 * Returns {ms, text as the files write it}, or null.
 */
export function parseDuration(typed) {
  const text = typed.trim().replace(',', '.');
  const plain = /^(\d{1,6})(?:\.(\d{1,3}))?$/.exec(text);
  const parts =
    /^(?:(\d{1,2}):)?(\d{1,3}):([0-5]\d)(?:\.(\d{1,3}))?$/.exec(text) ||
    /^()(\d{1,2})\.([0-5]\d)\.(\d{1,3})$/.exec(text);
  if (!plain && !parts) return null;
  const ms = plain
    ? plain[1] * 1000 + thousandths(plain[2])
    : ((Number(parts[1] || 0) * 60 + Number(parts[2])) * 60 + Number(parts[3])) * 1000 +
      thousandths(parts[4]);
  if (ms >= LIMIT_MS) return null;
  if (plain) return { ms, text };
  return { ms, text: timeText(ms, 0) + (parts[4] ? '.' + parts[4] : '') };
}

/** HH:MM:SS with `decimals` (0 to 3) of the second, cut off and never rounded. */
export function timeText(ms, decimals = 3) {
  const whole = Math.floor(ms);
  const seconds = Math.floor(whole / 1000);
  return (
    pad(Math.floor(seconds / 3600)) +
    ':' +
    pad(Math.floor(seconds / 60) % 60) +
    ':' +
    pad(seconds % 60) +
    (decimals ? '.' + pad(whole % 1000, 3).slice(0, decimals) : '')
  );
}

/** A duration for reading: 1:23.45, 11.7. `text` as the files write it. */
export function durationShown(text) {
  return text.includes(':') ? text.replace(/^00:/, '').replace(/^0(?=\d)/, '') : text;
}

/** A time of day as people say it: the files' 25:10:07 is ten past one. */
export const timeShown = (text) => text.replace(/^\d+/, (hours) => pad(hours % 24));

/** Milliseconds since midnight of a time of day as the files write it; null without one. */
export function timeMs(text) {
  const time = text ? parseTimeOfDay(text) : null;
  return time && time.ms;
}

const zones = new Map();

/** What to add to UTC for the local time in `zone` (IANA name) at the instant `ms`. */
export function zoneOffset(ms, zone) {
  // Offsets change on whole quarters of an hour only, and asking is slow.
  const quarter = Math.floor(ms / 900000) * 900000;
  const key = zone + quarter;
  if (!zones.has(key)) {
    if (zones.size > 200) zones.clear();
    const parts = {};
    const format = new Intl.DateTimeFormat('en-GB', {
      timeZone: zone,
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    });
    for (const { type, value } of format.formatToParts(quarter)) parts[type] = Number(value);
    zones.set(
      key,
      Date.UTC(parts.year, parts.month - 1, parts.day, parts.hour, parts.minute, parts.second) -
        quarter,
    );
  }
  return zones.get(key);
}

/**
 * The time of day at the instant `ms`, counted from midnight of `date` (YYYY-MM-DD) in `zone`.
 * Returns {ms, rehearsal, before}. On another day than that (and the small hours after it) it is
 * the time of day of today, and `rehearsal` is true; `before` on an earlier one.
 */
export function timeOfDay(ms, date, zone) {
  const local = ms + zoneOffset(ms, zone);
  const since = local - Date.parse(date + 'T00:00:00Z');
  if (since >= 0 && since < LIMIT_MS) return { ms: since, rehearsal: false, before: false };
  return { ms: ((local % DAY_MS) + DAY_MS) % DAY_MS, rehearsal: true, before: since < 0 };
}

/** An instant as RFC 3339 with milliseconds and the offset of `zone`. */
export function instantText(ms, zone) {
  const offset = zoneOffset(ms, zone);
  const minutes = Math.abs(offset) / 60000;
  return (
    new Date(Math.floor(ms) + offset).toISOString().slice(0, -1) +
    (offset < 0 ? '-' : '+') +
    pad(Math.floor(minutes / 60)) +
    ':' +
    pad(Math.floor(minutes % 60))
  );
}

/** Of a typed time of day and the same a day later, the one nearer to now: 0110 typed at 25:12. */
export function nearerToNow(time, nowMs) {
  const later = time.ms + DAY_MS;
  if (later >= LIMIT_MS || Math.abs(later - nowMs) >= Math.abs(time.ms - nowMs)) return time;
  return { ms: later, text: pad(Number(time.text.slice(0, 2)) + 24) + time.text.slice(2) };
}

/** The instant at which it is `ms` since midnight of `date` (YYYY-MM-DD) in `zone`. */
export function instantOf(date, ms, zone) {
  const local = Date.parse(date + 'T00:00:00Z') + ms;
  return local - zoneOffset(local - zoneOffset(local, zone), zone);
}

/**
 * The instant meant by `ms` since midnight as read off a watch.
 *   now    what the machine believes; its date counts, unless
 *   known  is given: an instant of the past that is sure, where the machine's date is not. Then it is
 *          `date` (that of the point) or the small hours after it, or else the day after the one known
 */
export function instantOnWatch(ms, { now, known, date, zone }) {
  if (known !== null) {
    const days = [0, DAY_MS].map((later) => instantOf(date, ms + later, zone));
    const found = days.find((instant) => instant > known - 60000);
    if (found !== undefined) return found;
  }
  const from = known ?? now - DAY_MS / 2;
  const today = new Date(from + zoneOffset(from, zone)).toISOString().slice(0, 10);
  const instant = instantOf(today, ms % DAY_MS, zone);
  return instant >= from ? instant : instantOf(today, (ms % DAY_MS) + DAY_MS, zone);
}
