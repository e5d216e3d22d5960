// SPDX-License-Identifier: MIT
// Clock, number, messages and keys of the desk stand in one view on small screens, and nothing that is
// said moves them; the sheet shows its newest line.

import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { after, before, describe, test } from 'node:test';
import { Profile, Served } from '../support/setup.mjs';
import { Desk, roadside } from '../support/desk.mjs';

// A small laptop, one enlarged to 200 %, a telephone, and that on its side.
const WINDOWS = [
  [1024, 600],
  [640, 400],
  [360, 640],
  [640, 360],
];
const KEYS = ['#clock', '#field', '#messages', '#blank', '#give', '#undo', '#stamp'];

/** The roadside event, whose first day begins ten minutes before midnight: cars are due past it. */
function lateStart(folder) {
  roadside(folder);
  const file = path.join(folder, 'event.json');
  const event = JSON.parse(readFileSync(file, 'utf8'));
  event.days[0].first_start = '23:30';
  writeFileSync(file, JSON.stringify(event));
}

describe('the desk on a small screen', { timeout: 400_000 }, () => {
  const profile = new Profile();
  let context, served, desk, page;

  before(async () => {
    context = await Desk.prepare(await profile.open());
    served = await Served.start(lateStart);
    const key = served.addKey('--role', 'timekeeper', '--points', 'TC1,S1,R1');
    desk = await Desk.open(context, served, { key, settle: false, allow: [/ERR_|net::/] });
    ({ page } = desk);
  });
  after(async () => {
    await profile.end();
    await served.end();
  });

  const goTo = async (point) => {
    await page.locator('#points').selectOption(point);
    await page.waitForFunction(
      (id) => document.querySelector('#say').textContent.startsWith(id),
      point,
    );
    await page.evaluate(() => scrollTo(0, 0));
  };

  /** Where each of the keys is, {selector: [left, top, right, bottom]}; those of the screen too. */
  const places = () =>
    page.evaluate((selectors) => {
      const all = [...selectors, ...['#measures button', '.fault', '#digits button']];
      return Object.fromEntries(
        all.flatMap((selector) =>
          [...document.querySelectorAll(selector)]
            .filter((node) => node.checkVisibility())
            .map((node, i) => {
              const { left, top, right, bottom } = node.getBoundingClientRect();
              return [`${selector} ${i}`, [left, top, right, bottom].map(Math.round)];
            }),
        ),
      );
    }, KEYS);

  /** Words of every length in each place that has any. */
  const crowd = () =>
    page.evaluate(() => {
      const long = 'A car that nobody expected came twice before its time. '.repeat(4);
      for (const id of ['say', 'warn', 'echo']) document.getElementById(id).textContent = long;
      for (const banner of document.querySelectorAll('#banners .banner')) banner.hidden = false;
      document.querySelector('#banner-key-text').textContent = long;
      for (const id of ['badge-clock', 'badge-outbox'])
        document.getElementById(id).textContent = long;
    });

  for (const [width, height] of WINDOWS) {
    for (const point of ['TC1', 'S1/finish']) {
      test(`all in one view at ${width} × ${height}, ${point}, whatever is said`, async () => {
        await page.setViewportSize({ width, height });
        await goTo(point);
        const still = await places();
        for (const key of KEYS) assert.ok(`${key} 0` in still, key);
        if (point === 'S1/finish') assert.ok('.fault 2' in still && '#measures button 1' in still);
        if (width < 800) assert.ok('#digits button 14' in still);
        for (const [name, [left, top, right, bottom]] of Object.entries(still)) {
          const inside = left >= 0 && top >= 0 && right <= width && bottom <= height;
          assert.ok(inside, `${name}: ${[left, top, right, bottom]}`);
          assert.ok(right - left >= 24 && bottom - top >= 24, `${name} is small`);
        }
        await crowd();
        assert.deepEqual(await places(), still);
        await page.reload();
        await desk.ready();
      });
    }
  }

  test('what a person does moves nothing either', async () => {
    await page.setViewportSize({ width: 360, height: 640 });
    await goTo('TC1');
    const still = await places();
    for (const press of ['9', '9', '9', 'Enter', '+', '1', 'Enter', '1', 'Enter', '7'])
      await page.keyboard.press(press);
    await page.locator('#warn:not(:empty)').waitFor();
    assert.deepEqual(await places(), still);
    await context.setOffline(true);
    await page.locator('#badge-link[data-level="doubt"]').waitFor();
    assert.deepEqual(await places(), still);
    await context.setOffline(false);
    await page.keyboard.press('Escape');
  });

  test('a notice that is out of sight says so in the first screen', async () => {
    await page.evaluate(() => {
      document.querySelector('#banner-tab').hidden = false;
    });
    const text = await page.locator('#banner-tab').textContent();
    await page.waitForFunction(
      (words) => document.querySelector('#notice').innerText.includes(words),
      text,
    );
    await page.setViewportSize({ width: 1280, height: 800 });
    assert.equal(await page.locator('#notice').isVisible(), false);
    assert.equal(await page.locator('#banner-tab').isVisible(), true);
  });

  test('the sheet returns to the newest line with the next stamp', async () => {
    const count = await page.locator('#log tr[data-id]').count();
    for (let car = 1; car <= 24; car++) await desk.stamp(car);
    await desk.kept(count + 24);
    await page.evaluate(() => {
      document.querySelector('.log .scroll').scrollTop = 900;
    });
    await page.waitForTimeout(100);
    assert.ok(await page.evaluate(() => document.querySelector('.log .scroll').scrollTop > 300));
    await page.locator('#field').focus();
    await desk.stamp(25);
    await desk.kept(count + 25);
    assert.equal(await page.evaluate(() => document.querySelector('.log .scroll').scrollTop), 0);
    await page.locator('#log tr:first-child th').getByText('25', { exact: true }).waitFor();
  });

  test('after midnight it is ten past twelve, not 24:10', async () => {
    const due = () => page.locator('#expected tr[data-car="29"] .figure').innerText();
    // 23:30, 20 minutes to TC1, and 29 for the cars before it.
    await page.locator('#expected tr[data-car="29"]').waitFor({ state: 'attached' });
    assert.equal(await due(), '00:18');
    assert.match(await page.locator('#clock').innerText(), /^[01]\d:|^2[0-3]:/);
    await page.locator('#field').focus();
    await page.keyboard.type('29');
    await page.waitForFunction(() =>
      document.querySelector('#echo').textContent.includes('due 00:18'),
    );
    await page.keyboard.press('Escape');
  });

  test('crews are named, and who is missing is told in short and not as a success', async () => {
    await page.locator('#expected tr[data-car="29"]').getByText('A. Tern 29').waitFor();
    await goTo('S1/finish');
    await desk.stamp(30);
    await page.locator('#summary[data-missing]').waitFor();
    const text = await page.locator('#summary').innerText();
    assert.match(text, /missing: 1, 2, 3, .*, 12 and 17 more/);
    await goTo('TC1');
  });

  test('faults are counted where they are made, not at the start', async () => {
    await goTo('S1/start');
    assert.equal(await page.locator('#faults').isVisible(), false);
    await goTo('S1/finish');
    assert.equal(await page.locator('.fault').count(), 3);
    await goTo('TC1');
  });

  test('one key for the night, from wherever, with number and clock in sight', async () => {
    const theme = () => page.evaluate(() => document.documentElement.dataset.theme);
    const first = await theme();
    await page.locator('#field').focus();
    await page.keyboard.press('F9');
    assert.notEqual(await theme(), first);
    await page.locator('#theme').focus();
    await page.locator('#theme').scrollIntoViewIfNeeded();
    await page.keyboard.press('F9');
    assert.equal(await theme(), first);
    await page.keyboard.type('1');
    const { top, bottom } = await page
      .locator('#field')
      .evaluate((node) => node.getBoundingClientRect());
    assert.ok(top >= 0 && bottom <= 800, `${top} to ${bottom}`);
    await page.keyboard.press('Escape');
  });

  test('help tells first what this point needs, and hides neither number nor clock', async () => {
    const firsts = () =>
      page.$$eval('#help-first dt', (all) => all.map((dt) => dt.textContent.trim()));
    for (const [width, height] of [[1280, 800], ...WINDOWS]) {
      await page.setViewportSize({ width, height });
      await page.evaluate(() => scrollTo(0, 0));
      await page.locator('#field').focus();
      await page.keyboard.press('F1');
      await page.locator('#help-first').waitFor();
      const seen = await page.evaluate(() =>
        ['clock', 'field'].map((id) => {
          const box = document.getElementById(id).getBoundingClientRect();
          const [x, y] = [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
          return document.elementFromPoint(x, y)?.id;
        }),
      );
      assert.deepEqual(seen, ['clock', 'field'], `${width} × ${height}`);
      assert.equal(await page.evaluate(() => document.activeElement.id), 'field');
      await page.keyboard.press('Escape');
      assert.equal(await page.locator('#keys-help').isVisible(), false);
    }
    await page.setViewportSize({ width: 1280, height: 800 });
    await page.keyboard.press('?');
    const control = await firsts();
    assert.equal(control.length, 3);
    await page.locator('#points').selectOption('S1/finish');
    await page.waitForFunction(() => /\bC\b/.test(document.querySelector('#help-first').innerText));
    assert.equal((await firsts()).length, 3);
    const text = await page.locator('#keys-help').innerText();
    for (const word of ['Num Lock', 'paper', 'Offline']) assert.match(text, new RegExp(word));
    await page.keyboard.press('Escape');
    assert.deepEqual(desk.errors.take(), []);
  });
});
