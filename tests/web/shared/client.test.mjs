// SPDX-License-Identifier: MIT
// Every request has a time limit, and an answer comes whole or not at all.

import assert from 'node:assert/strict';
import test from 'node:test';
import { LIMIT_MS, ask, withKey } from '../../../web/shared/client.js';

const clock = { now: 0, due: new Map(), last: 0 };

/** Timers go by the test's clock. Node's own mock of them differs between its versions. */
function stopClock(t) {
  clock.due.clear();
  t.mock.method(globalThis, 'setTimeout', (act, ms) => {
    clock.due.set(++clock.last, { at: clock.now + ms, act });
    return clock.last;
  });
  t.mock.method(globalThis, 'clearTimeout', (timer) => clock.due.delete(timer));
}

function tick(ms) {
  clock.now += ms;
  for (const [timer, { at, act }] of clock.due) {
    if (at <= clock.now && clock.due.delete(timer)) act();
  }
}

/** A server that begins to answer after `head` ms of the test's clock and has said all after `rest`
 * more; null: never. */
function answering(t, head, rest, status = 200) {
  stopClock(t);
  const later = (ms, signal, act) =>
    new Promise((resolve, reject) => {
      signal.addEventListener('abort', () => reject(signal.reason));
      if (ms !== null) setTimeout(() => resolve(act()), ms);
    });
  t.mock.method(globalThis, 'fetch', (address, { signal }) =>
    later(head, signal, () => ({
      status,
      statusText: 'So so',
      ok: status < 300,
      headers: new Headers({ ETag: '"e1"' }),
      blob: () => later(rest, signal, () => new Blob(['{"a":1}'])),
    })),
  );
}

/** Moves the clock forward in steps; timers that are due run in between. */
async function pass(ms) {
  for (let i = 0; i < ms; i += 1000) {
    tick(1000);
    for (let turn = 0; turn < 10; turn++) await Promise.resolve();
  }
}

test('an answer is given once all of it is here', async (t) => {
  answering(t, 2000, 5000, 201);
  let given = null;
  const asked = ask('/x').then((answer) => {
    given = answer;
  });
  await pass(6000);
  assert.equal(given, null);
  await pass(1000);
  await asked;
  assert.deepEqual([given.status, given.statusText, given.ok], [201, 'So so', true]);
  assert.equal(given.headers.get('etag'), '"e1"');
  assert.equal(await given.body.text(), '{"a":1}');
  assert.ok(given.came > 0 && given.came <= performance.now());
});

test('a line that says nothing is given up after the limit, and not before', async (t) => {
  answering(t, null, null);
  let failed = false;
  const asked = ask('/x').catch(() => {
    failed = true;
  });
  await pass(LIMIT_MS - 1000);
  assert.equal(failed, false);
  await pass(1000);
  await asked;
  assert.equal(failed, true);
});

test('an answer of which half comes is given up after the limit for the rest', async (t) => {
  answering(t, 1000, null);
  let failed = false;
  const asked = ask('/x', {}, 20_000, 60_000).catch(() => {
    failed = true;
  });
  await pass(60_000);
  assert.equal(failed, false);
  await pass(1000);
  await asked;
  assert.equal(failed, true);
});

test('a limit that is not reached ends nothing later', async (t) => {
  answering(t, 0, 0);
  const signals = [];
  const answer = globalThis.fetch;
  t.mock.method(globalThis, 'fetch', (address, options) => {
    signals.push(options.signal);
    return answer(address, options);
  });
  const asked = ask('/x');
  await pass(3000);
  await asked;
  await pass(2 * LIMIT_MS);
  assert.equal(signals[0].aborted, false);
});

test('a key goes into a header, and a type only with a body', () => {
  const plain = withKey('', {});
  assert.deepEqual([plain.method, plain.headers, plain.body], ['GET', {}, undefined]);
  assert.deepEqual([plain.cache, plain.credentials], ['no-store', 'omit']);
  const sent = withKey('k', { method: 'PUT', body: 'a,b', type: 'text/csv', headers: { A: '1' } });
  assert.deepEqual(sent.headers, {
    A: '1',
    Authorization: 'Bearer k',
    'Content-Type': 'text/csv',
  });
  assert.equal(withKey('k', { body: '' }).headers['Content-Type'], 'application/json');
});
