// SPDX-License-Identifier: MIT
// What is written down at a place that takes both: the time of day, or the time that was taken
// for the way.

import { byId, button } from '../shared/dom.js';
import { t } from './words.js';

/** Whether there is a choice. Where a sighting will do there is no need. */
export function hasChoice(place) {
  const takes = place ? place.takes : [];
  return takes.includes('time') && takes.includes('elapsed') && !takes.includes('sighting');
}

/** 'time' or 'elapsed'. place: null where none is known */
export function measureOf(place) {
  if (!place || place.takes.includes('sighting') || !place.takes.includes('elapsed')) return 'time';
  return !place.takes.includes('time') || place.measures === 'elapsed' ? 'elapsed' : 'time';
}

/** Draws the two buttons. choose(measure) is called when one is pressed. */
export function showMeasures(place, choose) {
  const box = byId('measures');
  box.hidden = !hasChoice(place);
  box.replaceChildren(
    ...['time', 'elapsed'].map((measure) =>
      button(t('measures.' + measure), () => choose(measure), {
        'aria-pressed': String(measureOf(place) === measure),
      }),
    ),
  );
}
