// SPDX-License-Identifier: MIT
// What the office asks the server for. The key is kept for this tab only and goes into a header.

/** An answer that is none of those hoped for: `status` (0: no answer), `message` and `errors`. */
export class Refused extends Error {
  constructor(status, message, errors = []) {
    super(message);
    this.status = status;
    this.errors = errors;
  }
}

// A line that dies without a word would hold the page for ever: how long an answer may take to
// begin, and then, over a slow line, to come whole.
const HEAD_MS = 20000;
const BODY_MS = 60000;

/** Asks, and gives the answer once all of it is here. */
async function wholeAnswer(address, options) {
  const abort = new AbortController();
  const end = () => abort.abort();
  let timer = setTimeout(end, HEAD_MS);
  try {
    const answer = await fetch(address, { ...options, signal: abort.signal });
    clearTimeout(timer);
    timer = setTimeout(end, BODY_MS);
    const { status, statusText, headers } = answer;
    return new Response(await answer.blob(), { status, statusText, headers });
  } finally {
    clearTimeout(timer);
  }
}

export class Api {
  constructor(slug, key) {
    this.base = `/api/v1/events/${slug}`;
    this.key = key;
    this.kept = new Map();
  }

  async ask(method, name, { body = null, type = 'application/json', tag = null } = {}) {
    const headers = { Authorization: 'Bearer ' + this.key };
    if (body !== null) headers['Content-Type'] = type;
    if (tag) headers['If-Match'] = tag;
    let answer;
    try {
      answer = await wholeAnswer(this.base + (name && '/' + name), {
        method,
        headers,
        body,
        cache: 'no-store',
      });
    } catch {
      throw new Refused(
        0,
        method === 'GET'
          ? 'The server does not answer. Nothing was changed.'
          : 'No answer came from the server, so nobody can tell whether this was kept. Look before you send it again.',
      );
    }
    if (answer.ok) return answer;
    const told = await answer.json().catch(() => ({}));
    throw new Refused(answer.status, told.detail || answer.statusText, told.errors || []);
  }

  async get(name) {
    return (await this.ask('GET', name)).json();
  }

  /** A document and the tag under which it may be changed. */
  async document(name) {
    const answer = await this.ask('GET', name);
    return { text: await answer.text(), tag: answer.headers.get('ETag') };
  }

  /** JSON with its tag. */
  async tagged(name) {
    const answer = await this.ask('GET', name);
    return { ...(await answer.json()), tag: answer.headers.get('ETag') };
  }

  async post(name, value, tag = null) {
    return (await this.ask('POST', name, { body: JSON.stringify(value), tag })).json();
  }

  async send(method, name, text, type, tag = null) {
    return (await this.ask(method, name, { body: text, type, tag })).json();
  }
}
