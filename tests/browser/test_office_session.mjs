// SPDX-License-Identifier: MIT
// A session in the office: a late answer does not draw over another section, and the session ends
// when it is left, after four hours without input, and with its key.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { Served, contextOf, events, launch } from '../support/setup.mjs';
import { Clerk, TABLET } from '../support/office.mjs';

describe('a session in the office', { timeout: 300_000 }, () => {
  let browser, clerk, page, served;

  before(async () => {
    served = await Served.start(events.hostile);
    browser = await launch();
    const context = await contextOf(browser, { viewport: TABLET, hasTouch: true });
    clerk = await Clerk.open(context, served, 'C. Clerk');
    ({ page } = clerk);
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  /** Holds the answers at an address back, from what `ask` brings about until `act` is done. */
  async function holdingBack(pattern, ask, act) {
    const held = [];
    const came = new Promise((resolve) => {
      page.route(pattern, (route) => resolve(held.push(route))).then(ask);
    });
    await came;
    await act();
    await Promise.all([page.waitForResponse(pattern), ...held.map((route) => route.continue())]);
    await page.unroute(pattern);
    await page.evaluate(
      () =>
        new Promise((resolve) => {
          setTimeout(resolve, 100);
        }),
    );
  }

  test('a section that comes late draws over no other', async () => {
    await holdingBack(
      /\/decisions$/,
      () => page.locator('#sections a[href="#decisions"]').press('Enter'),
      () => clerk.section('prizes'),
    );
    assert.deepEqual(
      await page.evaluate(() => [
        document.documentElement.dataset.section,
        document.querySelector('#office > section').id,
      ]),
      ['prizes', 'prizes'],
    );
    assert.deepEqual(clerk.errors.take(), []);
  });

  test('the session ends when it is left, and the key opens it again', async () => {
    await holdingBack(
      served.api,
      () => page.evaluate(() => document.dispatchEvent(new Event('visibilitychange'))),
      () => clerk.press('Leave the office'),
    );
    const gate = async (words) => {
      await page.waitForSelector('#gate:not([hidden])');
      assert.equal(await page.locator('#warn').innerText(), words);
      assert.equal(await page.evaluate(() => document.activeElement.id), 'key');
      assert.equal(await page.evaluate(() => sessionStorage.length), 0);
    };
    await gate('You have left the office.');
    await clerk.looks('the gate', { large: false });
    await page.reload();
    await page.waitForSelector('#gate:not([hidden])');
    await clerk.type("Organiser's key or link", 'not a key');
    await page.keyboard.press('Enter');
    await page.waitForSelector('#warn >> text=A key has 32 letters and digits.');
    await page.locator('#key').focus();
    await page.keyboard.type(`${served.origin}/${served.slug}/office#${served.organiser}`);
    await page.keyboard.press('Enter');
    await page.waitForSelector('html[data-section] #sections:not([hidden])');
    assert.ok(!page.url().includes(served.organiser));
  });

  test('the session ends after four hours without a touch, and when its key is revoked', async () => {
    const idle = await contextOf(browser, { viewport: TABLET });
    const lone = await idle.newPage();
    await lone.clock.install();
    await lone.goto(
      `${served.origin}/${served.slug}/office#${served.addKey('--role', 'organiser')}`,
    );
    await lone.waitForSelector('html[data-section="room"]');
    await lone.clock.fastForward('03:00:00');
    await lone.keyboard.press('Tab');
    await Promise.all([lone.waitForResponse(/\/points$/), lone.clock.fastForward('03:59:00')]);
    assert.ok(await lone.locator('#sections').isVisible());
    await lone.clock.fastForward('00:01:30');
    await lone.waitForSelector(
      '#warn >> text=The office was left by itself after four hours without a touch.',
    );
    assert.ok(
      !(await lone.locator('#sections').isVisible()) && (await lone.locator('#gate').isVisible()),
    );
    assert.equal(await lone.evaluate(() => sessionStorage.length), 0);
    const gone = await Clerk.open(idle, served, 'E. Extra', {
      key: served.addKey('--role', 'organiser'),
    });
    served.revokeLastKey();
    await gone.page.waitForFunction(
      () => {
        document.dispatchEvent(new Event('visibilitychange'));
        return (
          document.getElementById('warn').textContent === 'The key is not in force for this event.'
        );
      },
      null,
      { polling: 500 },
    );
    assert.ok(await gone.page.locator('#gate').isVisible());
  });
});
