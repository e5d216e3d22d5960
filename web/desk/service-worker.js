// SPDX-License-Identifier: MIT
// Keeps the desk's page and files, so that it opens without a network. One version is kept as a
// whole; the next waits until the timekeeper asks for it, for nobody wants a page to change its
// ways between two cars.

const VERSION = '{{assets}}';
const FILES = ['{{files}}'];
const PAGE = new URL('control', self.location).pathname;
const OURS = 'desk ' + PAGE + ' ';

self.addEventListener('install', (event) => {
  const all = [PAGE, ...FILES].map((path) => new Request(path, { cache: 'reload' }));
  event.waitUntil(caches.open(OURS + VERSION).then((cache) => cache.addAll(all)));
});

async function takeOver() {
  for (const name of await caches.keys()) {
    if (name.startsWith(OURS) && name !== OURS + VERSION) await caches.delete(name);
  }
  await self.clients.claim();
}

async function kept({ request }, pathname) {
  const cache = await caches.open(OURS + VERSION);
  return (await cache.match(pathname)) || fetch(request);
}

self.addEventListener('activate', (event) => event.waitUntil(takeOver()));

self.addEventListener('message', (event) => {
  if (event.data && event.data.update === 'now') self.skipWaiting();
});

self.addEventListener('fetch', (event) => {
  const { pathname } = new URL(event.request.url);
  if (event.request.method !== 'GET' || (pathname !== PAGE && !FILES.includes(pathname))) return;
  event.respondWith(kept(event, pathname));
});
