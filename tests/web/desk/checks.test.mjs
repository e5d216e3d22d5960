// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { doubts, nearest, tooSoon } from '../../../web/desk/checks.js';

const cars = new Map([
  [22, {}],
  [31, {}],
  [40, {}],
]);
const due = (car, time, more = {}) => [
  car,
  { car, due: time, state: 'expected', before: true, ...more },
];
const nothing = {
  cars,
  rows: [],
  earlier: [],
  expected: new Map(),
  fresh: true,
  rehearsal: false,
  clock: [],
};
const flags = (reading, context) =>
  doubts({ source: 'key', ...reading }, { ...nothing, ...context }).map((d) => d.flag);

test('a car on time raises no doubt', () => {
  assert.deepEqual(
    flags({ car: 22, time: '10:42:07.123' }, { expected: new Map([due(22, '10:42:00')]) }),
    [],
  );
});

test('a number that nobody entered', () => {
  const [doubt] = doubts({ car: 23, time: '10:42', source: 'key' }, nothing);
  assert.equal(doubt.flag, 'unknown-number');
  assert.deepEqual(doubt.near, [22]);
});

test('a car that was here already, with the time', () => {
  const rows = [{ car: 22, time: '10:41:03.000' }];
  const [doubt] = doubts({ car: 22, time: '10:42', source: 'key' }, { ...nothing, rows });
  assert.deepEqual(doubt, { flag: 'seen-before', at: '10:41:03.000' });
});

test('a car that is out of the event', () => {
  const expected = new Map([due(22, '10:42:00', { state: 'out' })]);
  assert.deepEqual(flags({ car: 22, time: '10:42' }, { expected }), ['retired']);
});

test('a car that does not come by this point', () => {
  const expected = new Map([due(22, '10:42:00')]);
  assert.deepEqual(flags({ car: 31, time: '10:42' }, { expected }), ['not-expected']);
  assert.deepEqual(flags({ car: 32, time: '10:42' }, { expected }), ['unknown-number']);
  assert.deepEqual(flags({ car: 31, time: '10:42' }, {}), []);
});

test('a control skipped shows once others have come from there', () => {
  const skipped = new Map([due(22, '10:42:00', { before: false }), due(31, '10:43:00')]);
  assert.deepEqual(flags({ car: 22, time: '10:42' }, { expected: skipped }), ['skipped-control']);
  assert.deepEqual(flags({ car: 22, time: '10:42' }, { expected: skipped, fresh: false }), []);
  const silent = new Map([
    due(22, '10:42:00', { before: false }),
    due(31, '10:43:00', { before: false }),
  ]);
  assert.deepEqual(flags({ car: 22, time: '10:42' }, { expected: silent }), []);
});

test('a time before that of an earlier point', () => {
  const earlier = [{ car: 22, point: 'R1/start', time: '10:43:00' }];
  assert.deepEqual(flags({ car: 22, time: '10:42:59.9' }, { earlier }), ['earlier-than-before']);
  assert.deepEqual(flags({ car: 22, time: '10:43:00' }, { earlier }), []);
});

test('far from due, to either side, but not in a rehearsal', () => {
  const expected = new Map([due(22, '10:42:00')]);
  assert.deepEqual(flags({ car: 22, time: '10:31:59' }, { expected }), ['far-from-due']);
  assert.deepEqual(flags({ car: 22, time: '10:32:00' }, { expected }), []);
  assert.deepEqual(flags({ car: 22, time: '11:12:00.001' }, { expected }), ['far-from-due']);
  assert.deepEqual(flags({ car: 22, time: '20:00' }, { expected, rehearsal: true }), []);
});

test('a car that one due well after it has overtaken', () => {
  const expected = new Map([due(22, '10:42:00'), due(31, '10:43:00'), due(40, '10:44:00')]);
  const at = { car: 22, time: '10:45:00' };
  assert.deepEqual(flags(at, { expected, rows: [{ car: 31, time: '10:44:00' }] }), []);
  const both = (time) => [
    { car: 40, time },
    { car: 31, time: '10:43:10' },
  ];
  assert.deepEqual(flags(at, { expected, rows: both('10:44:30') }), ['out-of-order']);
  assert.deepEqual(flags(at, { expected, rows: both('10:45:01') }), []);
});

test('one wrong number is the odd one, and none of the cars behind it', () => {
  const expected = new Map();
  for (let n = 1; n <= 30; n++) expected.set(...due(n, `10:${String(n + 10)}:00`));
  const everybody = new Map([...expected.keys()].map((n) => [n, {}]));
  const rows = [];
  const stamp = (car, time, shown = car) => {
    const found = doubts(
      { car: shown, time, source: 'key' },
      { ...nothing, cars: everybody, expected, rows },
    );
    rows.unshift({ car: shown, time, id: `r${car}` });
    return found;
  };
  for (let n = 1; n <= 17; n++) assert.deepEqual(stamp(n, `10:${n + 10}:05.000`), []);
  stamp(18, '10:28:05.000', 28); // typed 28
  for (let n = 19; n <= 26; n++) {
    assert.deepEqual(stamp(n, `10:${n + 10}:05.000`), [{ flag: '', ahead: 28, id: 'r18' }]);
  }
  rows.find((row) => row.id === 'r18').car = 18; // corrected
  assert.deepEqual(stamp(27, '10:37:05.000'), []);
  // One that is really late is the odd one itself.
  assert.deepEqual(
    stamp(9, '10:37:30.000').map((d) => [d.flag, d.by]),
    [
      ['seen-before', undefined],
      ['out-of-order', 27],
    ],
  );
});

test('the clock counts for stamps, not for what was typed', () => {
  const clock = ['clock-unverified'];
  assert.deepEqual(flags({ car: 22, time: '10:42' }, { clock }), ['clock-unverified']);
  assert.deepEqual(flags({ car: 22, time: '10:42', source: 'typed' }, { clock }), ['typed-time']);
  assert.deepEqual(flags({ car: 22, elapsed: '83.45', source: 'typed' }, { clock }), []);
});

test('a rehearsal is marked, before all other doubts', () => {
  const cases = { trial: true, rehearsal: true };
  assert.deepEqual(flags({ car: 22, time: '10:42' }, cases), ['rehearsal']);
  assert.deepEqual(flags({ car: 23, time: '10:42' }, cases), ['rehearsal', 'unknown-number']);
  assert.deepEqual(flags({ car: 22, time: '10:42' }, { rehearsal: true }), []);
});

test('a slip is one digit wrong, two changed over, one too many or too few', () => {
  assert.deepEqual(nearest(117, [17, 171, 118, 127, 217, 1117, 711, 5]), [17, 118, 127]);
  assert.deepEqual(nearest(171, [117]), [117]);
  assert.deepEqual(nearest(1117, [117]), [117]);
  assert.deepEqual(nearest(711, [117, 171]), [171]);
  assert.deepEqual(nearest(12, [34, 12]), []);
});

test('two laps within three seconds', () => {
  assert.equal(tooSoon('10:42:09.999', '10:42:07.000'), true);
  assert.equal(tooSoon('10:42:10.000', '10:42:07.000'), false);
  assert.equal(tooSoon('10:42:10.000', undefined), false);
});
