// SPDX-License-Identifier: MIT
// What a board showed at a visit, kept small, and what differs between two visits. Knows no page.
//
// A visit is {revision, at: ms since 1970, status, tests: "12 R7": how many nearly
// all have done and the last of them, cancelled: "R4 S2/1", cars: packed}.

const VIEWS = 6; // kept on one device, of all its events
const ROOM = 24000; // characters of one visit's cars; a larger field is not kept

// Cars as text, and back as a map by number. A place of 0 is none; penalties are thousandths.
export const packed = (cars) =>
  cars.map(({ car, place, penalty, rulings }) => [car, place, penalty, rulings].join(' ')).join();
export const unpacked = (text) =>
  new Map(
    text
      .split(',')
      .map((one) => one.split(' ').map(Number))
      .map(([car, place, penalty, rulings]) => [car, { car, place, penalty, rulings }]),
  );

const added = (before, now) => now.split(' ').filter((id) => id && !before.split(' ').includes(id));

// What differs: {tests: how many more, last: test, cancelled: new ids, status: true where it changed,
// cars: [{car, was, place, cost, ruled}]}, the cars those that stood in both.
export function differences(before, now) {
  const then = unpacked(before.cars);
  const cars = [];
  for (const { car, place, penalty, rulings } of unpacked(now.cars).values()) {
    const old = then.get(car);
    if (!old || (!old.place && !place)) continue;
    const one = {
      car,
      was: old.place,
      place,
      cost: penalty - old.penalty,
      ruled: Boolean(old.place && place) && rulings !== old.rulings,
    };
    if (one.was !== place || one.cost || one.ruled) cars.push(one);
  }
  return {
    tests: parseInt(now.tests) - parseInt(before.tests),
    last: now.tests.split(' ')[1],
    cancelled: added(before.cancelled, now.cancelled),
    status: before.status !== now.status,
    cars,
  };
}

// The list of what is kept, with a view's visit put first; the least recent go.
//   visit  {view, left: ms since 1970, last, base: an older visit that is still being compared with}
export function kept(list, visit) {
  const others = list.filter((one) => one && one.view !== visit.view);
  return [visit, ...others].filter(({ last }) => last.cars.length <= ROOM).slice(0, VIEWS);
}
