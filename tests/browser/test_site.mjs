// SPDX-License-Identifier: MIT
// The static site as a browser meets it: valid pages, whole without a script, and a board that
// renews itself from the files beside it.

import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { readFileSync, readdirSync, statSync } from 'node:fs';
import { createServer } from 'node:http';
import path from 'node:path';
import { after, before, describe, test } from 'node:test';
import { createInterface } from 'node:readline';
import {
  CAIRN,
  PageErrors,
  Served,
  cairn,
  contextOf,
  events,
  inline,
  launch,
} from '../support/setup.mjs';
import { faultsOf } from '../support/html.mjs';

const SLUG = 'gannet-2031';
const BELOW = '/results/2031'; // the site stands below a path
const KINDS = {
  '.html': 'text/html; charset=utf-8',
  '.css': 'text/css',
  '.js': 'text/javascript',
  '.json': 'application/json',
  '.csv': 'text/csv',
};

/** A host that knows nothing but files and index.html. */
function host(root) {
  const server = createServer((request, response) => {
    const asked = new URL(request.url, 'http://host').pathname;
    let file = path.join(root, decodeURIComponent(asked.slice(BELOW.length)));
    try {
      if (!asked.startsWith(`${BELOW}/`)) throw new Error('outside');
      if (statSync(file).isDirectory()) file = path.join(file, 'index.html');
      const body = readFileSync(file);
      response.writeHead(200, { 'Content-Type': KINDS[path.extname(file)] }).end(body);
    } catch {
      response.writeHead(404).end();
    }
  });
  return new Promise((resolve) => {
    server.listen(0, '127.0.0.1', () => resolve(server));
  });
}

describe('the static site', { timeout: 400_000 }, () => {
  let browser, served, site, server, origin;
  before(async () => {
    browser = await launch();
    served = await Served.start(events.hostile);
    site = path.join(served.folder, 'site');
    cairn('publish', served.data, SLUG, site);
    server = await host(site);
    origin = `http://127.0.0.1:${server.address().port}${BELOW}`;
  });
  after(async () => {
    await browser.close();
    server.close();
    await served.end();
  });

  async function open(t, address, settings = {}) {
    const context = await contextOf(browser, {
      viewport: { width: 390, height: 844 },
      ...settings,
    });
    t.after(() => context.close());
    const page = await context.newPage();
    page.errors = new PageErrors(page);
    await page.goto(`${origin}/${address}`, { waitUntil: 'load' });
    return page;
  }

  test('is valid HTML without a script or style of its own', async () => {
    const pages = readdirSync(site, { recursive: true }).filter((name) => name.endsWith('.html'));
    // One of each kind, in one language.
    const some = pages.filter((name) => !/lang-(de|it|fr)|cars\/[2-9]|after-T1/.test(name));
    assert.ok(some.length > 20, some.join(' '));
    const faults = [];
    for (const name of some) {
      const source = readFileSync(path.join(site, name), 'utf8');
      faults.push(
        ...(await faultsOf({ address: name, source })),
        ...inline(source).map((fault) => `${name}: ${fault}`),
      );
    }
    assert.deepEqual(faults.slice(0, 20), []);
  });

  test('leads by links alone from the list of events to a card in German', async (t) => {
    const page = await open(t, '', { javaScriptEnabled: false });
    await page.click('.events a');
    assert.equal(await page.isVisible('#q'), false);
    await page.click('summary');
    await page.click('#main details a >> text=C');
    await page.click('#board tbody a >> nth=0');
    await page.click('.languages a[hreflang=de]');
    assert.equal(await page.getAttribute('html', 'lang'), 'de');
    assert.match(page.url(), new RegExp(`${BELOW}/${SLUG}/cars/\\d+/lang-de/index\\.html$`));
    assert.ok(await page.isVisible('table.card'));
  });

  test('finds on the board while one types', async (t) => {
    const page = await open(t, `${SLUG}/`);
    await page.fill('#q', 'Quill');
    assert.deepEqual(
      await page.locator('#board tr[id]:visible').evaluateAll((rows) => rows.map((tr) => tr.id)),
      ['n5'],
    );
    assert.deepEqual(page.errors.found, []);
  });

  test('renews its board from the files beside it', async (t) => {
    const watch = spawn(CAIRN, ['publish', served.data, SLUG, site, '--watch'], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    const ended = once(watch, 'exit');
    t.after(() => {
      // before its folder goes
      watch.kill();
      return ended;
    });
    const lines = createInterface(watch.stdout)[Symbol.asyncIterator]();
    await lines.next();
    const page = await open(t, `${SLUG}/view-live/`);
    assert.equal(await page.isVisible('#stream'), false);
    const { revision } = await served.ask('readings', [{ point: 'TC1', car: 5, time: '08:53:00' }]);
    assert.ok(revision > 0);
    const { value } = await lines.next();
    const told = /^revision (\d+):/.exec(value)[1];
    await page.evaluate(() => document.dispatchEvent(new Event('visibilitychange')));
    await page.waitForFunction((n) => document.getElementById('revision').textContent === n, told);
    assert.match(await page.textContent('#n5'), /TC1/);
    assert.deepEqual(page.errors.found, []);
  });

  test('says what has changed since the last look', async (t) => {
    const page = await open(t, `${SLUG}/view-live/`);
    await page.evaluate(() => {
      localStorage.setItem('cairn-pins-gannet-2031', '{"own":3}');
    });
    await page.clock.install({ time: Date.UTC(2031, 4, 10, 12, 31) }); // far from midnight
    await page.reload();
    await page.evaluate(() => {
      dispatchEvent(new Event('online'));
    });
    await page.waitForFunction(() => document.getElementById('age').textContent !== '');
    await page.clock.runFor(5000);
    await page.goto('about:blank');
    await served.ask('decisions', [{ kind: 'penalty', car: 3, value: '7.5', reason: 'x' }]);
    cairn('publish', served.data, SLUG, site);
    await page.goto(`${origin}/${SLUG}/view-live/`);
    await page.locator('#since').waitFor();
    assert.match(
      await page.textContent('#since p'),
      /^Since \d\d:\d\d: car 3 (from place \d to \d, )?penalty \+7\.500, decision or correction/,
    );
    await page.click('#since summary');
    await page.click('#since li a >> text=decision or correction');
    assert.match(page.url(), /cars\/3\/index\.html#decisions$/);
    assert.deepEqual(page.errors.found, []);
  });
});
