// SPDX-License-Identifier: MIT
// The board with its script: it updates itself without jumping, not while a reader touches a row; it
// can be paused, searches, pins, keeps a copy for when the network is down, and loads few bytes.

import assert from 'node:assert/strict';
import { cpSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { after, before, describe, test } from 'node:test';
import {
  DEMO,
  PageErrors,
  Served,
  contextOf,
  csvRows,
  launch,
  sideways,
  throttle,
  until,
} from '../support/setup.mjs';

const NOON = Date.parse('2027-05-22T12:30:00+00:00');
const SHIFT_MAX = 0.02; // of one update
const HALF_HOUR = { ms: 30 * 60_000, step: 30_000, shift: 0.1 }; // a page's whole budget

function csvText(rows) {
  const cell = (text) => (/[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
  return [Object.keys(rows[0]), ...rows.map((row) => Object.values(row))]
    .map((row) => `${row.map(cell).join(',')}\n`)
    .join('');
}

/** What came after noon of the third day, by file. */
const later = {};

function noon(folder) {
  cpSync(DEMO, folder, { recursive: true });
  for (const name of ['readings', 'decisions']) {
    const file = path.join(folder, `${name}.csv`);
    const rows = csvRows(readFileSync(file, 'utf8'));
    const isEarly = (row) => Date.parse(row.at) <= NOON;
    writeFileSync(file, csvText(rows.filter(isEarly)));
    later[name] = rows
      .filter((row) => !isEarly(row))
      .sort((a, b) => Date.parse(a.at) - Date.parse(b.at));
  }
}

const filled = (row) => Object.fromEntries(Object.entries(row).filter(([, value]) => value !== ''));

describe('the board', { timeout: 400_000 }, () => {
  let browser, served;
  before(async () => {
    browser = await launch();
    served = await Served.start(noon);
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  /** The board in a context of its own; ends with the test. */
  async function open(t, { query = '', pins = null, viewport = { width: 390, height: 844 } } = {}) {
    const context = await contextOf(browser, { viewport });
    t.after(() => context.close());
    const page = await context.newPage();
    page.errors = new PageErrors(page);
    await page.addInitScript((kept) => {
      if (kept !== null && location.protocol === 'http:') {
        localStorage.setItem('cairn-pins-merrow-2027', JSON.stringify(kept));
      }
      window.shifts = [];
      new PerformanceObserver((list) => {
        for (const e of list.getEntries()) if (!e.hadRecentInput) window.shifts.push(e.value);
      }).observe({ type: 'layout-shift', buffered: true });
    }, pins);
    await page.goto(`${served.origin}/merrow-2027/${query}`, { waitUntil: 'load' });
    return page;
  }

  /** Sends the next `count` readings, and whatever was decided meanwhile. */
  async function drive(count) {
    const rows = later.readings.splice(0, count);
    const reached = Date.parse(rows.at(-1).at);
    await served.ask('readings', rows.map(filled));
    const due = later.decisions.filter((row) => Date.parse(row.at) <= reached);
    later.decisions.splice(0, due.length);
    if (due.length > 0) await served.ask('decisions', due.map(filled));
    return (await (await fetch(served.api)).json()).revision;
  }

  const revision = (page) => page.textContent('#revision');
  const isAt = (page, wanted) =>
    page.waitForFunction(
      (n) => document.getElementById('revision').textContent === n,
      String(wanted),
    );
  /** Asks now instead of in some seconds. */
  const look = (page) => page.evaluate(() => dispatchEvent(new Event('online')));
  const rows = (page) =>
    page.$$eval('#board table.board > tbody > tr', (all) =>
      all.map((tr) => [...tr.cells].map((cell) => cell.textContent)),
    );

  /** What the server itself writes at this address now. */
  async function written(page, query = '') {
    const fresh = await page.context().newPage();
    await fresh.goto(`${served.origin}/merrow-2027/${query}`);
    const told = await rows(fresh);
    await fresh.close();
    return told;
  }

  test('half an hour of updates, as they came, shifts the page by less than its whole budget', async (t) => {
    const page = await open(t, { query: '?view=live' });
    let updates = 0;
    for (let at = NOON; at <= NOON + HALF_HOUR.ms; at += HALF_HOUR.step) {
      const count = later.readings.filter((row) => Date.parse(row.at) <= at).length;
      if (count === 0) continue;
      const before = await revision(page);
      const now = await drive(count);
      if (before === String(now)) continue; // only what is hidden came in
      await look(page);
      await isAt(page, now);
      updates++;
    }
    assert.ok(updates >= 20, `${updates} updates`);
    const shift = await page.evaluate(
      () =>
        new Promise((resolve) => {
          requestAnimationFrame(() =>
            setTimeout(() => resolve(window.shifts.reduce((a, b) => a + b, 0)), 200),
          );
        }),
    );
    assert.ok(shift < HALF_HOUR.shift, `shifted by ${shift} in ${updates} updates`);
    assert.deepEqual(await rows(page), await written(page, '?view=live'));
  });

  test('renews itself to what the server would write, without a jump', async (t) => {
    for (const query of ['?view=live', '']) {
      const page = await open(t, { query });
      for (let i = 0; i < 3; i++) {
        const now = await drive(60);
        await page.evaluate(() => {
          window.shifts.length = 0;
        });
        await look(page);
        await isAt(page, now);
        await page.waitForTimeout(500);
        assert.deepEqual(await rows(page), await written(page, query));
        const shift = await page.evaluate(() => window.shifts.reduce((a, b) => a + b, 0));
        assert.ok(shift <= SHIFT_MAX, `${query}: shifted by ${shift}`);
      }
      assert.deepEqual(page.errors.take(), []);
    }
  });

  test('renews itself by the stream once that is chosen', async (t) => {
    const page = await open(t);
    await page.click('.more summary');
    await page.click('#stream');
    await page.waitForTimeout(300);
    await isAt(page, await drive(20));
  });

  test('waits while a row has the focus, and says so', async (t) => {
    const page = await open(t, { query: '?view=live' });
    const before = await rows(page);
    await page.focus('#board tbody tr:nth-child(3) a');
    const now = await drive(80);
    await look(page);
    await page.waitForSelector('#held:not([hidden])');
    assert.deepEqual(await rows(page), before);
    assert.match(await page.textContent('#held'), /^\d+ new results?, show$/);
    await page.click('#held');
    await isAt(page, now);
    assert.deepEqual(await rows(page), await written(page, '?view=live'));
    assert.ok(await page.isHidden('#held'));
  });

  test('stands still while it is paused', async (t) => {
    const page = await open(t);
    await page.click('.more summary');
    await page.click('#pause');
    const before = await revision(page);
    const now = await drive(20);
    await look(page);
    await page.waitForTimeout(400);
    assert.equal(await revision(page), before);
    assert.equal(await page.textContent('#pause'), 'Go on updating');
    await page.click('#pause');
    await isAt(page, now);
  });

  test('stands in the order of any column, by keyboard, also while it is renewed', async (t) => {
    const page = await open(t, { query: '?view=live' });
    const official = await rows(page);
    const head = (name) =>
      page
        .locator('#board table.board')
        .first()
        .locator('thead th')
        .filter({ hasText: new RegExp(`^${name}$`) });
    const press = async (name) => {
      await head(name).locator('button').focus();
      await page.keyboard.press('Enter');
    };
    const column = async (i) => (await rows(page)).slice(0, official.length).map((row) => row[i]);
    const sortOf = (name) => head(name).getAttribute('aria-sort');
    const numbers = official.map((row) => Number(row[2]));

    await press('Car');
    assert.equal(await sortOf('Car'), 'ascending');
    assert.deepEqual(
      (await column(2)).map(Number),
      [...numbers].sort((a, b) => a - b),
    );
    await press('Car');
    assert.equal(await sortOf('Car'), 'descending');
    assert.deepEqual(
      (await column(2)).map(Number),
      [...numbers].sort((a, b) => b - a),
    );

    // Equal places by era stay in the official order; where there is none it stands last.
    await press('Era');
    assert.equal(await sortOf('Car'), null);
    const eras = await column(7);
    const filledOnes = eras.filter((text) => text !== '');
    assert.deepEqual(eras.slice(0, filledOnes.length), filledOnes);
    assert.deepEqual(
      filledOnes,
      [...filledOnes].sort(new Intl.Collator('en', { numeric: true }).compare),
    );

    // New results come into the chosen order.
    await press('Car');
    const now = await drive(60);
    await look(page);
    await isAt(page, now);
    const ordered = (await column(2)).map(Number);
    assert.deepEqual(
      ordered,
      [...ordered].sort((a, b) => a - b),
    );
    assert.deepEqual(
      (await rows(page)).map(String).sort(),
      (await written(page, '?view=live')).map(String).sort(),
    );

    await press('Car');
    await press('Car');
    assert.equal(await sortOf('Car'), null);
    assert.deepEqual(await rows(page), await written(page, '?view=live'));
    assert.deepEqual(page.errors.take(), []);
  });

  test('names its columns on paper too', async (t) => {
    const page = await open(t);
    await page.waitForSelector('#board thead button');
    const names = () =>
      page
        .locator('#board table.board')
        .first()
        .locator('thead th')
        .evaluateAll((heads) => heads.map((head) => head.innerText.trim()));
    const wanted = await names();
    await page.emulateMedia({ media: 'print' });
    assert.deepEqual(await names(), wanted);
    assert.ok(wanted.includes('Penalty'), wanted.join());
  });

  test('writes the name of an era in one line', async (t) => {
    for (const width of [1280, 390]) {
      const page = await open(t, { query: 'tests/R5', viewport: { width, height: 844 } });
      const heights = await page.$$eval('.leaders tbody tr > :first-child', (cells) =>
        cells.map((cell) => {
          const range = document.createRange();
          range.selectNodeContents(cell);
          return new Set([...range.getClientRects()].map((rect) => rect.top)).size;
        }),
      );
      assert.ok(heights.length > 10, `${heights.length} eras`);
      assert.deepEqual(new Set(heights), new Set([1]), `at ${width}`);
    }
  });

  test('finds while one types', async (t) => {
    const page = await open(t);
    const seen = () =>
      page.$$eval('#board tbody tr', (all) => all.filter((tr) => !tr.hidden).map((tr) => tr.id));
    await page.fill('#q', '91');
    assert.deepEqual(await seen(), ['n91']);
    await page.fill('#q', 'brandolesi');
    const found = await seen();
    assert.ok(found.includes('n91') && found.length < 10, found.join());
    await page.fill('#q', 'nobodyofthatname');
    assert.deepEqual(await seen(), []);
    assert.equal(await page.textContent('#status'), 'No car fits.');
    await page.fill('#q', '');
    assert.ok((await seen()).length > 150);
  });

  test('keeps a car and its rivals, and compares them', async (t) => {
    const page = await open(t);
    for (const [car, kind] of [
      [91, 'own'],
      [75, 'rival'],
    ]) {
      await page.goto(`${served.origin}/merrow-2027/cars/${car}`);
      await page.click(`[data-pin=${kind}]`);
    }
    await page.goto(`${served.origin}/merrow-2027/`);
    const pinned = await page.$$eval('#pins tbody tr', (all) =>
      all.map((tr) => [tr.className, tr.querySelector('.no').textContent]),
    );
    assert.deepEqual(pinned, [
      ['own', '91'],
      ['', '75'],
    ]);
    await page.click('#rivals');
    assert.equal(new URL(page.url()).searchParams.get('cars'), '91,75');
    assert.match(await page.textContent('.sentences'), /ahead of car/);
    await page.goto(`${served.origin}/merrow-2027/cars/91`);
    await page.click('[data-pin=own]');
    await page.goto(`${served.origin}/merrow-2027/`);
    assert.equal(await page.$$eval('#pins tbody tr', (all) => all.length), 1);
  });

  test('a rival without a place stands among them, with what it lacks one for', async (t) => {
    const rival = await (
      await open(t, { query: '?view=live' })
    ).$eval('#board .others:not(.pending) tr[id]', (tr) => [
      Number(tr.id.slice(1)),
      ...['th a', 'td:nth-child(3)', 'td:last-child'].map((of) => tr.querySelector(of).textContent),
    ]);
    const [car, crew, penalty, why] = rival;
    const page = await open(t, { query: '?view=live', pins: { own: 91, rivals: [car] } });
    const pinned = await page.$$eval('#pins tbody tr', (all) =>
      all.map((tr) => [...tr.cells].map((cell) => (cell.querySelector('a') ?? cell).textContent)),
    );
    assert.equal(pinned.length, 2);
    assert.equal(pinned[0][2], '91');
    assert.deepEqual(pinned[1], ['', '', String(car), crew, penalty, '', '', '', why]);
    assert.match(await page.getAttribute('#rivals', 'href'), new RegExp(`cars=91,${car}$`));
    // The room kept for them before they come is what they take, on a laptop too.
    await page.setViewportSize({ width: 1280, height: 900 });
    const [kept, needed] = await page.$eval('#pins', (pins) => {
      const height = pins.offsetHeight;
      pins.style.minHeight = '0';
      return [height, pins.offsetHeight];
    });
    assert.ok(kept - needed < 16, `${kept} px are kept for ${needed}`);
  });

  test('cuts off no figure of a card with hundredths on a narrow phone', async (t) => {
    const page = await open(t, { viewport: { width: 360, height: 780 } });
    for (const lang of ['en', 'de', 'fr', 'it']) {
      await page.goto(`${served.origin}/merrow-2027/cars/91?lang=${lang}`);
      const cards = await page.$$eval('.scroll:has(.card)', (all) =>
        all.map((one) => [
          one.scrollWidth - one.clientWidth,
          /:\d\d[.,]\d\d/.test(one.textContent),
        ]),
      );
      assert.ok(cards.some(([, hundredths]) => hundredths));
      assert.deepEqual(
        cards.filter(([over]) => over > 0),
        [],
        lang,
      );
    }
  });

  test('breaks no word of head to head on a phone, and does not scroll sideways', async (t) => {
    const context = await contextOf(browser, { viewport: { width: 320, height: 844 } });
    t.after(() => context.close());
    const page = await context.newPage();
    for (const lang of ['en', 'de', 'fr', 'it']) {
      await page.goto(`${served.origin}/merrow-2027/compare?cars=91,3,73&lang=${lang}`);
      const broken = await page.$$eval('.versus th, .versus td:nth-child(3)', (cells) =>
        cells
          .filter((cell) => !/\s/.test(cell.textContent.trim()))
          .filter((cell) => {
            const range = document.createRange();
            range.selectNodeContents(cell);
            return new Set([...range.getClientRects()].map((rect) => rect.top)).size > 1;
          })
          .map((cell) => cell.textContent),
      );
      assert.deepEqual(broken, [], lang);
      assert.deepEqual(await sideways(page), [], lang);
    }
  });

  test('shows its saved copy when the network is gone, with its age', async (t) => {
    const page = await open(t);
    await until(page, async () => {
      const store = await caches.open('cairn-board-1');
      return (
        (await store.keys()).length >= 4 &&
        (await store.match(location.href, { ignoreVary: true })) !== undefined
      );
    });
    await page.evaluate(async () => {
      await navigator.serviceWorker.ready;
    });
    const before = await rows(page);
    await page.context().setOffline(true);
    await page.reload();
    assert.deepEqual(await rows(page), before);
    await page.waitForFunction(() => document.getElementById('status').textContent !== '');
    assert.match(
      await page.textContent('#status'),
      /^No connection\. Saved copy of .*\d\d:\d\d:\d\d\.$/,
    );
    await page.context().setOffline(false);
  });

  test('is dark or light as chosen by hand, also the next time', async (t) => {
    const page = await open(t);
    const shade = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
    const light = await shade();
    await page.click('#theme');
    const dark = await shade();
    assert.notEqual(dark, light);
    await page.reload();
    assert.equal(await shade(), dark);
  });

  test('asks for four files at most before it is read', async (t) => {
    const page = await open(t, { query: 'notices' });
    const session = await throttle(page, { cpu: 4, latency: 400, kbit: 400 });
    await session.send('Network.setCacheDisabled', { cacheDisabled: true });
    await session.send('Network.setBypassServiceWorker', { bypass: true });
    for (const address of ['', 'cars/91', 'compare?cars=75,91', 'tests/S1']) {
      await page.goto(`${served.origin}/merrow-2027/${address}`, { waitUntil: 'load' });
      const painted = await page.evaluate(
        () =>
          new Promise((resolve) => {
            new PerformanceObserver((list) => resolve(list.getEntries().at(-1).startTime)).observe({
              type: 'largest-contentful-paint',
              buffered: true,
            });
            setTimeout(resolve, 20_000, NaN);
          }),
      );
      t.diagnostic(
        `${address || 'the board'}: largest paint after ${Math.round(painted)} ms at ` +
          '400 ms, 400 kbit/s and a quarter of the speed',
      );
      const loaded = await page.evaluate(
        () =>
          performance
            .getEntriesByType('resource')
            .filter((e) => e.initiatorType !== 'fetch' && !e.name.startsWith('data:')).length,
      );
      assert.ok(loaded + 1 <= 4, `${address}: ${loaded + 1} requests`);
    }
  });
});
