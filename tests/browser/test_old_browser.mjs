// SPDX-License-Identifier: MIT
// A browser that is too old for the desk or the office is told so, whatever becomes of their scripts.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { Served, contextOf, events, launch } from '../support/setup.mjs';

describe('a browser that is too old', { timeout: 200_000 }, () => {
  let browser, served;

  before(async () => {
    browser = await launch();
    served = await Served.start(events.hostile);
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  /** A page of a browser of another age. */
  async function open(surface, { age = () => {}, parses = true } = {}) {
    const context = await contextOf(browser, { serviceWorkers: 'block' });
    await context.addInitScript(age);
    if (!parses) {
      await context.route(`**/${surface === 'control' ? 'desk' : 'office'}.js`, (route) =>
        route.fulfill({ contentType: 'text/javascript', body: 'class { #new = ; }' }),
      );
    }
    const page = await context.newPage();
    await page.goto(`${served.origin}/${served.slug}/${surface}`);
    return page;
  }

  const old = () => {
    delete window.structuredClone;
  };

  for (const surface of ['control', 'office']) {
    test(`${surface}: it is told, with what is needed, though the page's script is not read`, async () => {
      const page = await open(surface, { age: old, parses: false });
      const words = await page.locator('#old-browser').innerText();
      for (const name of ['Safari 15.4', 'Firefox 98', 'Chrome 98'])
        assert.ok(words.includes(name));
      assert.ok(await page.locator('#old-browser').isVisible());
      await page.context().close();
    });

    test(`${surface}: a browser of today is told nothing`, async () => {
      const page = await open(surface);
      assert.equal(await page.locator('#old-browser').isVisible(), false);
      await page.context().close();
    });
  }
});
