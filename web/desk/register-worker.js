// SPDX-License-Identifier: MIT
// The page's side of the worker that lets it open without a network.

const LOOK_MS = 1800000;

/**
 * Registers the event's worker. offer() is called when a newer version waits.
 * Returns {update()}, which brings the newer version in and reloads the page; only after an offer.
 */
export function registerWorker(slug, offer) {
  if (!('serviceWorker' in navigator)) return { update() {} };
  const workers = navigator.serviceWorker;
  let newer;
  // The board's worker may hold the page while the desk's first one is on its way: no newer one.
  const check = ({ waiting, active }) => {
    if (!waiting || !active) return;
    newer = waiting;
    offer();
  };
  workers
    .register('/' + slug + '/worker.js', { scope: '/' + slug + '/control' })
    .then((registration) => {
      // On a busy page a newer worker may be found before anybody listens, and have come further than
      // "installing" by the time that its event is heard.
      const watch = () => {
        check(registration);
        const fresh = registration.installing;
        if (fresh) fresh.addEventListener('statechange', () => check(registration));
      };
      watch();
      registration.addEventListener('updatefound', watch);
      setInterval(() => registration.update().catch(() => {}), LOOK_MS);
    })
    .catch(() => {});
  return {
    update() {
      workers.addEventListener('controllerchange', () => location.reload(), { once: true });
      newer.postMessage({ update: 'now' });
    },
  };
}
