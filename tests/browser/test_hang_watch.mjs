// SPDX-License-Identifier: MIT
// A test program that hangs reports why, and the call that it waits for fails where it stands.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { contextOf, launch } from '../support/chromium.mjs';
import { giveUp, note } from '../support/hang_watch.mjs';

test(
  'a browser that is waited for in vain is ended, and it is told where all stood',
  { timeout: 120_000 },
  async () => {
    const browser = await launch();
    const page = await (await contextOf(browser)).newPage();
    await page.goto('data:text/html,<title>stuck</title>');
    const heard = page.waitForEvent('console');
    const stuck = page.evaluate(() => {
      console.warn('on my way');
      return new Promise(() => {});
    });
    await heard;
    const unnote = note(() => 'and the kettle is on');
    const gone = new Promise((resolve) => {
      browser.once('disconnected', resolve);
    });
    const told = [];
    giveUp((text) => told.push(text));
    unnote();
    await assert.rejects(
      stuck,
      (error) => /closed/.test(error.message) && /test_hang_watch\.mjs/.test(error.stack),
    );
    const [text] = told;
    for (const part of [
      'page.evaluate started',
      'page data:text/html,<title>stuck</title>',
      'console warning: on my way',
      'headless',
      'and the kettle is on',
    ])
      assert.ok(text.includes(part), `${part}: ${text}`);
    await gone;
    await browser.close();
  },
);
