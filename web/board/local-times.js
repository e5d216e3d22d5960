// SPDX-License-Identifier: MIT
// Moments in the event's local time.

import { root } from './root.js';

const zone = root.dataset.zone;
const clock = (() => {
  const how = { hour: '2-digit', minute: '2-digit', second: '2-digit', hourCycle: 'h23' };
  try {
    return new Intl.DateTimeFormat(root.lang, { ...how, timeZone: zone });
  } catch {
    return new Intl.DateTimeFormat(root.lang, how);
  }
})();
// Moments of today as a time of day in the event's zone; others with their date.
export const local = (iso) => {
  const moment = new Date(iso);
  // Swedish writes days as 2027-05-20.
  const day = (t) => t.toLocaleDateString('sv', { timeZone: zone || undefined });
  const time = clock.format(moment);
  return day(moment) === day(new Date()) ? time : day(moment) + ' ' + time;
};
export const localTimes = (within) => {
  for (const t of within.querySelectorAll('time[datetime]')) t.textContent = local(t.dateTime);
};
