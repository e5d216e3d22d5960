// SPDX-License-Identifier: MIT
// Readings, laps and doubts in words.

import { t } from './words.js';

/** next: {index, of} as Stamps.nextAt() gives it. */
export const lapText = ({ index, of }) =>
  index === 0 ? t('part.start') : t('said.lap', { n: index, of });

/** What a correction changed, by the name of the reading's member. */
export const changedWord = (name) =>
  t({ note: 'edit.note', faults: 'files.faults' }[name] || 'log.' + name);

/** doubt: as checks.js finds it. */
export function doubtText(car, doubt) {
  const { flag, near = [], at = '' } = doubt;
  const text = t('doubt.' + flag, { ...doubt, car, at: at.split('.')[0] });
  if (!text.startsWith('doubt.')) return text;
  return (
    car +
    ': ' +
    t('flag.' + flag) +
    (near.length ? ', ' + t('doubt.near', { near: near.join(', ') }) : '')
  );
}
