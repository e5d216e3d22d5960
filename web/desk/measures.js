// SPDX-License-Identifier: MIT
// What is written down at a station that takes both: the time of day, or the time that was taken
// for the way. It is chosen for a whole test: at its second pad nobody would look again.

import { byId, button } from '../shared/dom.js';
import { t } from './words.js';

/** Whether there is a choice. Where a sighting will do there is no need. */
export function hasChoice(station) {
  const takes = station ? station.takes : [];
  return takes.includes('time') && takes.includes('elapsed') && !takes.includes('sighting');
}

const chosen = new Map(); // item → 'time' or 'elapsed'

/** What is written down at all points of the station's test from now on. */
export function chooseMeasure(station, measure) {
  chosen.set(station.item, measure);
}

/** Whether that was chosen already since the page was opened. */
export const isChosen = (station) => chosen.has(station.item);

/** 'time' or 'elapsed'. station: null where none is known */
export function measureOf(station) {
  if (!station || station.takes.includes('sighting') || !station.takes.includes('elapsed'))
    return 'time';
  return !station.takes.includes('time') || chosen.get(station.item) === 'elapsed'
    ? 'elapsed'
    : 'time';
}

/** Draws the two buttons. choose(measure) is called when one is pressed. */
export function showMeasures(station, choose) {
  const box = byId('measures');
  box.hidden = !hasChoice(station);
  box.replaceChildren(
    ...['time', 'elapsed'].map((measure) =>
      button(t('measures.' + measure), () => choose(measure), {
        'aria-pressed': String(measureOf(station) === measure),
      }),
    ),
  );
}
