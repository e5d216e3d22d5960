// SPDX-License-Identifier: MIT
// The board says what has changed since the reader's last visit: exactly that, once it was a visit,
// without a jump, and nothing where there is nothing to say.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import {
  PageErrors,
  Served,
  axe,
  contextOf,
  events,
  keyboard,
  launch,
  legible,
  sideways,
  until,
} from '../support/setup.mjs';

const NOON = Date.UTC(2031, 4, 10, 12, 31); // in summer also the time of day in the event's zone
const SHIFT_MAX = 0.02; // of one update
const PHONE = { width: 390, height: 844 };

describe('what has changed since the last visit', { timeout: 400_000 }, () => {
  let browser, served;
  before(async () => {
    browser = await launch();
  });
  after(() => browser.close());

  /** An event of its own, since each test changes it, and a page on a clock that the test turns. */
  async function begin(
    t,
    { viewport = PHONE, pins = { own: 1, rivals: [3] }, refused = false } = {},
  ) {
    served = await Served.start(events.hostile);
    const context = await contextOf(browser, { viewport });
    t.after(async () => {
      await context.close();
      await served.end();
    });
    const page = await context.newPage();
    page.errors = new PageErrors(page);
    // From some time before, as it runs on until it is stopped.
    await page.clock.install({ time: NOON - 3_600_000 });
    await page.clock.pauseAt(NOON);
    await page.addInitScript(
      ([slug, kept, isRefused]) => {
        if (isRefused)
          Object.defineProperty(window, 'localStorage', {
            get() {
              throw new Error('refused');
            },
          });
        else if (location.protocol === 'http:')
          localStorage.setItem(`cairn-pins-${slug}`, JSON.stringify(kept));
        window.shifts = [];
        new PerformanceObserver((list) => {
          for (const e of list.getEntries()) if (!e.hadRecentInput) window.shifts.push(e.value);
        }).observe({ type: 'layout-shift', buffered: true });
      },
      [served.slug, pins, refused],
    );
    return page;
  }

  // The page's own clock stands still: what it would ask for again in some seconds, it is told to.
  const isConfirmed = (page) =>
    page.waitForFunction(() => {
      if (document.getElementById('age').textContent !== '') return true;
      dispatchEvent(new Event('online'));
      return false;
    });
  const isAt = (page, wanted) =>
    page.waitForFunction((n) => {
      if (document.getElementById('revision').textContent === n) return true;
      dispatchEvent(new Event('online'));
      return false;
    }, String(wanted));
  const revision = async () => (await (await fetch(served.api)).json()).revision;

  /** Opens the board, and waits until the server has said that it shows what there is. */
  const open = async (page, query = '?view=live') => {
    await page.goto(`${served.origin}/${served.slug}/${query}`);
    await isConfirmed(page);
  };
  /** Looks for some seconds, then goes away for some minutes. */
  const visit = (page, seconds = 5) => page.clock.runFor(seconds * 1000);
  const leave = async (page, minutes = 10) => {
    await page.goto('about:blank');
    await page.clock.fastForward(minutes * 60_000);
  };
  const isTold = (page) => page.locator('#since').isVisible();
  const line = (page) => page.locator('#since p').textContent();
  const items = (page) => page.locator('#since li').allTextContents();
  const shift = (page) => page.evaluate(() => window.shifts.reduce((a, b) => a + b, 0));
  const places = (page) =>
    page.$$eval('#board table.board tr[id]', (rows) =>
      Object.fromEntries(
        rows.map((tr) => [
          tr.id.slice(1),
          [Number(tr.cells[0].textContent.replace('=', '')), tr.cells[4].textContent],
        ]),
      ),
    );
  const cost = (now, then) => {
    const n = Math.round(now * 1000) - Math.round(then * 1000);
    return `${n > 0 ? '+' : ''}${(n / 1000).toFixed(3)}`;
  };

  /** Puts car 1 back and car 5 into the standings. */
  async function drive() {
    await served.ask('readings', [
      { point: 'S1/finish', car: 3, elapsed: '00:01:59.9' },
      { point: 'TC2', car: 1, time: '09:59' },
      { point: 'TC2', car: 5, time: '09:59' },
    ]);
    await served.ask('decisions', [
      { kind: 'penalty', car: 1, value: '100', reason: 'Unseen & "heard"' },
    ]);
  }

  test('is told exactly, own car and rivals first, and done away with by “seen”', async (t) => {
    const page = await begin(t);
    await open(page);
    assert.equal(await isTold(page), false);
    const was = await places(page);
    await visit(page);
    await leave(page);
    await drive();
    await open(page);
    const now = await places(page);
    assert.notDeepEqual(now, was);
    const moved = Object.keys(now).filter((car) => (was[car]?.[0] ?? 0) !== now[car][0]).length;
    assert.equal(
      await line(page),
      'Since 12:31: ' +
        `car 1 from place ${was[1][0]} to ${now[1][0]}, penalty ${cost(now[1][1], was[1][1])}, decision or correction; ` +
        `car 3 from place ${was[3][0]} to ${now[3][0]}, penalty ${cost(now[3][1], was[3][1])}; cars moved: ${moved}.`,
    );
    assert.ok((await shift(page)) <= SHIFT_MAX, `shifted by ${await shift(page)}`);

    await page.locator('#since summary').focus();
    await page.keyboard.press('Enter');
    await page.locator('#since li').first().waitFor();
    const told = await items(page);
    assert.equal(told.length, moved);
    assert.match(
      told[0],
      /^1 A\. Thorne \/ M\. Vale from place \d to \d, penalty \+\d+\.\d{3}, decision or correction$/,
    );
    assert.match(told[1], /^3 /);
    assert.match(told.at(-1), /^5 .* from place – to \d$/);

    await page.locator('#since button').focus();
    await page.keyboard.press('Enter');
    assert.deepEqual(
      await page.evaluate(() => [
        document.getElementById('since').offsetHeight,
        document.activeElement.tagName,
      ]),
      [0, 'H1'],
    );
    await leave(page, 1);
    await open(page);
    assert.equal(await isTold(page), false);

    await served.ask('decisions', [{ kind: 'penalty', car: 3, value: '1', reason: 'x' }]);
    await open(page);
    await page.locator('#since summary').click();
    assert.match(await line(page), /: car 3 .*penalty \+1\.000, decision or correction/);
    await page.locator('#since li a >> text=decision or correction').click();
    assert.match(page.url(), /\/cars\/3#decisions$/);
    assert.deepEqual(page.errors.take(), []);
  });

  test('is not told at a first visit, after a glance, for another view, or of what is hidden', async (t) => {
    const page = await begin(t);
    await open(page);
    await visit(page, 1);
    await leave(page);
    await drive();
    await open(page); // the glance before was no visit
    assert.equal(await isTold(page), false);
    await visit(page);
    await leave(page);
    await open(page, ''); // another view
    assert.equal(await isTold(page), false);
    await served.ask('readings', [{ point: 'R1/1', car: 1, time: '09:06:59' }]);
    await open(page); // nobody may know
    assert.equal(await isTold(page), false);
    assert.equal(await page.locator('html.changed').count(), 0);
    await served.ask('decisions', [{ kind: 'penalty', car: 2, value: '1', reason: 'x' }]);
    await open(page, '?view=live&q=calder'); // a search is no view
    assert.equal(await isTold(page), false);
    await open(page, '?view=live&lang=de'); // the language is
    assert.equal(await isTold(page), true);
    assert.match(await line(page), /^Seit 12:\d\d: (Autos bewegt|Platzwechsel|keine Änderung)/);
    assert.deepEqual(page.errors.take(), []);
  });

  test('is there again for whoever is soon back from a card, and new after some minutes', async (t) => {
    const page = await begin(t);
    await open(page);
    await visit(page);
    await leave(page);
    await drive();
    await open(page);
    const told = await line(page);
    await visit(page);
    await page.goto(`${served.origin}/${served.slug}/cars/1`);
    await page.clock.fastForward(60_000);
    await open(page);
    assert.equal(await line(page), told);
    await visit(page);
    await leave(page);
    await open(page);
    assert.equal(await isTold(page), false);
  });

  test('is told on coming back to a page that stayed open, without a jump, not before the reader’s eyes', async (t) => {
    const page = await begin(t);
    const hide = (hidden) =>
      page.evaluate((is) => {
        Object.defineProperty(document, 'visibilityState', {
          configurable: true,
          get: () => (is ? 'hidden' : 'visible'),
        });
        document.dispatchEvent(new Event('visibilitychange'));
      }, hidden);
    await open(page);
    await visit(page);
    await served.ask('readings', [{ point: 'TC2', car: 1, time: '09:41' }]);
    await isAt(page, await revision());
    assert.equal(await isTold(page), false);

    await hide(true);
    await page.clock.fastForward(600_000);
    await drive();
    await page.evaluate(() => {
      window.shifts.length = 0;
    });
    await hide(false);
    await isAt(page, await revision());
    await page.locator('#since').waitFor();
    assert.match(await line(page), /^Since 12:31: car 1 /);
    await page.waitForFunction(() => document.getAnimations().length === 0);
    assert.ok((await shift(page)) <= SHIFT_MAX, `shifted by ${await shift(page)}`);

    // While it stands it stays true.
    await served.ask('decisions', [{ kind: 'penalty', car: 1, value: '7', reason: 'x' }]);
    await isAt(page, await revision());
    const then = Object.fromEntries(
      (await page.evaluate(() => JSON.parse(localStorage.getItem('cairn-looks'))))[0].last.cars
        .split(',')
        .map((car) => car.split(' ').map(Number))
        .map(([car, , penalty]) => [car, penalty / 1000]),
    );
    assert.ok(
      (await line(page)).includes(`penalty ${cost((await places(page))[1][1], then[1])}, decision`),
      await line(page),
    );
    assert.deepEqual(page.errors.take(), []);
  });

  test('tells how final the results are and which tests are done', async (t) => {
    const page = await begin(t, { pins: { own: 0, rivals: [] } });
    await open(page);
    await visit(page);
    await leave(page);
    await served.ask('decisions', [
      { kind: 'cancel', point: 'S1', reason: 'x' },
      ...[1, 2].map((day) => ({ kind: 'close', point: `day:${day}`, reason: 'x' })),
    ]);
    await open(page);
    assert.match(
      await line(page),
      /; tests nearly all have done: [1-9] more, the last \w+; S1 cancelled for all; Results are provisional\.$/,
    );
  });

  test('is not told of a saved copy, which is no visit either', async (t) => {
    const page = await begin(t);
    const context = page.context();
    await open(page);
    await until(page, async () => {
      const store = await caches.open('cairn-board-1');
      return (
        (await store.keys()).length >= 4 &&
        (await store.match(location.href, { ignoreVary: true })) !== undefined
      );
    });
    await visit(page);
    await leave(page);
    await drive();
    await context.setOffline(true);
    await page.goto(`${served.origin}/${served.slug}/?view=live`);
    await page.waitForFunction(() => document.getElementById('status').textContent !== '');
    await visit(page);
    assert.equal(await isTold(page), false);
    await page.evaluate(() => {
      dispatchEvent(new Event('pagehide'));
    });
    await context.setOffline(false);
    await isAt(page, await revision());
    await page.locator('#since').waitFor();
    assert.match(await line(page), /^Since 12:31: car 1 from/);
  });

  test('finds a saved copy at every moment while a newer one is put in its place', async (t) => {
    const page = await begin(t);
    await open(page);
    assert.equal(
      await page.evaluate(async () => {
        const store = await caches.open('cairn-board-1');
        const { active } = await navigator.serviceWorker.ready;
        const isThere = async () =>
          (await store.match(location.href, { ignoreVary: true })) !== undefined;
        while (!(await isThere())) active.postMessage([location.href]);
        let missed = 0;
        for (let i = 0; i < 40; i++) {
          active.postMessage([location.href]);
          for (let k = 0; k < 20; k++) missed += !(await isThere());
        }
        return missed;
      }),
      0,
    );
  });

  test('is not told where nothing is kept', async (t) => {
    const page = await begin(t, { refused: true });
    await open(page);
    await visit(page);
    await leave(page);
    await drive();
    await open(page);
    assert.equal(await isTold(page), false);
    assert.deepEqual(page.errors.take(), []);
  });

  test('is legible, in its place and clean, in German at 320 px too', async (t) => {
    const page = await begin(t, { viewport: { width: 320, height: 568 } });
    await open(page, '?view=live&lang=de');
    await visit(page);
    await leave(page);
    await drive();
    await open(page, '?view=live&lang=de');
    assert.ok(await isTold(page));
    await page.locator('#since summary').click();
    await page.locator('#since li').first().waitFor();
    await page.clock.resume(); // axe waits on it
    const faults = [
      ...(await sideways(page)),
      ...(await legible(page)),
      ...(await keyboard(page, 16)),
    ];
    for (const colorScheme of ['light', 'dark']) {
      await page.emulateMedia({ colorScheme });
      faults.push(...(await axe(page)).faults);
    }
    assert.deepEqual(faults, []);
    await page.emulateMedia({ media: 'print' });
    assert.equal(await isTold(page), false);
  });
});
