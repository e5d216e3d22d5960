// SPDX-License-Identifier: MIT
// How the office's API client treats an answer, a refusal and no answer.

import assert from 'node:assert/strict';
import test from 'node:test';
import { Api, Refused } from '../../../web/office/api.js';

/** An API whose server answers so; what it was asked is in `asked`. */
function served(t, answer) {
  const asked = [];
  t.mock.method(globalThis, 'fetch', async (address, options) => {
    asked.push({ address, ...options });
    if (answer instanceof Error) throw answer;
    return answer();
  });
  return { api: new Api('gannet', 'secret'), asked };
}
const json = (value, more) => () => new Response(JSON.stringify(value), more);

test('it asks below the event with its key, and gives what was answered', async (t) => {
  const { api, asked } = served(t, json({ points: [] }, { headers: { ETag: '"p7"' } }));
  assert.deepEqual(await api.get('points'), { points: [] });
  assert.equal(asked[0].address, '/api/v1/events/gannet/points');
  assert.equal(asked[0].headers.Authorization, 'Bearer secret');
  assert.equal(asked[0].headers['If-Match'], undefined);
  assert.deepEqual(await api.tagged('points'), { points: [], tag: '"p7"' });
  assert.deepEqual(await api.document('rules'), { text: '{"points":[]}', tag: '"p7"' });
  await api.get('');
  assert.equal(asked.at(-1).address, '/api/v1/events/gannet');
});

test('a change names the version that it rests on', async (t) => {
  const { api, asked } = served(t, json({ refused: [] }));
  await api.post('decisions', [{ kind: 'close' }], '"d3"');
  const [{ method, headers, body }] = asked;
  assert.deepEqual([method, headers['If-Match']], ['POST', '"d3"']);
  assert.equal(headers['Content-Type'], 'application/json');
  assert.deepEqual(JSON.parse(body), [{ kind: 'close' }]);
  await api.send('PUT', 'entries', 'number\n1\n', 'text/csv', '"n1"');
  assert.deepEqual(
    [asked[1].method, asked[1].headers['Content-Type'], asked[1].body],
    ['PUT', 'text/csv', 'number\n1\n'],
  );
});

test('a refusal says why, with every single thing', async (t) => {
  const problem = { detail: 'Somebody else was first', errors: ['a', 'b'] };
  const { api } = served(t, json(problem, { status: 412 }));
  await assert.rejects(api.post('decisions', []), (error) => {
    assert.ok(error instanceof Refused);
    assert.deepEqual([error.status, error.message], [412, 'Somebody else was first']);
    assert.deepEqual(error.errors, ['a', 'b']);
    return true;
  });
});

test('what a proxy says instead is a refusal too', async (t) => {
  const page = () => new Response('<h1>Pay</h1>', { status: 502, statusText: 'Bad Gateway' });
  const { api } = served(t, page);
  await assert.rejects(api.get('points'), (error) => {
    assert.deepEqual([error.status, error.message, error.errors], [502, 'Bad Gateway', []]);
    return true;
  });
});

test('without an answer a question changed nothing, of a change nobody knows', async (t) => {
  const { api } = served(t, new TypeError('no line'));
  await assert.rejects(api.get('points'), { status: 0, message: /Nothing was changed/ });
  await assert.rejects(api.post('keys', {}), { status: 0, message: /nobody can tell/ });
  await assert.rejects(api.send('DELETE', 'keys/1'), { status: 0, message: /nobody can tell/ });
});
