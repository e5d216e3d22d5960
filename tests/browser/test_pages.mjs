// SPDX-License-Identifier: MIT
// Every kind of public page as people meet it: light and dark, on a phone, by keyboard, without
// JavaScript. Pages are found by following links, so that all of this holds for new ones too.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import {
  PageErrors,
  Served,
  axe,
  contextOf,
  crawl,
  enlarge,
  events,
  keyboard,
  launch,
  legible,
  sideways,
} from '../support/setup.mjs';
import { addHostileWords } from '../support/hostile.mjs';

function onePerPath(pages) {
  const seen = new Map();
  for (const page of pages) {
    const path = page.kind.split('?')[0];
    if (!seen.has(path)) seen.set(path, page);
  }
  return [...seen.values()];
}

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser.close());

for (const name of ['hostile', 'demo']) {
  describe(`the ${name} event's pages`, () => {
    let served, pages;
    before(async () => {
      served = await Served.start(events[name]);
      if (name === 'hostile') await addHostileWords(served);
      ({ pages } = await crawl(served.origin, 1));
      // Another language changes words only; the board and a card stand for all.
      pages = pages.filter(
        ({ kind }) => !/\blang\b/.test(kind) || /^\/EVENT\/(cars\/WHICH)?\?lang$/.test(kind),
      );
      // The small event shows every kind of page; the demo's are the long ones.
      if (name === 'demo')
        pages = onePerPath(pages).filter(({ kind }) =>
          /^\/EVENT\/(cars\/WHICH|compare|tests\/WHICH)?\?/.test(kind),
        );
    });
    after(() => served.end());

    /** Opens each page in a context and gathers what `look` finds wrong with it. */
    async function each(options, look) {
      const context = await contextOf(browser, options);
      try {
        const page = await context.newPage();
        const pageErrors = new PageErrors(page);
        const faults = [];
        for (const { address, source } of pages) {
          await page.goto(address);
          const found = await look(page, { address, source });
          faults.push(...[...found, ...pageErrors.take()].map((fault) => `${address}: ${fault}`));
        }
        assert.deepEqual(faults.slice(0, 20), []);
      } finally {
        await context.close();
      }
    }

    test('are clean for axe in light and dark, and dark where that is asked for', async (t) => {
      const unclear = new Set();
      await each({}, async (page) => {
        const faults = [];
        for (const colorScheme of ['light', 'dark']) {
          await page.emulateMedia({ colorScheme });
          const found = await axe(page, { colours: colorScheme === 'dark' });
          faults.push(...found.faults.map((fault) => `${colorScheme}: ${fault}`));
          for (const it of found.incomplete) unclear.add(it);
        }
        const shade = await page.evaluate(() => getComputedStyle(document.body).backgroundColor);
        const [red, green, blue] = shade.match(/\d+/g).map(Number);
        return red + green + blue < 200 ? faults : [...faults, `background ${shade}`];
      });
      for (const it of unclear) t.diagnostic(it);
    });

    test('do not scroll sideways at 320 px', () =>
      each({ viewport: { width: 320, height: 568 } }, sideways));

    test('are legible at 390 px, also at twice the size of text', () =>
      each({ viewport: { width: 390, height: 844 } }, async (page) => {
        const faults = await legible(page);
        await enlarge(page, 200);
        return [...faults, ...(await sideways(page)), ...(await legible(page))];
      }));

    test('can be walked by keyboard', () => each({}, keyboard));

    test('are whole without JavaScript, with a title and one heading of their own', async () => {
      const shown = (page) =>
        page.evaluate(() =>
          // What only a script can do (pins, pause, copying a link) is no part of the whole.
          [...document.querySelectorAll('main tr, main li, main h1, main h2, main p, main dt')]
            .filter((e) => e.checkVisibility() && !e.querySelector('button'))
            .map((e) => e.innerText.trim()),
        );
      const scripted = new Map();
      await each({}, async (page, { address }) => {
        scripted.set(address, await shown(page));
        return scripted.get(address).length > 1 ? [] : ['an empty page'];
      });
      await each({ javaScriptEnabled: false }, async (page, { address }) => {
        const bare = await shown(page);
        const headings = await page.locator('h1').count();
        const title = await page.title();
        return [
          ...(bare.length >= scripted.get(address).length
            ? []
            : [
                `${bare.length} pieces without JavaScript, ${scripted.get(address).length} with it`,
              ]),
          ...(headings === 1 && title.trim() !== '' ? [] : [`${headings} h1, "${title}"`]),
        ];
      });
    });
  });
}

test('the checks find what is wrong', async () => {
  const context = await contextOf(browser, { viewport: { width: 320, height: 568 } });
  const page = await context.newPage();
  const pageErrors = new PageErrors(page);
  await page.route('**/*', (route) =>
    route.fulfill({
      contentType: 'text/html',
      headers: { 'Content-Security-Policy': "default-src 'self'" },
      body:
        '<!DOCTYPE html><title>x</title><body><p style="width: 2000px">wide</p>' +
        '<font color="#999"><small><small><small>faint</small></small></small></font>' +
        '<img src="x.png"><a href="a" tabindex="2">a</a><a href="b" tabindex="1">b</a>' +
        '<table width="900"><tr><td>x</td></tr></table></body>',
    }),
  );
  await page.goto('http://127.0.0.1:1/');
  const { faults } = await axe(page);
  for (const rule of ['image-alt', 'color-contrast', 'html-has-lang']) {
    assert.ok(
      faults.some((fault) => fault.startsWith(`axe ${rule}:`)),
      `${rule}: ${faults}`,
    );
  }
  assert.equal((await sideways(page)).length, 1);
  assert.ok((await legible(page)).length >= 2);
  assert.ok((await keyboard(page)).some((fault) => /Tab 1 reaches/.test(fault)));
  assert.ok(pageErrors.take().some((error) => /Content Security Policy/.test(error)));
  await context.close();
});
