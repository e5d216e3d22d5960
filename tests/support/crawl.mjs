// SPDX-License-Identifier: MIT
// The public pages, found by following links, so that a new kind of page needs no line here.

const ENTITIES = { amp: '&', lt: '<', gt: '>', quot: '"', apos: "'", '#39': "'", '#34': '"' };

function decoded(text) {
  return text.replace(/&(amp|lt|gt|quot|apos|#39|#34);/g, (_, name) => ENTITIES[name]);
}

/** The addresses that a page's source names in `href` and `src` and in forms, made absolute. */
export function linksOf(source, base) {
  const found = [];
  for (const [, , value] of source.matchAll(/\s(?:href|src|action)=("|')(.*?)\1/gs)) {
    found.push(new URL(decoded(value), base).href);
  }
  return found;
}

/** What kind of page an address shows: two cars' cards are of one kind, and so are the standings
 *  of two classes. */
export function kindOf(address) {
  const url = new URL(address);
  const parts = url.pathname.split('/').filter((part) => part !== '');
  // An event's address, then a word that says what it is, then which one of them.
  const path = parts.map((part, i) => (i === 0 ? 'EVENT' : i === 1 ? part : 'WHICH')).join('/');
  const names = [...url.searchParams.keys()].sort();
  const by = url.searchParams.get('by');
  return `/${path}${parts.length === 1 ? '/' : ''}?${names.join('&')}${by ? `:${by}` : ''}`;
}

/** Follows links from `/` of `origin`. `each` is how many pages of a kind are wanted. Returns the
 *  HTML pages as {address, kind, source, headers} and every other answer as {address, status, type}.
 *  A link that leads to an error is an error. */
export async function crawl(origin, each = Infinity) {
  const seen = new Set(),
    kinds = new Map(),
    pages = [],
    others = [];
  const queue = [{ address: `${origin}/`, from: 'the start' }];
  while (queue.length > 0) {
    const { address, from } = queue.shift();
    if (seen.has(address)) continue;
    seen.add(address);
    const kind = kindOf(address);
    const count = kinds.get(kind) ?? 0;
    if (count >= each) continue;
    kinds.set(kind, count + 1);
    const answer = await fetch(address);
    const type = answer.headers.get('content-type') ?? '';
    const source = await answer.text();
    if (answer.status !== 200) throw new Error(`${address} (linked by ${from}): ${answer.status}`);
    if (!type.startsWith('text/html')) {
      others.push({ address, status: answer.status, type });
      continue;
    }
    pages.push({ address, kind, source, headers: answer.headers });
    for (const link of linksOf(source, address)) {
      const url = new URL(link);
      url.hash = '';
      if (url.origin === origin) queue.push({ address: url.href, from: address });
    }
  }
  return { pages, others };
}
