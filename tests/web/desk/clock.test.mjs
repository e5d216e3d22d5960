// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import {
  Clock,
  bestSample,
  goodBetween,
  goodEnough,
  sampleOf,
  uncertaintyOf,
} from '../../../web/desk/clock.js';

/** A machine: its running clock, its wall clock, and a server that is `ahead` of the latter. */
function machine({ ahead = 0, trips = [40], saved = null } = {}) {
  const world = {
    mono: 1000,
    wall: 1800000000000,
    ahead,
    told: [],
    trips: [...trips],
    reach: true,
  };
  world.pass = (ms) => {
    world.mono += ms;
    world.wall += ms;
  };
  world.clock = new Clock({
    mono: () => world.mono,
    wall: () => world.wall,
    saved,
    tell: (what, ms) => world.told.push([what, ms]),
    ask: async () => {
      if (!world.reach) throw new Error('no link');
      const trip = world.trips.length > 1 ? world.trips.shift() : world.trips[0];
      world.pass(trip / 2);
      const ms = world.wall + world.ahead;
      world.pass(trip / 2);
      return { ms, back: world.mono };
    },
  });
  return world;
}

test('an exchange tells the difference of the clocks and how far it may be out', () => {
  const sample = sampleOf(1000, 1040, 501020);
  assert.deepEqual(sample, { base: 500000, trip: 40, at: 1040 });
  assert.equal(uncertaintyOf(sample, 1040), 21);
  assert.equal(uncertaintyOf(sample, 1040 + 3600000), 201);
});

test('the smallest round trip of the last ten minutes holds', () => {
  const samples = [
    { trip: 5, at: 0 },
    { trip: 40, at: 500000 },
    { trip: 30, at: 550000 },
  ];
  assert.equal(bestSample(samples, 590000).trip, 5);
  assert.equal(bestSample(samples, 600001).trip, 30);
  assert.equal(bestSample(samples, 5000000).trip, 30); // the newest, where all are old
  assert.equal(bestSample([], 0), null);
});

test('what a point needs depends on its precision', () => {
  assert.equal(goodEnough('minute', 900), true);
  assert.equal(goodEnough('second', 251), false);
  assert.equal(goodEnough('tenth', 21), true);
  assert.equal(goodEnough('hundredth', 21), false);
});

test('before the first exchange the machine’s own clock is used, unverified', () => {
  const { clock, wall, mono } = machine({ ahead: 5000 });
  const now = clock.at(mono);
  assert.equal(now.ms, wall);
  assert.equal(now.uncertainty, null);
  assert.equal(clock.quality('minute', now), 'unverified');
  assert.deepEqual(clock.flags(now, 'minute'), ['clock-unverified']);
});

test('a round that is asked for during another follows it', async () => {
  const world = machine({ trips: [40] });
  const rounds = () => world.told.filter(([what]) => what === 'sync').length;
  const first = world.clock.sync();
  world.clock.sync();
  world.clock.sync();
  await first;
  assert.equal(rounds(), 2);
  await world.clock.sync();
  assert.equal(rounds(), 3);
});

test('eight exchanges at the start, and the best of them tells the time', async () => {
  const world = machine({ ahead: 5000, trips: [300, 200, 40, 80, 80, 80, 80, 80, 999] });
  await world.clock.sync();
  assert.equal(world.trips.length, 1);
  const now = world.clock.at(world.mono);
  assert.equal(now.ms, world.wall + 5000);
  assert.equal(now.offset, 5000);
  assert.ok(now.uncertainty > 20 && now.uncertainty < 22);
  assert.equal(world.clock.quality('second', now), 'good');
  assert.equal(world.clock.quality('hundredth', now), 'doubtful');
  assert.deepEqual(world.clock.flags(now, 'second'), []);
  assert.deepEqual(world.clock.flags(now, 'hundredth'), ['clock-unverified']);
});

test('a wall clock that is set moves no reading, and marks them until the next exchange', async () => {
  const world = machine({ ahead: 100 });
  await world.clock.sync();
  world.pass(1000);
  const before = world.clock.at(world.mono).ms;
  world.wall += 3600000;
  world.ahead -= 3600000;
  const now = world.clock.at(world.mono);
  assert.equal(now.ms, before);
  assert.equal(now.jumped, true);
  assert.deepEqual(world.clock.flags(now, 'minute'), ['clock-jumped']);
  assert.deepEqual(world.told.at(-1), ['jump', 3600000]);
  await world.clock.sync();
  const after = world.clock.at(world.mono);
  assert.equal(after.jumped, false);
  assert.equal(after.ms, world.wall + world.ahead);
  assert.ok(!world.told.some(([what]) => what === 'moved'));
});

test('a machine that slept is put right by the next exchange, and says how far it was out', async () => {
  const world = machine();
  await world.clock.sync();
  world.wall += 600000; // the running clock stood still
  world.clock.check();
  await world.clock.sync();
  assert.equal(world.clock.at(world.mono).ms, world.wall);
  const [what, ms] = world.told.find(([word]) => word === 'moved');
  assert.equal(what, 'moved');
  assert.ok(Math.abs(ms - 600000) < 1);
});

test('nothing of a round counts that was asked before the machine slept', async () => {
  const world = machine({ trips: [10, 10, 10, 60, 80] });
  const { ask } = world.clock;
  let asked = 0;
  world.clock.ask = () => {
    if (++asked === 4) world.wall += 600000; // the running clock stands still
    return ask();
  };
  await world.clock.sync();
  assert.equal(asked, 8);
  assert.equal(world.clock.at(world.mono).ms, world.wall);
  assert.ok(
    world.clock.samples.every((sample) => sample.trip === 80),
    'only those after it',
  );
  assert.equal(world.clock.samples.length, 4);
});

test('slow drift is no jump, and is seen at the next exchange', async () => {
  const world = machine();
  await world.clock.sync();
  for (let s = 0; s < 60; s++) {
    world.pass(1000);
    world.wall += 10;
    world.clock.check();
  }
  assert.equal(world.clock.at(world.mono).jumped, false);
  await world.clock.sync();
  assert.ok(world.told.some(([what, ms]) => what === 'moved' && Math.abs(ms - 600) < 25));
});

test('without a link the last offset serves, less and less sure', () => {
  const saved = { offset: 5000, uncertainty: 20, wall: 1800000000000 - 3600000 };
  const world = machine({ saved });
  const now = world.clock.at(world.mono);
  assert.equal(now.ms, world.wall + 5000);
  assert.ok(Math.abs(now.uncertainty - 200) < 0.001);
  assert.equal(now.age, 3600);
  assert.equal(world.clock.quality('minute', now), 'doubtful');
  assert.equal(now.measured, false);
  // However sure it was: nobody can tell whether the clock was set since.
  assert.deepEqual(world.clock.flags(now, 'minute'), ['clock-unverified']);
});

test('a clock that ran backwards since the last visit is known to be wrong, until compared', async () => {
  const saved = { offset: 5000, uncertainty: 20, wall: 1800000000000 - 9000 };
  assert.equal(machine({ saved: { ...saved, seen: 1800000001000 } }).clock.wrong, false);
  const world = machine({ saved: { ...saved, seen: 1800000002001 } });
  const now = world.clock.at(world.mono);
  assert.deepEqual([now.wrong, now.uncertainty], [true, null]);
  assert.equal(world.clock.quality('minute', now), 'wrong');
  assert.deepEqual(world.clock.flags(now, 'minute'), ['clock-wrong']);
  // What is kept for the visit after this one goes on from the latest that was seen.
  assert.equal(world.clock.record.seen, 1800000002001);
  world.ahead = 8000;
  await world.clock.sync();
  const after = world.clock.at(world.mono);
  assert.equal(after.ms, world.wall + 8000);
  assert.deepEqual(world.clock.flags(after, 'second'), []);
  assert.equal(world.clock.record.seen, world.wall);
  assert.ok(world.told.some(([what, ms]) => what === 'moved' && Math.abs(ms - 3000) < 1));
});

test('without a visit before it no clock is known to be wrong, and nothing is kept of it', () => {
  const { clock } = machine();
  assert.equal(clock.wrong, false);
  assert.equal(clock.record, null);
});

test('a failed exchange leaves the clock as it was', async () => {
  const world = machine({ ahead: 700 });
  await world.clock.sync();
  const before = world.clock.at(world.mono);
  world.reach = false;
  await world.clock.sync();
  assert.deepEqual(world.told.at(-1), ['lost', 0]);
  assert.equal(world.clock.at(world.mono).ms, before.ms);
});

test('a page that is held up between two looks takes no clock for set', () => {
  const world = machine();
  const { wall } = world.clock;
  let holds = 0;
  world.clock.wall = () => {
    const ms = wall();
    if (holds-- > 0) world.pass(300);
    return ms;
  };
  holds = 1;
  world.clock.check();
  world.clock.check();
  assert.deepEqual(world.told, []);
  world.wall += 60000;
  holds = 1;
  world.clock.check();
  assert.deepEqual(
    world.told.map(([what]) => what),
    ['jump'],
  );
});

test('asleep without a link: the running clock is behind by the step, if a person says so', () => {
  const world = machine({ saved: { offset: 0, uncertainty: 20, wall: 1800000000000 } });
  world.pass(1000);
  world.wall += 1200000;
  const before = world.clock.at(world.mono);
  assert.equal(before.ms, world.wall - 1200000);
  assert.equal(world.clock.step, 1200000);
  world.clock.choose(true);
  const after = world.clock.at(world.mono);
  assert.equal(after.ms, world.wall);
  assert.deepEqual(world.clock.flags(after, 'minute'), ['clock-jumped']); // until it is compared
  world.clock.choose(true); // the word of one person will do
  assert.equal(world.clock.at(world.mono).ms, world.wall);
});

test('two jumps before anybody looked are one question, a third after the answer another', () => {
  const world = machine();
  world.wall += 600000;
  world.clock.check();
  world.wall += 300000;
  world.clock.check();
  assert.equal(world.clock.step, 900000);
  world.clock.choose(false);
  assert.equal(world.clock.at(world.mono).ms, world.wall - 900000);
  world.wall += 60000;
  world.clock.check();
  assert.equal(world.clock.step, 60000);
  assert.equal(world.clock.chosen, false);
});

test('from a comparison the errors of the stretches before it follow', async () => {
  const stretches = async (jump, answer) => {
    const world = machine({ saved: { offset: 0, uncertainty: 20, wall: 1800000000000 } });
    world.clock.visit = 'v';
    world.ahead = -47000; // set while the page was closed
    assert.equal(world.clock.at(world.mono).stretch, 'v.0');
    assert.deepEqual(world.clock.bases(), {});
    world.wall += jump;
    if (answer === undefined) world.ahead += jump > 0 ? 0 : -jump;
    assert.equal(world.clock.at(world.mono).stretch, 'v.1');
    if (answer !== undefined) world.clock.choose(answer);
    if (answer === false) world.ahead -= jump;
    const base = world.wall + world.ahead - world.mono;
    await world.clock.sync();
    const { 'v.0': first, 'v.1': second } = world.clock.bases();
    assert.ok(Math.abs(second.base - base) < 1 && second.sure);
    return [Math.round(first.base - base) + 0, first.sure];
  };
  assert.deepEqual(await stretches(1200000, true), [-1200000, true]);
  assert.deepEqual(await stretches(1200000, false), [0, true]);
  // Where nobody said anything: forward it slept, back it was set.
  assert.deepEqual(await stretches(1200000), [-1200000, false]);
  assert.deepEqual(await stretches(-1200000), [0, false]);
});

test('an answer tells nothing of a jump that a comparison has settled', async () => {
  const world = machine();
  world.clock.visit = 'v';
  world.wall += 600000;
  world.clock.check();
  await world.clock.sync();
  world.wall += 600000;
  world.clock.check();
  world.clock.choose(false);
  assert.deepEqual(
    world.clock.stretches.map(({ slept }) => slept),
    [null, null, false],
  );
});

test('the time on a watch holds until the next comparison, and is never called verified', async () => {
  const saved = { offset: 0, uncertainty: 20, wall: 1800000001000 + 86400000 };
  const world = machine({ saved });
  world.ahead = 90000000;
  const truth = world.wall + world.ahead;
  world.clock.set(truth + 700, world.mono, 1000);
  const now = world.clock.at(world.mono);
  assert.deepEqual(
    [now.ms, now.wrong, now.told, now.uncertainty],
    [truth + 700, false, true, 1000],
  );
  assert.equal(world.clock.quality('minute', now), 'doubtful');
  assert.deepEqual(world.clock.flags(now, 'minute'), ['clock-unverified']);
  world.pass(3600000);
  assert.equal(world.clock.at(world.mono).uncertainty, 1180);
  await world.clock.sync();
  const after = world.clock.at(world.mono);
  assert.deepEqual([after.told, after.measured], [false, true]);
  assert.equal(after.ms, world.wall + world.ahead);
});

test('somebody’s word for the date alone says nothing of how far the clock is out', () => {
  const world = machine();
  world.clock.set(world.wall + 86400000, world.mono, null);
  const now = world.clock.at(world.mono);
  assert.deepEqual([now.ms, now.uncertainty], [world.wall + 86400000, null]);
  assert.equal(world.clock.quality('minute', now), 'unverified');
});

test('between two stamps of one stretch only what differs between them is wrong', () => {
  const start = { made: 500000, mono: 1000, stretch: 'v.0' };
  const after = (ms, mono, stretch = 'v.0') => ({ made: 500000 + ms, mono: 1000 + mono, stretch });
  assert.equal(goodBetween('hundredth', start, after(60000, 60000)), true);
  assert.equal(goodBetween('hundredth', start, after(60004, 60000)), true);
  assert.equal(goodBetween('hundredth', start, after(60006, 60000)), false);
  assert.equal(goodBetween('hundredth', after(60006, 60000), start), false);
  assert.equal(goodBetween('tenth', start, after(60006, 60000)), true);
  assert.equal(goodBetween('hundredth', start, after(60000, 60000, 'v.1')), false);
  assert.equal(goodBetween('hundredth', start, after(600000, 600000)), false); // it may have drifted
});
