// SPDX-License-Identifier: MIT
// Readings, laps and doubts in words.

import { durationShown, timeShown, timeText } from '../shared/time.js';
import { t } from './words.js';

/** How long ago something was. */
export const ageText = (seconds) =>
  seconds < 90 ? Math.floor(seconds / 10) * 10 + ' s' : Math.floor(seconds / 60) + ' min';

/** next: {index, of} as Stamps.nextAt() gives it. */
export const lapText = ({ index, of }) =>
  index === 0 ? t('part.start') : t('said.lap', { n: index, of });

/** What a correction changed, by the name of the reading's member. */
export const changedWord = (name) =>
  t({ note: 'edit.note', faults: 'files.faults' }[name] || 'log.' + name);

/** How long before or after its due time a car is; '' where it is on time. Times of day, in ms; at a
 * point of that precision all of the minute or second is on time. */
export function earlyText(due, ms, precision) {
  const whole = precision === 'minute' ? 60000 : 1000;
  if (ms < due) return t('due.early', { time: clockText(Math.ceil((due - ms) / 1000)) });
  return ms < due + whole ? '' : t('due.late', { time: clockText(Math.floor((ms - due) / 1000)) });
}

/** 4:51, or 1:04:51. */
function clockText(seconds) {
  return durationShown(timeText(seconds * 1000, 0));
}

/** doubt: as checks.js finds it. */
export function doubtText(car, doubt) {
  const { flag, near = [], at = '', due = '' } = doubt;
  const times = { at: timeShown(at.split('.')[0]), due: timeShown(due) };
  if (doubt.ahead) return t('doubt.ahead', { ...doubt, car });
  const text = t('doubt.' + flag, { ...doubt, ...times, car });
  if (!text.startsWith('doubt.')) return text;
  return (
    car +
    ': ' +
    t('flag.' + flag) +
    (near.length ? ', ' + t('doubt.near', { near: near.join(', ') }) : '')
  );
}
