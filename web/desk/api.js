// SPDX-License-Identifier: MIT
// The one place that talks to the server.

const PATIENCE_MS = 20000;

export class Api {
  constructor(slug) {
    this.base = '/api/v1/events/' + slug + '/';
  }

  /**
   * options: key, method, body (sent as JSON), etag (of the copy at hand)
   * Returns {status, answer (from JSON; {} without), etag, retryAfter (s), back (the running clock
   * when the answer came)}; throws where there is no answer, or none of our server's.
   */
  async call(path, { key, method = 'GET', body, etag } = {}) {
    const headers = {};
    if (key) headers.Authorization = 'Bearer ' + key;
    if (etag) headers['If-None-Match'] = etag;
    if (body) headers['Content-Type'] = 'application/json';
    const abort = new AbortController();
    const patience = setTimeout(() => abort.abort(), PATIENCE_MS);
    try {
      const reply = await fetch(this.base + path, {
        method,
        headers,
        signal: abort.signal,
        cache: 'no-store',
        credentials: 'omit',
        body: body && JSON.stringify(body),
      });
      const back = performance.now();
      const json = /json/.test(reply.headers.get('Content-Type') || '');
      if (reply.ok && !json) throw new Error('not our server');
      return {
        status: reply.status,
        back,
        answer: json && reply.status !== 304 ? await reply.json() : {},
        etag: reply.headers.get('ETag'),
        retryAfter: Number(reply.headers.get('Retry-After')) || 0,
      };
    } finally {
      clearTimeout(patience);
    }
  }
}
