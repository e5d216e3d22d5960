// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { startsOf } from '../../../web/desk/stations.js';

const points = [
  { id: 'TC1', item: 'TC1', day: 1, part: 'arrival' },
  { id: 'S1/start', item: 'S1', day: 1, part: 'start' },
  { id: 'S1/1', item: 'S1', day: 1, part: 'pad' },
  { id: 'S1/finish', item: 'S1', day: 1, part: 'finish' },
  { id: 'R1/start', item: 'R1', day: 1, part: 'start' },
  { id: 'R1/1', item: 'R1', day: 1, part: 'check' },
];

test('pads, laps and finishes are timed from the start of their own test, where that is here too', () => {
  const starts = (id, list = points) =>
    startsOf(
      list,
      points.find((point) => point.id === id),
    );
  assert.deepEqual(starts('S1/1'), ['S1/start']);
  assert.deepEqual(starts('S1/finish'), ['S1/start']);
  assert.deepEqual(starts('S1/finish', points.slice(2)), []);
  // A check counts from a due time, a control from the road.
  assert.deepEqual(starts('R1/1'), []);
  assert.deepEqual(starts('TC1'), []);
});
