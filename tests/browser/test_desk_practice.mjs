// SPDX-License-Identifier: MIT
// Practice on the desk, the evening before: it leads from car to car, and nothing of it gets anywhere.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { Served, contextOf, launch } from '../support/setup.mjs';
import { Desk, roadside } from '../support/desk.mjs';
import { FlakyProxy } from '../support/flaky_proxy.mjs';

describe('practice on the desk', { timeout: 300_000 }, () => {
  let browser, context, served, proxy, desk, page;

  before(async () => {
    browser = await launch();
    context = await Desk.prepare(await contextOf(browser));
    served = await Served.start(roadside);
    proxy = await FlakyProxy.to(served);
    const key = served.addKey('--role', 'timekeeper', '--points', 'TC1');
    desk = await Desk.open(context, served, { key, origin: proxy.origin, settle: false });
    page = desk.page;
  });
  after(async () => {
    await browser.close();
    await proxy.end();
    await served.end();
  });

  const open = async () => {
    await page.locator('#field').focus();
    if (!(await page.locator('#keys-help').isVisible())) await page.keyboard.press('?');
    await page.getByRole('button', { name: 'Practise' }).click();
    await page.locator('dialog.practice').waitFor();
  };
  const says = () => page.locator('dialog.practice [role="status"]').innerText();

  test('three cars by keys alone; nothing is sent, kept or stamped', async () => {
    await open();
    assert.match(await says(), /Type 7 and press Enter/);
    await page.keyboard.type('8');
    await page.keyboard.press('Enter');
    assert.match(await says(), /something else.*Type 7/);
    for (const [keys, next] of [
      [['7', 'Enter'], /Press \+/],
      [['+'], /It was car 12/],
      [['1', '2', '*'], /Type 3/],
      [['3', 'Enter'], /Press −/],
      [['-'], /once more strikes 3/],
      [['-'], /This was practice/],
    ]) {
      for (const key of keys) await page.keyboard.press(key);
      assert.match(await says(), next);
    }
    assert.equal(
      await page
        .locator('dialog.practice s')
        .innerText()
        .then((t) => t.slice(0, 1)),
      '3',
    );
    await page.keyboard.press('Escape');
    await page.locator('dialog.practice').waitFor({ state: 'detached' });
    assert.deepEqual(await desk.rows(), []);
    assert.deepEqual(proxy.uploads(), []);
  });

  test('by touch too, and the desk takes its own keys again behind it', async () => {
    await open();
    const box = page.locator('dialog.practice');
    await box.getByRole('textbox').fill('7');
    await box.getByRole('button', { name: 'Stamp' }).click();
    assert.match(await says(), /Press \+/);
    await page.keyboard.press('Escape');
    await box.waitFor({ state: 'detached' });
    await page.locator('#field').focus();
    await desk.stamp(1);
    await desk.kept(1);
    await desk.sent();
    assert.deepEqual(
      served.readings().map((row) => row.car),
      ['1'],
    );
  });
});
