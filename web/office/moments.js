// SPDX-License-Identifier: MIT
// Moments in the event's time zone, wherever the reader is.

import { make } from '../shared/dom.js';

const kept = new Map();

function clockOf(zone) {
  if (!kept.has(zone)) {
    const how = {
      weekday: 'short',
      day: 'numeric',
      month: 'short',
      hour: '2-digit',
      minute: '2-digit',
      second: '2-digit',
      hourCycle: 'h23',
    };
    let clock;
    try {
      clock = new Intl.DateTimeFormat('en-GB', { ...how, timeZone: zone });
    } catch {
      clock = new Intl.DateTimeFormat('en-GB', { ...how, timeZone: 'UTC', timeZoneName: 'short' });
    }
    kept.set(zone, clock);
  }
  return kept.get(zone);
}

/** A moment (RFC 3339) with its day, in the event's time. */
export const momentText = (office, iso) => clockOf(office.event.timezone).format(new Date(iso));

export const moment = (office, iso) =>
  make('time', { datetime: iso, class: 'moment' }, momentText(office, iso));
