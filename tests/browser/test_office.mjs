// SPDX-License-Identifier: MIT
// The organiser's office from the link to the end of the session, by keyboard alone: what is shown
// before something is kept is what comes about, and two organisers at once lose nothing.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { Served, contextOf, events, keyboard, launch } from './house.mjs';
import { Clerk, TABLET } from './office.mjs';

const REFUSED = [/ 412/, /status of 412/];
const KEPT_FIELDS = ['penalty', 'position', 'class_position', 'status'];

describe('the office', { timeout: 240_000 }, () => {
  let browser, clerk, context, other, page, served;

  before(async () => {
    served = await Served.start(events.hostile);
    await served.ask('readings', [{ point: 'TC1', car: 3, time: '08:55', id: 'd-1', by: 'quay' },
      { point: 'TC1', car: 5, time: '08:52', id: 'd-2' }, { point: 'TC1', car: 8, time: '08:58', id: 'd-3' }]);
    browser = await launch();
    context = await contextOf(browser, { viewport: TABLET, hasTouch: true });
    clerk = await Clerk.open(context, served, 'C. Clerk', { allow: REFUSED });
    ({ page } = clerk);
    other = await Clerk.open(await contextOf(browser, { viewport: TABLET }), served, 'D. Deputy', { allow: REFUSED });
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  /** Each car's penalty, places and status, as the effect tells them. */
  async function standings() {
    const told = await served.ask('standings');
    const words = (place) => (place === null ? 'no place' : String(place));
    return new Map([...told.standings, ...told.unplaced].map((row) => [String(row.car),
      [row.penalty, words(row.position), words(row.class_position), row.status]]));
  }

  /** What the effect on the page says: for each car what is so before and after. */
  async function effect() {
    const rows = await clerk.rows('#effect');
    return new Map(rows.map(([car, , ...cells]) => [car, [0, -1].map((at) =>
      cells.map((cell) => cell.split(' → ').at(at)))]));
  }

  /** Presses what keeps the decision that is shown; what came about must be what was shown. */
  async function keep(words, gone) {
    await clerk.on(words);
    const [was, shown] = [await standings(), await effect()];
    await page.keyboard.press('Enter');
    await gone();
    const is = await standings();
    assert.ok(shown.size > 0);
    for (const [car, now] of is) {
      const [before, after] = shown.get(car) ?? [was.get(car), was.get(car)];
      assert.deepEqual([was.get(car), now], [before, after], `car ${car}: ${KEPT_FIELDS}`);
    }
    return shown;
  }

  const decisions = async () => (await served.ask('decisions')).decisions;
  const says = (words) => page.waitForFunction((wanted) => document.getElementById('say').textContent === wanted, words);

  test('opens by its link, which does not stay in the address', async () => {
    assert.equal(await page.evaluate(() => location.hash), '#room');
    assert.equal(await page.title(), 'Control room – Gannet Trial 2031 <i>& friends</i>');
    assert.deepEqual(await keyboard(page), []);
    await clerk.choose('Day', 'Day 2, 2031-06-07');
    await page.waitForSelector('#points caption >> text=Points of day 2');
    await clerk.choose('Day', 'Day 1, 2031-06-06');
    await page.waitForSelector('#points caption >> text=Points of day 1');
    const [, name, expected, seen] = (await clerk.rows('#points')).find(([point]) => point === 'TC1');
    assert.deepEqual([name, expected, seen], ['Old quay', '6', '5']);
  });
});
