// SPDX-License-Identifier: MIT
// How the desk looks and sounds, its touch targets, its texts, and the bytes that it loads.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { after, before, describe, test } from 'node:test';
import { gzipSync } from 'node:zlib';
import {
  Profile,
  ROOT,
  Served,
  axe,
  enlarge,
  faint,
  inline,
  keyboard,
  legible,
  sideways,
  throttle,
} from '../support/setup.mjs';
import { Desk, roadside } from '../support/desk.mjs';
import { faultsOf } from '../support/html.mjs';
import { FlakyProxy } from '../support/flaky_proxy.mjs';

const WEB = path.join(ROOT, 'web');
const BUDGET = 40 * 1024; // what a desk loads to start, as gzip -9 makes it
const SELDOM = 20 * 1024; // what is seldom used
const VERSION = '0123456789abcdef';
const READING = 400; // bytes sent for one reading

describe('the desk', { timeout: 400_000 }, () => {
  const profile = new Profile();
  let context, served, proxy, desk, page, files;

  before(async () => {
    context = await Desk.prepare(await profile.open());
    served = await Served.start(roadside);
    proxy = await FlakyProxy.to(served);
    const key = served.addKey('--role', 'timekeeper', '--points', 'TC1,S1,L1');
    desk = await Desk.open(context, served, { origin: proxy.origin, key, allow: [/ERR_|net::/] });
    ({ page } = desk);
    files = await filesOf();
  });
  after(async () => {
    await profile.end();
    await proxy.end();
    await served.end();
  });

  /** The page, its worker and all that the worker keeps, as {path, text}. */
  async function filesOf() {
    const get = async (name) => {
      const answer = await fetch(new URL(name, served.origin));
      assert.equal(answer.status, 200, name);
      return { path: name, text: await answer.text(), headers: answer.headers };
    };
    const shell = await get(`/${served.slug}/control`);
    const worker = await get(`/${served.slug}/worker.js`);
    const paths = [...new Set(worker.text.match(/\/_\/[0-9a-f]{16}\/[\w.-]+/g))];
    return [shell, worker, ...(await Promise.all(paths.map(get)))];
  }

  test('every file is on the list of what is kept, each for good under its version', async () => {
    const listed = new Set(files.map((file) => file.path));
    const asked = proxy.seen.filter((it) => it.method === 'GET' && it.path.startsWith('/_/'));
    assert.ok(asked.length >= 2);
    for (const it of asked) assert.ok(listed.has(it.path), `${it.path} is not kept`);
    for (const file of files.slice(2)) {
      assert.match(file.headers.get('cache-control'), /max-age=31536000, immutable/, file.path);
    }
    assert.match(files[1].headers.get('cache-control'), /no-cache|max-age=0/);
    const other = await fetch(new URL(files[0].path, served.origin), {
      headers: { Authorization: `Bearer ${served.organiser}` },
    });
    assert.equal(await other.text(), files[0].text, 'the shell is the same for everybody');
  });

  /** The bytes of files on the line, told one by one. */
  function packed(t, some) {
    // Any change of any page makes another version, whose signs pack to some bytes more or less.
    const [, version] = /\/_\/([0-9a-f]{16})\//.exec(files[1].text);
    const sizes = some.map(({ path: name, text }) => [
      gzipSync(text.replaceAll(version, VERSION), { level: 9 }).length,
      name,
    ]);
    for (const [size, name] of sizes.sort((a, b) => b[0] - a[0])) t.diagnostic(`${size} ${name}`);
    const sum = sizes.reduce((a, [size]) => a + size, 0);
    t.diagnostic(`${sum} bytes`);
    return { sum, sizes };
  }

  test('what it starts with is at most 40 KB on the line, in whatever language', (t) => {
    const words = files.filter((file) => /\/words-\w+\.js$/.test(file.path));
    const [[language]] = packed(t, words).sizes;
    const start = files.filter((file) => !/\/(?:seldom|words-\w+)\.js$/.test(file.path));
    assert.deepEqual(
      start.slice(2).map((file) => file.path.split('/').at(-1)),
      ['desk.css', 'desk.js', 'old-browser.js'],
    );
    const { sum } = packed(t, start);
    assert.ok(sum + language <= BUDGET, `${sum} + ${language} bytes`);
    const seldom = files.filter((file) => file.path.endsWith('/seldom.js'));
    assert.equal(seldom.length, 1);
    assert.ok(packed(t, seldom).sum <= SELDOM);
  });

  test('the shell has no script and no style of its own, and says what to do without', () => {
    const [{ text }] = files;
    assert.deepEqual(inline(text), []);
    assert.equal(text.match(/<noscript>[^]*?<\/noscript>/)[0].match(/cairn send/g).length, 4);
  });

  test('filled in, it is valid HTML', async () => {
    const source = `${await page.content()}\n`;
    assert.deepEqual(await faultsOf({ address: 'control', source }), []);
  });

  test('a reading costs at most 400 bytes on the line', async () => {
    const before = proxy.uploads().length;
    for (let car = 1; car <= 12; car++) {
      await desk.stamp(car);
      await desk.kept(car);
      if (car % 3 === 0) await desk.sent();
    }
    const uploads = proxy.uploads().slice(before);
    const readings = uploads.reduce((n, { bodies }) => n + bodies.length, 0);
    const bytes = uploads.reduce((n, upload) => n + upload.bytes, 0);
    assert.equal(readings, 12);
    assert.ok(bytes / readings <= READING, `${bytes / readings} bytes each`);
  });

  test('what was done is said aloud; digits and the clock are not', async () => {
    await page.evaluate(() => {
      window.aloud = [];
      new MutationObserver(() =>
        window.aloud.push(document.querySelector('#say').innerText),
      ).observe(document.querySelector('#say'), {
        childList: true,
        characterData: true,
        subtree: true,
      });
    });
    await page.keyboard.type('14');
    await page.waitForTimeout(1200); // the clock has moved on
    assert.deepEqual(await page.evaluate(() => window.aloud), []);
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => window.aloud.length > 0);
    assert.match((await page.evaluate(() => window.aloud)).at(-1), /^14 .*\d\d:\d\d:\d\d/);
    assert.equal(await page.getAttribute('#say', 'role'), 'status');
    assert.equal(await page.getAttribute('#warn', 'role'), 'alert');
    assert.equal(
      await page
        .locator('#clock')
        .evaluate(
          (e) =>
            e.closest('[aria-live="polite"], [aria-live="assertive"], [role="status"]') === null,
        ),
      true,
    );
  });

  /** Brings every state of the page about at once: doubts, refusals, blanks, a row being changed. */
  async function crowd() {
    await desk.stamp(14); // seen before
    await desk.stamp(999); // nobody's number
    await page.keyboard.press('+');
    await page.locator('#log tr[data-state="blank"]').waitFor();
    await desk.stamp(15);
    // A server refuses hardly anything that a desk sends; the row must be legible all the same.
    await page.locator('#log tr[data-state="sent"]').first().waitFor();
    await page
      .locator('#log tr[data-state="sent"]')
      .last()
      .evaluate((row) => {
        row.dataset.state = 'refused';
      });
    await page.locator('#log tr[data-state="refused"]').waitFor();
    await desk.strike();
    await page.locator('#log tr[data-state="void"]').first().waitFor();
    await page.locator('#files summary').click();
    await page.locator('#paste').fill('car,time\n16,10:42\n17,none\n');
    await page.locator('#preview tr').first().waitFor();
    await page.locator('#log button').first().click();
    await page.locator('#help-button').click();
    await page.locator('#help-list').waitFor();
  }

  test('axe finds nothing in either theme, and contrast is 7 to 1', async (t) => {
    await crowd();
    const themes = new Set();
    for (let i = 0; i < 2; i++) {
      themes.add(await page.evaluate(() => getComputedStyle(document.body).backgroundColor));
      const found = await axe(page, { contrast: true });
      for (const it of found.incomplete) t.diagnostic(it);
      assert.deepEqual(found.faults, []);
      assert.deepEqual(await faint(page, 7), []);
      await page.locator('#theme').click();
    }
    assert.equal(themes.size, 2, 'day and night look alike');
  });

  test("the first theme follows the machine, the hand's choice is kept", async () => {
    const theme = () => page.getAttribute('html', 'data-theme');
    const before = await theme();
    await page.locator('#theme').click();
    assert.notEqual(await theme(), before);
    await page.reload();
    await desk.ready();
    assert.notEqual(await theme(), before);
    await page.locator('#theme').click();
  });

  test('figures are large and targets are wide', async () => {
    const size = (selector) =>
      page
        .locator(selector)
        .first()
        .evaluate((e) => parseFloat(getComputedStyle(e).fontSize));
    for (const selector of ['#clock', '#field', '#log .figure']) {
      assert.ok((await size(selector)) >= 28, selector);
    }
    await page.locator('#pad-button').click();
    const boxes = (selector) =>
      page.locator(selector).evaluateAll((all) =>
        all
          .filter((e) => e.checkVisibility())
          .map((e) => {
            const { width, height } = e.getBoundingClientRect();
            return { name: e.textContent.trim() || e.id, width, height };
          }),
      );
    const pad = await boxes('#digits button');
    assert.ok(pad.length >= 12);
    assert.deepEqual(
      pad.filter(({ width, height }) => Math.min(width, height) < 64),
      [],
    );
    assert.deepEqual(
      (await boxes('button, select, summary, input:not([type="checkbox"])')).filter(
        ({ width, height }) => Math.min(width, height) < 44,
      ),
      [],
    );
    await page.locator('#pad-button').click();
  });

  test('fits a phone, also with text at twice its size', async () => {
    const wide = page.viewportSize();
    await page.setViewportSize({ width: 320, height: 640 });
    assert.deepEqual(await sideways(page), []);
    assert.deepEqual(await legible(page), []);
    await page.setViewportSize({ width: 390, height: 844 });
    await enlarge(page, 200);
    const faults = await sideways(page);
    await enlarge(page, 100);
    await page.setViewportSize(wide);
    assert.deepEqual(faults, []);
  });

  test('everything is reached by Tab, with a ring around it', async () => {
    assert.deepEqual(await keyboard(page), []);
    await page.keyboard.press('Escape');
    assert.equal(await page.evaluate(() => document.activeElement.id), 'field');
  });

  // That each catalogue has all that the page says is held by tests/web/desk/words.test.mjs.
  test('every language is spoken, and no other beside it', async () => {
    const codes = await page.$$eval('#language option', (all) => all.map((one) => one.value));
    assert.ok(codes.length > 3, codes.join());
    const books = Object.fromEntries(
      codes.map((language) => [
        language,
        JSON.parse(readFileSync(path.join(WEB, 'words', `desk.${language}.json`), 'utf8')),
      ]),
    );
    for (const [language, book] of Object.entries(books)) {
      const alike = Object.keys(book).filter((name) => book[name] === books.en[name]).length;
      const few = language === 'en' || alike < Object.keys(book).length / 5;
      assert.ok(few, `${alike} words of ${language} are English`);
    }
    for (const language of [...codes.filter((code) => code !== 'en'), 'en']) {
      await page.locator('#language').selectOption(language);
      await page.waitForFunction((code) => document.documentElement.lang === code, language);
      const text = await page.locator('body').innerText();
      assert.doesNotMatch(text, /\{\w+\}/, language);
      const words = new Set(text.split(/\s+/));
      assert.deepEqual(
        Object.keys(books.en).filter((name) => name.includes('.') && words.has(name)),
        [],
        language,
      );
      assert.ok(text.includes(books[language].safety), `${language}: the safety line`);
      await page.setViewportSize({ width: 320, height: 640 });
      assert.deepEqual(await sideways(page), [], language);
      await page.setViewportSize({ width: 1280, height: 900 });
    }
  });

  test('prints a sheet with every reading, and what was corrected stays legible', async () => {
    await page.locator('#field').focus();
    await desk.stamp(18);
    await page.locator('#log tr:first-child').getByText('18', { exact: true }).waitFor();
    await desk.renumber(19);
    await page.locator('#log tr:first-child').getByText('19', { exact: true }).waitFor();
    await page.evaluate(() => {
      window.print = () => {
        window.printed = true;
      };
    });
    await page.locator('#print-sheet').click();
    await page.waitForFunction(() => window.printed);
    await page.emulateMedia({ media: 'print' });
    const sheet = await page.locator('#sheet').innerText();
    for (const car of [18, 19]) assert.match(sheet, new RegExp(`\\b${car}\\b`));
    assert.deepEqual(await page.locator('#sheet s').allInnerTexts(), ['18']);
    assert.match(sheet, /printed \d{4}-\d\d-\d\d \d\d:\d\d$/m);
    assert.equal(await page.locator('#field').isVisible(), false);
    await page.emulateMedia({ media: null });
  });

  test('without a network, too, it has its help, files, paper and another language', async () => {
    await desk.offlineReady();
    await context.setOffline(true);
    const other = await Desk.open(context, served, {
      origin: proxy.origin,
      allow: [/ERR_|net::/],
      settle: false,
    });
    await other.page.keyboard.press('?');
    await other.page.locator('#help-list').waitFor();
    await other.page.locator('#files summary').click();
    await other.page.locator('#paste').fill('car,time\n16,10:42\n');
    await other.page.locator('#preview tr').waitFor();
    await other.page.locator('#language').selectOption('de');
    await other.page.locator('html[lang="de"]').waitFor({ state: 'attached' });
    const german = JSON.parse(readFileSync(path.join(WEB, 'words/seldom.de.json'), 'utf8'));
    await other.page.getByText(german['files.what']).waitFor();
    assert.deepEqual(other.errors.take(), []);
    await other.page.locator('#language').selectOption('en');
    await other.page.close();
    await context.setOffline(false);
  });

  test('works on a machine six times as slow', async () => {
    const session = await throttle(page, { cpu: 6 });
    await page.locator('#field').focus();
    await page.keyboard.press('Escape');
    const rows = await page.locator('#log tr[data-id]').count();
    await desk.stamp(21);
    await desk.stamp(22);
    await desk.kept(rows + 2);
    await session.send('Emulation.setCPUThrottlingRate', { rate: 1 });
    assert.deepEqual(desk.errors.take(), []);
  });
});
