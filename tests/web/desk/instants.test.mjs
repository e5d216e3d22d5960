// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { Instants } from '../../../web/desk/instants.js';

/** A page whose clock of events is `ahead` of its running clock, and which hears of keys `late`. */
function page({ ahead = 0, late = 2 } = {}) {
  const world = { mono: 1000 };
  world.instants = new Instants(() => world.mono);
  /** A key that goes down now; returns its event, of which the page hears after `wait`. */
  world.key = (wait = late) => {
    const event = { timeStamp: world.mono + ahead };
    world.mono += wait;
    return event;
  };
  world.learn = (times = 10) => {
    for (let i = 0; i < times; i++) {
      world.instants.beat();
      world.mono += 500;
      world.instants.learn(world.key());
    }
  };
  return world;
}

/** How far the instant of a key, pressed now and heard of after `wait`, is from the truth. */
function out(world, wait) {
  const at = world.mono;
  return world.instants.of(world.key(wait)) - at;
}

test('where the clock of events is the page’s, an instant is exact however late it is heard of', () => {
  const world = page();
  assert.equal(out(world, 400), 0); // the very first key
  world.learn();
  assert.equal(world.instants.skew, 0);
  for (const wait of [0, 2, 30, 400]) {
    world.instants.beat();
    assert.equal(out(world, wait), 0);
  }
  assert.equal(world.instants.refused, 0);
});

test('a clock of events that runs ahead by a constant, as in WebKit, is put right', () => {
  const world = page({ ahead: 57 });
  assert.equal(out(world, 2), 2); // nothing is known yet: what lies ahead is taken as now
  assert.equal(world.instants.refused, 1);
  world.learn();
  assert.equal(world.instants.skew, -55);
  assert.equal(out(world, 2), 2);
  assert.equal(out(world, 400), 2); // and a late handler is no harm any more
  assert.equal(world.instants.refused, 1);
});

test('one that runs behind is put right too, instead of making every stamp early', () => {
  const world = page({ ahead: -57 });
  world.learn();
  assert.equal(world.instants.skew, 59);
  assert.equal(out(world, 2), 2);
});

test('a page that was busy once has learnt nothing wrong', () => {
  const world = page();
  world.learn(3);
  for (let i = 0; i < 15; i++) world.instants.learn(world.key(80));
  assert.equal(world.instants.skew, 0);
  assert.equal(out(world, 80), 0);
});

test('an instant further back than the page can have been held up is none', () => {
  const world = page();
  world.learn();
  const stale = { timeStamp: world.mono - 5000 };
  assert.equal(world.instants.of(stale), world.mono);
  assert.equal(world.instants.refused, 1);
  // But a page that was held up for five seconds hears of a key of five seconds ago.
  world.mono += 5000;
  world.instants.beat();
  assert.equal(world.instants.of({ timeStamp: world.mono - 4900 }), world.mono - 4900);
  assert.equal(world.instants.refused, 1);
});

test('an event without an instant is now', () => {
  const world = page();
  assert.equal(world.instants.of({ timeStamp: 0 }), world.mono);
  world.instants.learn({ timeStamp: 0 });
  assert.equal(world.instants.skew, 0);
});
