// SPDX-License-Identifier: MIT
// Distances in kilometres or miles as the reader likes, kept on the device; the event's own unit
// until then, without a script, and to the letter.

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
  sideways,
} from '../support/setup.mjs';

describe('distances', { timeout: 400_000 }, () => {
  let browser, served;
  before(async () => {
    browser = await launch();
    served = await Served.start(events.hostile);
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  async function open(t, query = '', options = {}) {
    const context = await contextOf(browser, { viewport: { width: 320, height: 568 }, ...options });
    t.after(() => context.close());
    const page = await context.newPage();
    page.errors = new PageErrors(page);
    await page.goto(`${served.origin}/${served.slug}/event${query}`);
    return page;
  }

  const shown = (page) =>
    page.$$eval('.route', (tables) => [
      ...new Set(tables.map((table) => table.tHead.rows[0].cells[2].textContent)),
      ...tables.flatMap((table) => [...table.querySelectorAll('data')].map((e) => e.textContent)),
    ]);

  test('change by a press, stay changed, and come back as they were written', async (t) => {
    const page = await open(t);
    assert.deepEqual(await shown(page), ['km', '31.2']);
    await page.locator('#units button').focus();
    await page.keyboard.press('Enter');
    assert.deepEqual(await shown(page), ['miles', '19.39']);
    assert.equal(await page.textContent('#units button'), 'Distances in kilometres');
    assert.deepEqual(
      [...(await sideways(page)), ...(await keyboard(page)), ...(await axe(page)).faults],
      [],
    );
    await page.goto(`${page.url()}?lang=de`);
    assert.deepEqual(await shown(page), ['Meilen', '19,39']);
    await page.click('#units button');
    assert.deepEqual(await shown(page), ['km', '31,2']);
    await page.reload();
    assert.deepEqual(await shown(page), ['km', '31,2']);
    assert.deepEqual(page.errors.take(), []);
  });

  test('are in the event’s own unit without a script, with no choice to be seen', async (t) => {
    const page = await open(t, '', { javaScriptEnabled: false });
    assert.deepEqual(await shown(page), ['km', '31.2']);
    assert.equal(await page.isVisible('#units'), false);
  });
});
