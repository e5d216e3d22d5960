// SPDX-License-Identifier: MIT
// What a public page keeps on a device: pins, and what a view showed at the last visit.

import assert from 'node:assert/strict';
import test from 'node:test';

// The modules read the page as they are loaded.
const stored = new Map();
globalThis.document = {
  documentElement: { lang: 'en', dataset: { event: 'gannet', zone: 'Atlantic/Azores' } },
};
globalThis.localStorage = {
  getItem: (name) => stored.get(name) ?? null,
  setItem: (name, value) => stored.set(name, value),
};
const { keep } = await import('../../../web/board/keep.js');
const pins = await import('../../../web/board/pins.js');
const { local } = await import('../../../web/board/local-times.js');
let loaded = 0;
/** visits.js, as a page at that address loads it. */
function visitsAt(address) {
  globalThis.location = new URL(address, 'http://hall.merrow.example');
  return import(`../../../web/board/visits.js?${++loaded}`);
}

test('what is kept comes back, and a device that refuses keeps nothing', (t) => {
  keep.set('unit', 'mi');
  assert.equal(keep.get('unit'), 'mi');
  assert.equal(keep.get('theme'), null);
  stored.set('cairn-theme', '{');
  assert.equal(keep.get('theme'), null);
  t.mock.method(globalThis.localStorage, 'setItem', () => {
    throw new Error('full');
  });
  keep.set('unit', 'km');
  assert.equal(keep.get('unit'), 'mi');
});

test('one car is one’s own, others are rivals; pressed again they are neither', () => {
  assert.deepEqual(pins.list(), []);
  pins.toggle('own', 22);
  pins.toggle('rivals', 31);
  pins.toggle('rivals', 22);
  assert.deepEqual(pins.list(), [22, 31]);
  assert.ok(pins.has('own', 22) && pins.has('rivals', 22) && !pins.has('own', 31));
  pins.toggle('own', 40);
  assert.deepEqual(pins.list(), [40, 31, 22]);
  pins.toggle('own', 40);
  pins.toggle('rivals', 31);
  assert.deepEqual(pins.list(), [22]);
});

test('of many rivals the last twelve stay', () => {
  for (let car = 101; car <= 113; car++) pins.toggle('rivals', car);
  assert.deepEqual(
    pins.list(),
    Array.from({ length: 12 }, (_, i) => 102 + i),
  );
  stored.set('cairn-pins-gannet', '{"own":5,"rivals":"x"}');
  assert.deepEqual(pins.list(), [5]);
});

test('a view is the same in every language, and none where it was searched', async () => {
  const plain = await visitsAt('/gannet/');
  for (const address of ['/gannet/?lang=de', '/gannet/index.html', '/gannet/?by=overall&after='])
    assert.equal((await visitsAt(address)).view, plain.view, address);
  assert.notEqual((await visitsAt('/gannet/?by=class')).view, plain.view);
  assert.equal((await visitsAt('/gannet/?q=22')).view, '');
});

test('a visit is compared with the last, for five minutes with the one before', async () => {
  const { lastVisit, view } = await visitsAt('/gannet/');
  assert.equal(lastVisit(), null);
  const last = { revision: '8' };
  const base = { revision: '3' };
  keep.set('looks', [{ view: 'other', last: {} }, null, { view, left: Date.now(), last }]);
  assert.deepEqual(lastVisit(), last);
  keep.set('looks', [{ view, left: Date.now() - 299_000, last, base }]);
  assert.deepEqual(lastVisit(), base);
  keep.set('looks', [{ view, left: Date.now() - 301_000, last, base }]);
  assert.deepEqual(lastVisit(), last);
});

test('a moment of today is a time of day in the event’s zone, another has its date', () => {
  const now = new Date();
  const clock = new Intl.DateTimeFormat('en', {
    hour: '2-digit',
    minute: '2-digit',
    second: '2-digit',
    hourCycle: 'h23',
    timeZone: 'Atlantic/Azores',
  });
  assert.equal(local(now.toISOString()), clock.format(now));
  assert.equal(local('2027-05-20T10:00:00Z'), '2027-05-20 10:00:00');
  assert.equal(local('2027-01-20T00:30:00Z'), '2027-01-19 23:30:00');
});
