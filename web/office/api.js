// SPDX-License-Identifier: MIT
// What the office asks the server for. The key is kept for this tab only and goes into a header.

import { ask, LIMIT_MS, withKey } from '../shared/client.js';

/** An answer that is none of those hoped for: `status` (0: no answer), `message` and `errors`. */
export class Refused extends Error {
  constructor(status, message, errors = []) {
    super(message);
    this.status = status;
    this.errors = errors;
  }
}

// A long list over a slow line.
const REST_MS = 60000;

const NO_ANSWER = 'The server does not answer. Nothing was changed.';
const NOBODY_KNOWS =
  'No answer came from the server, so nobody can tell whether this was kept. Look before you send it again.';

const jsonOf = async ({ body }) => JSON.parse(await body.text());

export class Api {
  constructor(slug, key) {
    this.base = `/api/v1/events/${slug}`;
    this.key = key;
  }

  /** The answer as ask() gives it, if it is a good one. tag: under which the document may be changed. */
  async ask(method, name, { body, type, tag = null } = {}) {
    const headers = tag ? { 'If-Match': tag } : {};
    const address = this.base + (name && '/' + name);
    const options = withKey(this.key, { method, body, type, headers });
    const answer = await ask(address, options, LIMIT_MS, REST_MS).catch(() => {
      throw new Refused(0, method === 'GET' ? NO_ANSWER : NOBODY_KNOWS);
    });
    if (answer.ok) return answer;
    // What a proxy says is no JSON.
    const problem = await jsonOf(answer).catch(() => ({}));
    throw new Refused(answer.status, problem.detail || answer.statusText, problem.errors);
  }

  async get(name) {
    return jsonOf(await this.ask('GET', name));
  }

  /** A document and the tag under which it may be changed. */
  async document(name) {
    const { body, headers } = await this.ask('GET', name);
    return { text: await body.text(), tag: headers.get('ETag') };
  }

  /** JSON with its tag. */
  async tagged(name) {
    const { text, tag } = await this.document(name);
    return { ...JSON.parse(text), tag };
  }

  post(name, value, tag = null) {
    return this.send('POST', name, JSON.stringify(value), undefined, tag);
  }

  async send(method, name, body, type, tag = null) {
    return jsonOf(await this.ask(method, name, { body, type, tag }));
  }
}
