// SPDX-License-Identifier: MIT
// What a starter sees at the desk: who is next, at which minute, and the seconds until then.

import assert from 'node:assert/strict';
import { after, afterEach, before, beforeEach, describe, test } from 'node:test';
import { Profile, Served } from '../support/setup.mjs';
import { Desk, EVENT, fromNow, roadside, timeMs } from '../support/desk.mjs';

const item = (id) => EVENT.route.find((it) => it.id === id);

/** A test is the first of the day: the cars start it as they start the day, 26 minutes of it gone. */
const FIRST = [item('S1'), item('TC1'), { ...item('R1'), start: 'control', reveal: 'at-once' }];

/** Minutes since midnight: behind it the desk may show the hour of the day, or go on counting. */
const ofDay = (text) => (timeMs(text.slice(0, 5)) / 60_000) % 1440;

describe('the start', { timeout: 400_000 }, () => {
  const profile = new Profile();
  let context, served;

  before(async () => {
    context = await Desk.prepare(await profile.open());
  });
  after(() => profile.end());
  beforeEach(async () => {
    served = await Served.start((folder) => roadside(folder, FIRST));
  });
  afterEach(async () => {
    for (const page of context.pages()) await page.close();
    await served.end();
  });

  const open = async (points) => {
    const key = served.addKey('--role', 'timekeeper', '--points', points);
    const desk = await Desk.open(context, served, { key });
    await desk.page.waitForFunction(() => document.querySelector('#expected tr[data-car="30"]'));
    return desk;
  };
  /** Until the first car is told, which the list's first look at the clock may come before. */
  const told = (desk) =>
    desk.page.waitForFunction(() =>
      /^\d+ starts/.test(document.querySelector('#starter').textContent),
    );
  const panel = (desk) => desk.page.locator('#starter').innerText();
  /** Clock and panel as they stand at one instant, in seconds. */
  const shown = (desk) =>
    desk.page.evaluate(() => ({
      clock: document.querySelector('#clock').textContent,
      who: document.querySelector('#starter span').textContent,
      left: document.querySelector('#starter b').textContent,
    }));

  test('the next car, its minute, and a countdown that agrees with the clock', async () => {
    const desk = await open('S1');
    await told(desk);
    const { clock, who, left } = await shown(desk);
    const [, car, due] = /^(\d+) starts at (\d\d:\d\d)$/.exec(who) ?? [];
    assert.ok(car, who);
    const { cars } = await served.ask('expected?point=S1/start');
    assert.equal(ofDay(due), ofDay(cars.find((it) => it.car === Number(car)).due));
    const seconds = left.split(':').reduce((sum, part) => sum * 60 + Number(part), 0);
    const apart = (timeMs(due) - timeMs(clock)) / 1000 - seconds;
    // After midnight the clock shows the hour of the day.
    assert.ok([0, 1, 86_400, 86_401].includes(Math.abs(apart)), `${clock} ${who} ${left}`);
  });

  test('five seconds before, they are counted one by one, and then it is the start', async () => {
    const desk = await open('S1');
    await desk.page.evaluate(() => {
      const node = document.querySelector('#starter');
      window.test.shown = [];
      new MutationObserver(() => {
        const text = node.querySelector('b').textContent;
        if (window.test.shown.at(-1) !== text) window.test.shown.push(text);
      }).observe(node, { subtree: true, childList: true, characterData: true });
    });
    await desk.page.waitForFunction(() => window.test.shown.includes('Start'), null, {
      timeout: 90_000,
    });
    const counted = await desk.page.evaluate(() => window.test.shown);
    const end = counted.slice(0, counted.indexOf('Start'));
    // A machine busy with other tests may leave a second out; it never counts another way.
    const last = end.filter((text) => /^\d$/.test(text));
    assert.ok(last.length >= 2, counted.join());
    assert.deepEqual(last, [...last].sort().reverse());
    assert.ok(last.every((text) => text >= '1' && text <= '5'));
  });

  test('a car that was stamped is started: the next one is shown', async () => {
    const desk = await open('S1');
    await told(desk);
    const [, car] = /^(\d+) /.exec(await panel(desk));
    await desk.stamp(car);
    await desk.kept(1);
    await desk.page.waitForFunction(
      (number) => !document.querySelector('#starter').textContent.startsWith(`${number} `),
      car,
    );
    assert.match(await panel(desk), /^\d+ starts at \d\d:\d\d/);
  });

  test('a test that starts from the control before: as soon as the car was there', async () => {
    const at = fromNow(9);
    await served.ask('readings', [{ point: 'TC1', car: 4, time: `${at}:10` }]);
    const desk = await open('R1');
    await desk.page.waitForFunction(() =>
      /^4 starts at/.test(document.querySelector('#starter').textContent),
    );
    const [, due] = /^4 starts at (\d\d:\d\d)/.exec(await panel(desk)) ?? [];
    const row = desk.page.locator('#expected tr[data-car="4"] .figure');
    assert.deepEqual([due, await row.innerText()].map(ofDay), [ofDay(at), ofDay(at)]);
  });

  test('where nothing can be told of anybody it is the next full minute', async () => {
    const desk = await open('R1');
    assert.match(await panel(desk), /^Next full minute \d\d:\d\d/);
    await desk.page.locator('#points').selectOption('R1/1');
    assert.ok(await desk.page.locator('#starter').isHidden());
  });
});
