// SPDX-License-Identifier: MIT
// What the desk asks the server for.

import { ask, withKey } from '../shared/client.js';

export class Api {
  constructor(slug) {
    this.base = '/api/v1/events/' + slug + '/';
  }

  /**
   * options: key, method, body (sent as JSON), etag (of the copy at hand)
   * Returns {status, answer (from JSON; {} without), etag, retryAfter (s), back (the running clock
   * when the answer came)}; throws where there is no answer, or none of our server's.
   */
  async call(path, { key, method, body, etag } = {}) {
    const reply = await ask(
      this.base + path,
      withKey(key, {
        method,
        body: body && JSON.stringify(body),
        headers: etag ? { 'If-None-Match': etag } : {},
      }),
    );
    const { status, headers, came: back } = reply;
    const json = /json/.test(headers.get('Content-Type') || '');
    if (reply.ok && !json) throw new Error('not our server');
    return {
      status,
      back,
      answer: json && status !== 304 ? JSON.parse(await reply.body.text()) : {},
      etag: headers.get('ETag'),
      retryAfter: Number(headers.get('Retry-After')) || 0,
    };
  }
}
