// SPDX-License-Identifier: MIT
// Announces it when the reader's own car or its rivals win or lose places.

import * as pins from './pins.js';
import { placeOf } from './rows.js';
import { filled } from './parts.js';
import { say, status } from './status.js';

const SAY_EVERY = 60000; // ms

let saidAt = -SAY_EVERY;
const placesNow = () => new Map(pins.list().map((car) => [car, placeOf(car)]));
let places = placesNow();
export function tellMoves() {
  const moves = [];
  for (const car of pins.list()) {
    const was = places.get(car),
      now = placeOf(car);
    if (was && now && was !== now)
      moves.push(
        filled(
          now < was ? status.dataset.movedUp : status.dataset.movedDown,
          car,
          now,
          Math.abs(was - now),
        ),
      );
  }
  if (moves.length === 0 && places.size > 0) return;
  if (moves.length && performance.now() - saidAt < SAY_EVERY) return;
  if (moves.length) {
    saidAt = performance.now();
    say(moves.join('. '));
  }
  places = placesNow();
}
