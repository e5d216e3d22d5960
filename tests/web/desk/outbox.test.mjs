// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { BATCH, Outbox, answered, backoff, nextBatch, verdict } from '../../../web/desk/outbox.js';

const record = (seq, state = 'kept', point = 'TC1') => ({
  seq,
  id: 'r' + seq,
  state,
  body: { id: 'r' + seq, point },
});
const anyKey = () => 'key';

test('the wait is anything up to 1, 2, 4 … 60 seconds', () => {
  assert.equal(
    backoff(1, () => 0.999),
    999,
  );
  assert.equal(
    backoff(3, () => 0.5),
    2000,
  );
  assert.equal(
    backoff(30, () => 1),
    60000,
  );
  assert.equal(
    backoff(30, () => 0),
    0,
  );
});

test('a batch is the oldest fifty that wait', () => {
  const records = Array.from({ length: 120 }, (_, i) => record(i + 1, i % 2 ? 'sent' : 'kept'));
  const batch = nextBatch(records, anyKey);
  assert.equal(batch.records.length, BATCH);
  assert.deepEqual(
    batch.records.slice(0, 3).map((r) => r.seq),
    [1, 3, 5],
  );
  assert.equal(nextBatch([record(1, 'sent'), record(2, 'refused')], anyKey), null);
});

test('each key carries its own points', () => {
  const records = [record(1, 'kept', 'TC1'), record(2, 'kept', 'R1/1'), record(3, 'kept', 'TC1')];
  const batch = nextBatch(records, (point) => (point === 'TC1' ? 'a' : 'b'));
  assert.equal(batch.key, 'a');
  assert.deepEqual(
    batch.records.map((r) => r.seq),
    [1, 3],
  );
  assert.deepEqual(
    nextBatch(records, (point) => (point === 'TC1' ? null : 'b')).records.map((r) => r.seq),
    [2],
  );
});

test('each reading has its own answer', () => {
  const after = answered([record(1), record(2)], {
    accepted: 1,
    refused: [{ row: 2, id: 'r2', reason: 'unknown car' }],
  });
  assert.deepEqual(
    after.map((r) => [r.state, r.refusal]),
    [
      ['sent', ''],
      ['refused', 'unknown car'],
    ],
  );
});

test('only what the server says of the readings counts against them', () => {
  assert.equal(verdict(200), 'taken');
  assert.equal(verdict(401), 'key');
  assert.equal(verdict(403), 'key');
  for (const status of [404, 408, 429, 500, 502, 503, 302])
    assert.equal(verdict(status), 'later', String(status));
  for (const status of [400, 413, 422]) assert.equal(verdict(status), 'wrong', String(status));
});

/** An outbox over `records` and a server that answers with `serve(bodies, key)`. */
function desk(records, serve) {
  const told = [];
  const posts = [];
  const outbox = new Outbox({
    waiting: () => records,
    keyFor: () => ['new', 'old'].find((key) => !outbox.badKeys.has(key)) || null,
    post: async (key, bodies) => {
      posts.push(bodies.map((b) => b.id));
      const reply = serve(bodies, key);
      if (reply === null) throw new Error('no link');
      return { retryAfter: 0, answer: {}, ...reply };
    },
    settle: async (settledRecords) => {
      for (const r of settledRecords)
        Object.assign(
          records.find((known) => known.id === r.id),
          r,
        );
    },
    tell: (what, n) => told.push([what, n]),
  });
  outbox.sender = true;
  return { outbox, told, posts };
}

test('all that waits is sent, fifty at a time', async () => {
  const records = Array.from({ length: 120 }, (_, i) => record(i + 1));
  const { outbox, posts } = desk(records, () => ({
    status: 200,
    answer: { accepted: 1, refused: [] },
  }));
  await outbox.run();
  assert.deepEqual(
    posts.map((p) => p.length),
    [50, 50, 20],
  );
  assert.ok(records.every((r) => r.state === 'sent'));
});

test('one that the server cannot read is parked and holds up no other', async () => {
  const records = Array.from({ length: 20 }, (_, i) => record(i + 1));
  const { outbox } = desk(records, (bodies) =>
    bodies.some((b) => b.id === 'r7')
      ? { status: 400, answer: { detail: 'row 1: broken' } }
      : { status: 200, answer: { refused: [] } },
  );
  await outbox.run();
  assert.deepEqual(
    records.filter((r) => r.state !== 'sent').map((r) => [r.id, r.state, r.refusal]),
    [['r7', 'refused', 'row 1: broken']],
  );
});

test('a lost answer leaves everything waiting, to be sent again', async () => {
  const records = [record(1), record(2)];
  let reach = false;
  const { outbox, posts, told } = desk(records, () =>
    reach ? { status: 200, answer: { refused: [] } } : null,
  );
  await outbox.run();
  clearTimeout(outbox.timer);
  assert.ok(records.every((r) => r.state === 'kept'));
  assert.equal(outbox.failures, 1);
  assert.deepEqual(told, [['lost', 0]]);
  reach = true;
  await outbox.run();
  assert.deepEqual(posts, [
    ['r1', 'r2'],
    ['r1', 'r2'],
  ]);
  assert.equal(outbox.failures, 0);
});

test('a key that is no longer in force is not tried again; another takes over', async () => {
  const records = [record(1)];
  const { outbox, told } = desk(records, (_, key) =>
    key === 'new' ? { status: 401 } : { status: 200, answer: { refused: [] } },
  );
  await outbox.run();
  assert.deepEqual(told, [
    ['key', 0],
    ['sent', 1],
  ]);
  assert.equal(records[0].state, 'sent');
});

test('with no key left the readings wait', async () => {
  const records = [record(1)];
  const { outbox, posts } = desk(records, () => ({ status: 401 }));
  await outbox.run();
  await outbox.run();
  assert.equal(posts.length, 2);
  assert.equal(records[0].state, 'kept');
});

test('a tab that is not the sender sends nothing', () => {
  const { outbox, posts } = desk([record(1)], () => ({ status: 200 }));
  outbox.sender = false;
  outbox.wake();
  assert.equal(posts.length, 0);
});

test('what becomes better while a try fails is not missed', async () => {
  const records = [record(1)];
  let reach = false;
  const { outbox, posts } = desk(records, () => {
    if (reach) return { status: 200, answer: { refused: [] } };
    reach = true;
    outbox.wake(); // the network is back, and this try is lost all the same
    return null;
  });
  await outbox.run();
  clearTimeout(outbox.timer);
  assert.deepEqual(posts, [['r1'], ['r1']]);
  assert.equal(records[0].state, 'sent');
});
