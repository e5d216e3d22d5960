// SPDX-License-Identifier: MIT
// What differs between two visits to a board, and how much of a visit is stored.

import assert from 'node:assert/strict';
import test from 'node:test';
import { differences, kept, packed, unpacked } from '../../../web/board/memory.js';

const car = (number, place, penalty, rulings = 0) => ({ car: number, place, penalty, rulings });
const visit = (cars, more = {}) => ({
  revision: '1',
  at: 0,
  status: 'live',
  tests: '0 ',
  cancelled: '',
  cars: packed(cars),
  ...more,
});
const entry = (view, length = 10) => ({ view, left: 0, last: { cars: 'x'.repeat(length) } });

test('cars come back as they were packed, also one that is better than nothing lost', () => {
  const cars = [car(7, 1, -5000), car(22, 2, 123450, 2), car(9, 0, 0)];
  assert.deepEqual([...unpacked(packed(cars)).values()], cars);
});

test('what moved, cost or was ruled on is told, and nothing else', () => {
  const before = visit([
    car(1, 1, 0),
    car(2, 2, 10),
    car(3, 3, 20),
    car(4, 4, 30),
    car(5, 0, 0),
    car(6, 0, 0),
  ]);
  const now = visit([
    car(2, 1, 10),
    car(1, 2, 15),
    car(3, 3, 20),
    car(4, 4, 30, 1),
    car(5, 5, 40),
    car(6, 0, 99),
  ]);
  assert.deepEqual(differences(before, now).cars, [
    { car: 2, was: 2, place: 1, cost: 0, ruled: false },
    { car: 1, was: 1, place: 2, cost: 15, ruled: false },
    { car: 4, was: 4, place: 4, cost: 0, ruled: true },
    { car: 5, was: 0, place: 5, cost: 40, ruled: false },
  ]);
});

test('a car out of the ranking has lost its place, and one that is new has nothing to be compared with', () => {
  const found = differences(visit([car(1, 1, 0, 1)]), visit([car(1, 0, 0), car(8, 1, 0)]));
  assert.deepEqual(found.cars, [{ car: 1, was: 1, place: 0, cost: 0, ruled: false }]);
});

test('tests, what was cancelled and how final it is are told by what is new', () => {
  const found = differences(
    visit([car(1, 1, 0)], { tests: '2 R2', cancelled: 'S1' }),
    visit([car(1, 1, 0)], { tests: '5 R4', cancelled: 'S1 R3/2', status: 'provisional' }),
  );
  assert.deepEqual(found, { tests: 3, last: 'R4', cancelled: ['R3/2'], status: true, cars: [] });
});

test('the same visit twice differs in nothing', () => {
  const one = visit([car(1, 1, 0), car(2, 0, 0)], { tests: '2 R2', cancelled: 'S1' });
  assert.deepEqual(differences(one, one), {
    tests: 0,
    last: 'R2',
    cancelled: [],
    status: false,
    cars: [],
  });
});

test('few visits are kept, the newest first, and none that is too large', () => {
  let list = [];
  for (let i = 0; i < 20; i++) list = kept(list, entry(`v${i}`));
  assert.deepEqual(
    list.map(({ view }) => view),
    ['v19', 'v18', 'v17', 'v16', 'v15', 'v14'],
  );
  list = kept(list, entry('v16'));
  assert.deepEqual(
    list.map(({ view }) => view),
    ['v16', 'v19', 'v18', 'v17', 'v15', 'v14'],
  );
  assert.ok(kept(list, entry('large', 30_000)).every(({ view }) => view !== 'large'));
  assert.deepEqual(
    kept([null], entry('v')).map(({ view }) => view),
    ['v'],
  );
});
