// SPDX-License-Identifier: MIT
// Keeps the last good copy of each public page of one event, and shows it when the network is gone.
// Desks and offices look after themselves: this leaves them, and everything but pages, alone.
'use strict';
const STORE = 'cairn-board-1';
const PAGES = 60;
const here = new URL(self.registration.scope).pathname;
const isPage = (path) =>
  path.startsWith(here) &&
  !/^(control|office|worker\.js|qr|cars\/\d+\/enquir)/.test(path.slice(here.length));

self.addEventListener('install', () => self.skipWaiting());
self.addEventListener('activate', (e) => e.waitUntil(self.clients.claim()));

async function keep(request, answer) {
  const store = await caches.open(STORE);
  // In one step: between a removal and a put the network may go, and there would be no copy.
  await store.put(request, answer);
  const kept = await store.keys();
  // The oldest go first.
  for (const old of kept.slice(0, Math.max(0, kept.length - PAGES))) await store.delete(old);
}

async function fromNetwork(request, event) {
  const answer = await fetch(request);
  if (answer.ok) event.waitUntil(keep(request, answer.clone()).catch(() => {}));
  return answer;
}

async function page(event) {
  try {
    return await fromNetwork(event.request, event);
  } catch (error) {
    const store = await caches.open(STORE);
    const kept =
      (await store.match(event.request, { ignoreVary: true })) ||
      (await store.match(event.request, { ignoreSearch: true, ignoreVary: true }));
    if (kept) return kept;
    throw error;
  }
}

// The files of pages never change under their address.
async function file(event) {
  const store = await caches.open(STORE);
  return (
    (await store.match(event.request, { ignoreVary: true })) || fromNetwork(event.request, event)
  );
}

async function fetchAndKeep(address) {
  const answer = await fetch(address, { headers: { Accept: 'text/html,*/*' } });
  if (answer.ok) await keep(new Request(address), answer);
}

// A page that was there before its worker names itself and its files.
self.addEventListener('message', (event) => {
  const wanted = event.data.filter((address) => new URL(address).origin === location.origin);
  event.waitUntil(Promise.all(wanted.map(fetchAndKeep)).catch(() => {}));
});

const wantsPage = (request) =>
  request.mode === 'navigate' || (request.headers.get('Accept') || '').startsWith('text/html');

self.addEventListener('fetch', (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== 'GET' || url.origin !== location.origin) return;
  if (url.pathname.startsWith('/_/')) event.respondWith(file(event));
  else if (wantsPage(event.request) && isPage(url.pathname)) event.respondWith(page(event));
});
