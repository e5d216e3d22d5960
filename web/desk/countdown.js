// SPDX-License-Identifier: MIT
// The starter's panel on the page.

import { byId, make, setText } from '../shared/dom.js';
import { dueShown } from './expected.js';
import { countdown, isStart, nextStart } from './starter.js';
import { timeText } from '../shared/time.js';
import { t } from './words.js';

/** Draws it at a start, and hides it elsewhere. now: time of day, {ms, rehearsal} */
export function showStart(station, list, now) {
  const box = byId('starter');
  box.hidden = !isStart(station);
  if (box.hidden) return;
  const { car, due, left } = nextStart(now.rehearsal ? [] : list, now.ms);
  const text = countdown(left);
  box.dataset.last = String(text === null || text.length === 1);
  if (!box.firstChild) box.append(make('span', {}), make('b', {}));
  const time = dueShown(timeText(due, 0));
  setText(box.firstChild, t(car === null ? 'start.minute' : 'start.next', { car, time }));
  setText(box.lastChild, text ?? t('start.go'));
}
