// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { countExpected, mergeExpected, overdue } from '../../../web/desk/expected.js';
import { Log, correction, withdrawal, withoutEmpty } from '../../../web/desk/log.js';
import { nextPoint, stationsOf } from '../../../web/desk/stations.js';

let seq = 0;
function record(body, state = 'sent') {
  seq++;
  return {
    id: 'r' + seq,
    seq,
    state,
    refusal: '',
    made: seq * 1000,
    body: { id: 'r' + seq, seq, point: 'TC1', ...body },
  };
}

function logOf(...records) {
  const log = new Log();
  for (const r of records) log.add(r);
  return log;
}

test('a correction takes its reading’s place on the sheet', () => {
  const first = record({ car: 22, time: '10:42' });
  const other = record({ car: 31, time: '10:43' });
  const fixed = record({ ...correction(first.body, { car: 23 }, 'number'), id: undefined });
  const log = logOf(first, other, fixed);
  assert.deepEqual(
    log.holding(['TC1']).map((r) => r.car),
    [31, 23],
  );
  assert.equal(fixed.body.time, '10:42');
  assert.equal(log.latest(['TC1']).current, fixed);
});

test('what is struck out does not hold, and comes back when it is restored', () => {
  const first = record({
    car: 22,
    time: '10:42',
    source: 'key',
    flags: 'far-from-due',
    wall_ms: 5,
  });
  const log = logOf(first);
  log.add(record(withdrawal(first.body, 'slip')));
  assert.deepEqual(log.holding(['TC1']), []);
  assert.equal(log.lines(['TC1'])[0].voided, true);
  const back = record({ ...correction(first.body, {}, 'restored') });
  log.add(back);
  assert.deepEqual(
    log.holding(['TC1']).map((r) => r.time),
    ['10:42'],
  );
  assert.equal(back.body.void, undefined);
  assert.equal(back.body.replaces, first.id);
  assert.equal(back.body.wall_ms, 5);
  assert.equal(back.body.flags, undefined);
});

test('a reading moved to another point leaves the first', () => {
  const first = record({ car: 22, time: '10:42' });
  const log = logOf(first, record({ ...correction(first.body, { point: 'R1/1' }, 'point') }));
  assert.deepEqual(log.lines(['TC1']), []);
  assert.equal(log.holding(['R1/1']).length, 1);
});

test('a refused reading is settled once a person has corrected it', () => {
  const first = record({ car: 998 }, 'refused');
  const log = logOf(first);
  assert.equal(log.tally().refused, 1);
  log.add(record(correction(first.body, { car: 98 }, 'number'), 'kept'));
  assert.deepEqual({ ...log.tally(), lastSeq: 0 }, { unsent: 1, refused: 0, lastSeq: 0 });
});

test('the same record again only brings its new state', () => {
  const first = record({ car: 22 }, 'kept');
  const log = logOf(first);
  log.add({ ...first, state: 'sent' });
  assert.equal(log.records.size, 1);
  assert.equal(log.tally().unsent, 0);
});

test('a time without a number is a reading, and one line of the sheet whatever becomes of it', () => {
  const only = record({ time: '10:00:00.000' }, 'kept');
  const log = logOf(only);
  log.addBlank({ id: only.id, no: 1, point: 'TC1', made: only.made, state: 'open' });
  const line = () => log.lines(['TC1']).map((l) => [l.no, l.state || l.current.body.car]);
  assert.deepEqual(line(), [[1, 'open']]);
  assert.equal(log.tally().unsent, 1);
  log.add(record({ void: 'yes', replaces: only.id }));
  assert.deepEqual(line(), [[1, 'dropped']]);
  assert.equal(log.openBlanks().length, 0);
  const restored = record({ time: '10:00:00.000', replaces: only.id });
  log.add(restored);
  assert.deepEqual(line(), [[1, 'open']]);
  log.add(record({ car: 31, time: '10:00:00.000', replaces: restored.id }));
  assert.deepEqual(line(), [[undefined, 31]]);
  assert.equal(log.openBlanks().length, 0);
});

test('blanks stand among the readings until they have a number', () => {
  const log = logOf(record({ car: 22 }));
  log.addBlank({ id: 'b', no: 1, point: 'TC1', made: 1e9, state: 'open' });
  assert.deepEqual(
    log.lines(['TC1']).map((l) => l.no || l.current.body.car),
    [1, 22],
  );
  assert.equal(log.openBlanks('TC1').length, 1);
  log.addBlank({ id: 'b', state: 'given' });
  assert.equal(log.lines(['TC1']).length, 1);
  assert.equal(log.openBlanks().length, 0);
});

test('empty members are left out, zero is not empty', () => {
  assert.deepEqual(withoutEmpty({ a: '', b: null, c: undefined, d: 0, e: 'x' }), { d: 0, e: 'x' });
});

const copy = (...cars) => ({ cars, fetched: 0 });
const car = (number, due, state, more = {}) => ({
  car: number,
  due,
  state,
  time: null,
  reading: null,
  ...more,
});

test('what the desk has read lies over the server’s list', () => {
  const log = logOf(record({ car: 22, time: '10:42:07.5' }, 'kept'));
  const list = mergeExpected(
    copy(car(22, '10:42:00', 'expected'), car(31, '10:43:00', 'seen', { time: '10:43:10' })),
    log,
    ['TC1'],
  );
  assert.deepEqual(
    list.map((c) => [c.car, c.state, c.time, c.sent]),
    [
      [22, 'seen', '10:42:07.5', false],
      [31, 'seen', '10:43:10', true],
    ],
  );
});

test('what was struck out here is not seen, whatever the server still says', () => {
  const first = record({ car: 22, time: '10:42' });
  const log = logOf(first, record(withdrawal(first.body, 'slip'), 'kept'));
  const list = mergeExpected(
    copy(car(22, '10:42:00', 'seen', { reading: first.id, time: '10:42:00' })),
    log,
    ['TC1'],
  );
  assert.equal(list[0].state, 'expected');
});

test('the closing summary comes with the last car', () => {
  const log = new Log();
  const at = (...cars) => countExpected(mergeExpected(copy(...cars), log, ['TC1']));
  const three = [
    car(1, '10:00:00', 'seen'),
    car(58, '10:01:00', 'expected'),
    car(9, '10:02:00', 'out'),
  ];
  assert.equal(at(...three).through, false);
  assert.deepEqual(at(...three, car(70, '10:03:00', 'seen')), {
    total: 4,
    seen: 2,
    out: 1,
    sent: 2,
    missing: [58],
    through: true,
  });
  assert.equal(at(car(1, '10:00:00', 'seen'), car(58, '10:01:00', 'missing')).through, true);
  assert.equal(at().through, false);
});

test('a car is overdue a minute after its time', () => {
  assert.equal(overdue(car(1, '10:00:00', 'expected'), 36060000), 0);
  assert.equal(overdue(car(1, '10:00:00', 'expected'), 36000000 + 240000), 4);
  assert.equal(overdue(car(1, '10:00:00', 'seen'), 46000000), 0);
  assert.equal(overdue(car(1, null, 'expected'), 46000000), 0);
});

const point = (id, kind, part, number, item) => ({ id, kind, part, number, item });
const loop = ['start', '1', '2'].map((n) =>
  point('L1/' + n, 'consistency', n === 'start' ? 'start' : 'lap', Number(n) || 0, 'L1'),
);

test('all laps of a test are one station', () => {
  const stations = stationsOf([
    point('TC1', 'time-control', 'arrival', 0, 'TC1'),
    point('L1/nominated', 'consistency', 'nominated', 0, 'L1'),
    ...loop,
  ]);
  assert.deepEqual(
    stations.map((p) => [p.id, p.points.length, Boolean(p.laps)]),
    [
      ['TC1', 1, false],
      ['L1/nominated', 1, false],
      ['L1', 3, true],
    ],
  );
  assert.deepEqual(
    stationsOf([loop[1]]).map((p) => [p.id, p.laps]),
    [['L1/1', false]],
  );
});

test('a car goes from lap to lap', () => {
  const [station] = stationsOf(loop);
  assert.deepEqual(nextPoint(station, [], 22), { point: 'L1/start', index: 0, of: 2, done: false });
  const read = [
    { car: 22, point: 'L1/start' },
    { car: 31, point: 'L1/1' },
  ];
  assert.equal(nextPoint(station, read, 22).point, 'L1/1');
  const all = loop.map((p) => ({ car: 22, point: p.id }));
  assert.deepEqual(nextPoint(station, all, 22), { point: 'L1/2', index: 2, of: 2, done: true });
});

test('what was never taken and is struck out waits for nobody, though that is refused too', () => {
  const first = record({ car: 99, time: '10:42' }, 'refused');
  const log = logOf(first);
  assert.equal(log.tally().refused, 1);
  const struck = { ...record(withdrawal(first.body, 'struck out'), 'refused') };
  log.add(struck);
  assert.equal(log.tally().refused, 0);
  log.add(record(correction(first.body, {}, 'restored'), 'refused'));
  assert.equal(log.tally().refused, 1);
});

test('where a reading stands, a refused withdrawal of its refused correction waits', () => {
  const first = record({ car: 22, time: '10:42' });
  const fixed = record(correction(first.body, { car: 99 }, 'number'), 'refused');
  const struck = record(withdrawal(fixed.body, 'struck out'), 'refused');
  assert.equal(logOf(first, fixed, struck).tally().refused, 1);
});
