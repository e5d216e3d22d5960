// SPDX-License-Identifier: MIT
// A connection that breaks without notice: no page waits for ever, each says that it is not current,
// and goes on by itself once the network is back. The page's clock is moved by the test.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import {
  PageErrors,
  Served,
  axe,
  contextOf,
  events,
  launch,
  legible,
  sideways,
  until,
} from '../support/setup.mjs';
import { FlakyProxy } from '../support/flaky_proxy.mjs';

const ABORTED = [/ERR_ABORTED/, /ERR_CONNECTION/, /ERR_EMPTY_RESPONSE/];

describe('a line that goes silent', { timeout: 400_000 }, () => {
  let browser, served;

  before(async () => {
    served = await Served.start(events.hostile);
    browser = await launch();
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  /** A page of the event through a proxy of its own, whose clock is the test's. */
  async function open(
    t,
    address,
    { viewport = { width: 820, height: 1180 }, serviceWorkers = 'block' } = {},
  ) {
    const proxy = await FlakyProxy.to(served);
    t.after(() => proxy.end());
    const context = await contextOf(browser, { viewport, serviceWorkers });
    t.after(() => context.close());
    const page = await context.newPage();
    page.errors = new PageErrors(page, ABORTED);
    await page.clock.install();
    await page.goto(`${proxy.origin}/${served.slug}/${address}`);
    return { page, proxy };
  }

  const asked = async (holds) => {
    for (const end = Date.now() + 60_000; !holds();) {
      assert.ok(Date.now() < end, 'the page asks for nothing');
      await new Promise((resolve) => {
        setTimeout(resolve, 20);
      });
    }
  };

  /** From now on nothing comes back; puts the clock forward until `ms` are over and a question is
   *  on its way. */
  async function silence(page, proxy, fate, ms) {
    const before = proxy.seen.length;
    proxy.fate = () => fate;
    await page.clock.fastForward(ms);
    await asked(() => proxy.seen.length > before);
  }

  const state = (page) => page.textContent('#state');
  const section = (page, name) =>
    page.waitForSelector(`html[data-section="${name}"] section#${name}`);
  const overtaken = (page) => page.waitForSelector('html[data-overtaken]');
  const current = (page) =>
    page.waitForSelector('html:not([data-overtaken]) #warn:empty', { state: 'attached' });

  for (const [fate, limit] of [
    ['hush', 21_000],
    ['half', 61_000],
  ]) {
    test(`the control room says so and catches up (${fate})`, async (t) => {
      const { page, proxy } = await open(t, `office#${served.organiser}`);
      await section(page, 'room');
      assert.match(await state(page), /^The office\. Results are /);
      const head = page.waitForResponse(/events/).catch(() => null);
      await silence(page, proxy, fate, 11_000);
      assert.equal(await page.getAttribute('html', 'data-overtaken'), null);
      if (fate === 'half') await head;
      await page.clock.fastForward(limit);
      await overtaken(page);
      assert.match(
        await state(page),
        /^Not current: nothing was heard from the server since \d\d:\d\d:\d\d\. Trying again\.$/,
      );
      assert.equal(
        await page.textContent('#warn'),
        'The server does not answer. Nothing was changed.',
      );
      assert.deepEqual((await axe(page, { colours: true })).faults, []);
      assert.deepEqual(await legible(page), []);
      assert.deepEqual(await sideways(page), []);
      const { revision } = await served.ask('readings', [
        { point: 'PC1', car: 8, id: `while-silent-${fate}` },
      ]);
      proxy.mend();
      await page.clock.fastForward(11_000);
      await current(page);
      await page.waitForFunction(
        (wanted) => document.getElementById('state').textContent.endsWith(`revision ${wanted}.`),
        revision,
      );
      assert.deepEqual(page.errors.take(), []);
    });
  }

  test('a section that was asked for in vain is drawn when the line is back', async (t) => {
    const { page, proxy } = await open(t, `office#${served.organiser}`);
    await section(page, 'room');
    proxy.fate = () => 'hush';
    const before = proxy.seen.length;
    await page.locator('#sections a[href="#machine"]').press('Enter');
    await asked(() => proxy.seen.length > before);
    await page.clock.fastForward(21_000);
    await overtaken(page);
    proxy.mend();
    await page.clock.fastForward(11_000);
    await section(page, 'machine');
    await current(page);
  });

  test('nothing is drawn over somebody who went on working meanwhile', async (t) => {
    const { page, proxy } = await open(t, `office#${served.organiser}`);
    await section(page, 'room');
    await page.locator('#sections a[href="#keys"]').press('Enter');
    await section(page, 'keys');
    proxy.fate = () => 'hush';
    const before = proxy.seen.length;
    await page.locator('#sections a[href="#machine"]').press('Enter');
    await asked(() => proxy.seen.length > before);
    await page.clock.fastForward(21_000);
    await overtaken(page);
    await page.getByLabel('Whose', { exact: true }).fill('A. Late');
    proxy.mend();
    const seen = proxy.seen.length;
    await page.clock.fastForward(11_000);
    assert.equal(await page.getByLabel('Whose', { exact: true }).inputValue(), 'A. Late');
    assert.equal(proxy.seen.length, seen);
    await page.locator('#by').focus();
    await page.clock.fastForward(11_000);
    await section(page, 'machine');
  });

  test('a write that nobody answers is told as what it is', async (t) => {
    const { page, proxy } = await open(t, `office#${served.organiser}`);
    await section(page, 'room');
    await page.locator('#sections a[href="#keys"]').press('Enter');
    await section(page, 'keys');
    await page.getByLabel('For', { exact: true }).selectOption('organiser');
    proxy.fate = ({ method }) => (method === 'POST' ? 'hush' : 'pass');
    const posts = () => proxy.seen.filter(({ method }) => method === 'POST').length;
    await page.getByText('Make the key', { exact: true }).click();
    await asked(() => posts() > 0);
    await page.clock.fastForward(21_000);
    await page.waitForSelector(
      '.faults >> text=No answer came from the server, so nobody can tell whether this was kept.',
    );
  });

  test('the board says that it is old, and renews itself', async (t) => {
    const { page, proxy } = await open(t, '', { viewport: { width: 390, height: 844 } });
    await page.waitForSelector('#live:not([hidden])', { state: 'attached' });
    for (let i = 0; i < 2; i++) {
      await silence(page, proxy, i ? 'half' : 'hush', 20_000);
      await page.clock.fastForward(31_000);
    }
    const offline = await page.getAttribute('#status', 'data-offline');
    await page.waitForFunction(
      (words) => document.getElementById('status').textContent.startsWith(words),
      offline.split('{0}')[0],
    );
    const { revision } = await served.ask('readings', [
      { point: 'PC1', car: 9, id: 'while-silent-board' },
    ]);
    assert.ok(revision > 0);
    const wanted = String((await (await fetch(served.api)).json()).revision);
    proxy.mend();
    await page.clock.fastForward(20_000);
    await page.waitForFunction(
      (n) => document.getElementById('revision').textContent === n,
      wanted,
    );
    assert.deepEqual(page.errors.take(), []);
  });

  test('a saved copy of the board is not taken for what is new', async (t) => {
    const { page, proxy } = await open(t, '', { serviceWorkers: 'allow' });
    await until(page, async () => {
      const store = await caches.open('cairn-board-1');
      return (await store.match(location.href, { ignoreVary: true })) !== undefined;
    });
    await page.evaluate(async () => {
      await navigator.serviceWorker.ready;
    });
    await page.reload();
    // What it asks for as it comes is answered.
    await page.waitForFunction(() => document.getElementById('age').textContent !== '');
    // A new order of the cars: the page is wanted whole, and for once does not come.
    await served.ask('readings', [
      { point: 'TC2', car: 1, time: '09:59' },
      { point: 'TC2', car: 5, time: '09:59' },
    ]);
    const wanted = String((await (await fetch(served.api)).json()).revision);
    proxy.fate = ({ path }) => (path.startsWith('/api/') ? 'pass' : 'cut');
    await page.clock.fastForward(20_000);
    await asked(() =>
      proxy.seen.some(({ path, status }) => !path.startsWith('/api/') && status === null),
    );
    proxy.mend();
    await page.clock.fastForward(20_000);
    await page.waitForFunction((n) => {
      if (document.getElementById('revision').textContent === n) return true;
      dispatchEvent(new Event('online'));
      return false;
    }, wanted);
  });

  test('the big screen goes on by itself', async (t) => {
    const { page, proxy } = await open(t, 'screen');
    await page.waitForSelector('#turn:not([hidden])', { state: 'attached' });
    await silence(page, proxy, 'hush', 11_000);
    await page.clock.fastForward(31_000);
    const { length } = proxy.seen;
    proxy.mend();
    await page.clock.fastForward(11_000);
    await page.waitForFunction(() => /^1–/.test(document.getElementById('sheet').textContent));
    await asked(() => proxy.seen.slice(length).some(({ status }) => status === 200));
  });
});
