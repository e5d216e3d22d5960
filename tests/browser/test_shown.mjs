// SPDX-License-Identifier: MIT
// The board of an event that shows penalties as time, and whose cars stand in several groups.

import assert from 'node:assert/strict';
import { cpSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { after, before, describe, test } from 'node:test';
import { DEMO, PageErrors, Served, contextOf, launch } from '../support/setup.mjs';

/** The demo with penalties as time, every second car in one group, and the first forty in another. */
function withTimes(folder) {
  cpSync(DEMO, folder, { recursive: true });
  const rules = path.join(folder, 'event.json');
  const event = JSON.parse(readFileSync(rules, 'utf8'));
  event.scoring.shown = 'time';
  event.classes.groups = [{ id: 'even' }, { id: 'early' }];
  writeFileSync(rules, JSON.stringify(event));
  const list = path.join(folder, 'entries.csv');
  const [head, ...cars] = readFileSync(list, 'utf8').trim().split('\n');
  const grouped = cars.map((line) => {
    const number = parseInt(line);
    const groups = [...(number % 2 ? [] : ['even']), ...(number <= 40 ? ['early'] : [])];
    return `${line},${groups.join(';')}`;
  });
  writeFileSync(list, [`${head},groups`, ...grouped, ''].join('\n'));
}

describe('a board with penalties as time', { timeout: 120_000 }, () => {
  let browser, served;
  before(async () => {
    browser = await launch();
    served = await Served.start(withTimes);
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  async function open(t, query, before = async () => {}) {
    const context = await contextOf(browser, { viewport: { width: 1000, height: 800 } });
    t.after(() => context.close());
    const page = await context.newPage();
    page.errors = new PageErrors(page);
    await before(page);
    await page.goto(`${served.origin}/merrow-2027/${query}`, { waitUntil: 'load' });
    return page;
  }
  const cells = (page, row, column) =>
    page.$$eval(
      row,
      (all, at) => all.filter((tr) => !tr.hidden).map((tr) => tr.cells[at].textContent),
      column,
    );
  const PLACED = '#board table.board > tbody > tr';

  /** Takes a penalty off a car, and waits until the page shows it. */
  async function favour(page, car, points) {
    await served.ask('decisions', [
      { kind: 'penalty', car: String(car), value: String(-points), reason: 'bought time' },
    ]);
    const { revision } = await (await fetch(served.api)).json();
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await page.waitForFunction(
      (n) => document.getElementById('revision').textContent === n,
      String(revision),
    );
  }

  test('writes what the server would write when it renews itself', async (t) => {
    const page = await open(t, '?view=live');
    const before = await cells(page, PLACED, 4);
    for (const text of before) assert.match(text, /^\d+:\d\d:\d\d(\.\d+)?$/);
    const { standings } = await (await fetch(`${served.api}/standings`)).json();
    await favour(page, standings[4].car, 5.5);
    const now = await cells(page, PLACED, 4);
    assert.notDeepEqual(now, before);
    const fresh = await open(t, '?view=live');
    for (const column of [0, 4, 5, 6])
      assert.deepEqual(await cells(page, PLACED, column), await cells(fresh, PLACED, column));
    assert.deepEqual(page.errors.take(), []);
  });

  test('tells on the next visit what changed, as time', async (t) => {
    const page = await open(t, '?view=live', (fresh) => fresh.clock.install());
    await page.waitForFunction(() => document.getElementById('age').textContent !== '');
    await page.clock.runFor(5000); // a visit counts after some seconds in sight
    const { standings } = await (await fetch(`${served.api}/standings`)).json();
    const last = standings.at(-1).car;
    await page.goto('about:blank');
    await served.ask('decisions', [
      { kind: 'penalty', car: String(last), value: '65', reason: 'towed' },
    ]);
    await page.goto(`${served.origin}/merrow-2027/?view=live`);
    await page.waitForFunction(() => !document.getElementById('since').hidden);
    await page.click('#since summary');
    await page.waitForSelector('#since li');
    assert.match(await page.textContent('#since'), /\+0:01:05/);
  });

  test('finds a car in each of its groups', async (t) => {
    const page = await open(t, '?by=group&view=live');
    assert.equal((await page.$$('#board table.board')).length >= 2, true);
    await page.fill('#q', '12');
    const found = (await cells(page, PLACED, 2)).map((text) => text.trim());
    assert.equal(found.filter((text) => text === '12').length, 2);
    assert.equal(
      found.every((text) => text.startsWith('12')),
      true,
    );
  });
});
