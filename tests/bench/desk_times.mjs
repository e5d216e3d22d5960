// SPDX-License-Identifier: MIT
// One round of measurements on the timekeeper's desk in a real Chromium; prints them as one line of
// JSON, times in milliseconds. For bench_desk.py.

import { Profile, Served, throttle } from '../support/setup.mjs';
import { Desk, apart, demoToday, inOrder } from '../support/desk.mjs';

const PRESSES = 100;
const SLOW_PRESSES = 50;
const BOOTS = 5;

// Runs before the page's own scripts.
function watch() {
  const seen = { down: 0, paint: null, durable: null, ready: null };
  let tell = () => {};
  /** Resolves to {paint, durable} once the last press has both: nothing is asked of the page, and no
   *  frame drawn, meanwhile. */
  seen.both = new Promise((resolve) => {
    tell = resolve;
  });
  const note = (what, ms) => {
    seen[what] ??= ms;
    if (seen.paint !== null && seen.durable !== null)
      tell({ paint: seen.paint, durable: seen.durable });
  };
  window.seen = seen;
  window.addEventListener(
    'keydown',
    (event) => {
      if (event.key !== 'Enter') return;
      const both = new Promise((resolve) => {
        tell = resolve;
      });
      Object.assign(seen, { down: event.timeStamp, paint: null, durable: null, both });
    },
    true,
  );
  // A reading that is new is added; what becomes of it later is put.
  const add = IDBObjectStore.prototype.add;
  IDBObjectStore.prototype.add = function added(...parts) {
    const { down } = seen;
    this.transaction.addEventListener('complete', () => {
      if (down === seen.down) note('durable', performance.now() - down);
    });
    return add.apply(this, parts);
  };
  new MutationObserver(() => {
    if (seen.ready === null && document.documentElement.dataset.ready === 'true') {
      seen.ready = performance.now();
    }
  }).observe(document, { attributes: true, subtree: true, attributeFilter: ['data-ready'] });
  addEventListener('DOMContentLoaded', () => {
    new MutationObserver(() => {
      const { down } = seen;
      // What follows a frame's callbacks is its painting; a message comes after that.
      requestAnimationFrame(() => {
        const { port1, port2 } = new MessageChannel();
        port1.onmessage = () => {
          if (down === seen.down) note('paint', performance.now() - down);
        };
        port2.postMessage(null);
      });
    }).observe(document.querySelector('#log'), { childList: true });
  });
}

/** The value that `share` of them do not pass. */
function quantile(values, share) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.ceil(sorted.length * share) - 1)];
}

async function stamps(desk, first, count) {
  const paints = [],
    durables = [];
  for (let car = first; car < first + count; car++) {
    await desk.page.keyboard.type(String(car));
    await desk.page.keyboard.press('Enter');
    const { paint, durable } = await desk.page.evaluate(() => window.seen.both);
    paints.push(paint);
    durables.push(durable);
  }
  return { paints, durables };
}

const profile = new Profile();
const served = await Served.start(demoToday);
try {
  const context = await Desk.prepare(await profile.open());
  await context.addInitScript(watch);
  const key = served.addKey('--role', 'timekeeper', '--points', 'TC1');
  const desk = await Desk.open(context, served, { key });
  await desk.offlineReady();
  const { paints, durables } = await stamps(desk, 1, PRESSES);
  const session = await throttle(desk.page, { cpu: 6 });
  const slow = await stamps(desk, PRESSES + 1, SLOW_PRESSES);
  await session.send('Emulation.setCPUThrottlingRate', { rate: 1 });
  await desk.sent();
  const rows = inOrder(served.readings());
  const presses = await desk.page.evaluate(() =>
    window.test.presses.filter(({ key: name }) => name === 'Enter'),
  );
  const errors = presses.map(({ at }, i) => apart(rows[i], at));
  await desk.page.close();
  await served.stop();
  const boots = [];
  for (let i = 0; i < BOOTS; i++) {
    const again = await Desk.open(context, served, { settle: false });
    boots.push(await again.page.evaluate(() => window.seen.ready));
    await again.page.close();
  }
  console.log(
    JSON.stringify({
      paint: quantile(paints, 0.98),
      paintSlow: quantile(slow.paints, 0.98),
      durable: quantile(durables, 0.95),
      error: quantile(errors, 0.95),
      boot: quantile(boots, 0.5),
    }),
  );
} finally {
  await profile.end();
  await served.end();
}
