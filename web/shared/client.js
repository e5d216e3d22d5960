// SPDX-License-Identifier: MIT
// Requests to the server. Each has a time limit: a connection that breaks without notice would
// otherwise hold a page for ever.

export const LIMIT_MS = 20000;

/**
 * Asks as fetch() does, and gives the answer once all of it is here.
 *   options  those of fetch()
 *   head     how long an answer may take to begin, in ms;  rest  how long, then, to come whole
 * Returns {status, statusText, ok, headers, came, body}: `came` is the running clock as the answer
 * began, `body` a Blob. Throws where there is no answer in time.
 */
export async function ask(address, options = {}, head = LIMIT_MS, rest = head) {
  const abort = new AbortController();
  const end = () => abort.abort();
  let timer = setTimeout(end, head);
  try {
    const answer = await fetch(address, { ...options, signal: abort.signal });
    const came = performance.now();
    clearTimeout(timer);
    timer = setTimeout(end, rest);
    const { status, statusText, ok, headers } = answer;
    return { status, statusText, ok, headers, came, body: await answer.blob() };
  } finally {
    clearTimeout(timer);
  }
}

/** Options of a question to the API with a key (none: ''), whose `body`, if any, is of that type. */
export function withKey(key, { method = 'GET', body, type = 'application/json', headers = {} }) {
  return {
    method,
    body,
    cache: 'no-store',
    credentials: 'omit',
    headers: {
      ...headers,
      ...(key && { Authorization: 'Bearer ' + key }),
      ...(body === undefined ? {} : { 'Content-Type': type }),
    },
  };
}
