// SPDX-License-Identifier: MIT
// Who is expected: the server's list with what this desk has read since.

import assert from 'node:assert/strict';
import test from 'node:test';
import {
  countExpected,
  dueShown,
  isFresh,
  mergeExpected,
  overdue,
  seenShown,
} from '../../../web/desk/expected.js';
import { Log } from '../../../web/desk/log.js';

let seq = 0;
/** A log that holds these readings, in their order. */
function logOf(...bodies) {
  const log = new Log();
  for (const { state = 'kept', ...body } of bodies) {
    const id = body.id ?? `r${++seq}`;
    log.add({ seq: ++seq, id, state, made: seq, body: { point: 'TC1', ...body, id } });
  }
  return log;
}
const copyOf = (...cars) => ({
  fetched: 1000,
  cars: cars.map((car) => ({ due: '10:42:00', state: 'expected', time: null, ...car })),
});

test('a copy counts as new for five minutes, also on a clock that was set back', () => {
  assert.ok(isFresh(copyOf(), 1000 + 299_000) && isFresh(copyOf(), 1000 - 299_000));
  assert.ok(!isFresh(copyOf(), 1000 + 300_000) && !isFresh(null, 0));
});

test('a car that was read here is seen, sent or not', () => {
  const log = logOf({ car: 1, time: '10:42:05' }, { car: 2, time: '10:43', state: 'sent' });
  const list = mergeExpected(copyOf({ car: 1 }, { car: 2 }, { car: 3 }), log, ['TC1']);
  assert.deepEqual(
    list.map(({ car, state, time, sent }) => [car, state, time, sent]),
    [
      [1, 'seen', '10:42:05', false],
      [2, 'seen', '10:43', true],
      [3, 'expected', null, false],
    ],
  );
  assert.deepEqual(mergeExpected(null, log, ['TC1']), []);
});

test('what was struck out here is expected again, though the server does not know it yet', () => {
  const log = logOf({ id: 'a', car: 1, time: '10:42' }, { car: 1, replaces: 'a', void: 'yes' });
  const seen = { car: 1, state: 'seen', time: '10:42', reading: 'a' };
  assert.equal(mergeExpected(copyOf(seen), log, ['TC1'])[0].state, 'expected');
  // Of another desk's reading the server's list counts.
  const other = mergeExpected(copyOf({ ...seen, reading: 'b' }), log, ['TC1'])[0];
  assert.deepEqual([other.state, other.sent], ['seen', true]);
});

test('cars that are out are not counted among those to come', () => {
  const list = [
    { car: 1, state: 'seen', sent: true },
    { car: 2, state: 'out' },
    { car: 3, state: 'expected' },
    { car: 4, state: 'missing' },
  ];
  const counts = { total: 4, seen: 1, out: 1, sent: 1, missing: [3, 4], through: false };
  assert.deepEqual(countExpected(list), counts);
  assert.ok(countExpected([list[0], list[3]]).through, 'nobody is expected any more');
  assert.ok(countExpected([list[2], list[0]]).through, 'the last car has come');
  assert.ok(!countExpected([]).through);
});

test('a car is overdue a minute after its due time', () => {
  const car = { state: 'expected', due: '10:42:00' };
  const due = (10 * 60 + 42) * 60 * 1000;
  assert.equal(overdue(car, due + 60_000), 0);
  assert.equal(overdue(car, due + 60_001), 1);
  assert.equal(overdue(car, due + 600_000), 10);
  assert.equal(overdue({ ...car, state: 'seen' }, due + 600_000), 0);
  assert.equal(overdue({ ...car, due: null }, due), 0);
  assert.equal(overdue(car, null), 0);
});

test('times past midnight are told as people say them, elapsed times as they are', () => {
  assert.equal(dueShown('25:39:00'), '01:39');
  assert.equal(dueShown('25:39:30'), '01:39:30');
  assert.equal(dueShown('09:05'), '09:05');
  assert.equal(seenShown({ time: '24:49:22.517' }), '00:49:22');
  assert.equal(seenShown({ time: null, elapsed: '11.71' }), '11.71');
  assert.equal(seenShown({ time: null, elapsed: '00:01:23.4' }), '1:23.4');
});
