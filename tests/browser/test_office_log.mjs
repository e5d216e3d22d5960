// SPDX-License-Identifier: MIT
// The organiser's control room, entry list, review and log, by keyboard alone on a tablet: a car
// retires and is back, an entry is withdrawn, a crew changes, a doubt and a refused row are
// acknowledged; and all of it is found in the log.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { Served, contextOf, events, launch } from '../support/setup.mjs';
import { Clerk, TABLET } from '../support/office.mjs';

describe('the log and what stands in it', { timeout: 400_000 }, () => {
  let browser, clerk, page, served;

  before(async () => {
    served = await Served.start(events.hostile);
    const desk = served.addKey('--role', 'timekeeper', '--points', 'TC1,PC1', '--label', 'Desk A');
    const answer = await fetch(`${served.api}/readings`, {
      method: 'POST',
      headers: { Authorization: `Bearer ${desk}`, 'Content-Type': 'application/json' },
      body: JSON.stringify([
        { point: 'PC1', car: '3', flags: 'typed-late', id: 'p-3' },
        { point: 'PC1', car: '77', id: 'p-77' },
      ]),
    });
    assert.deepEqual(
      (await answer.json()).refused.map((row) => row.row),
      [2],
    );
    browser = await launch();
    clerk = await Clerk.open(
      await contextOf(browser, { viewport: TABLET, hasTouch: true }),
      served,
      'C. Clerk',
    );
    ({ page } = clerk);
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  const heading = (words) =>
    page.waitForFunction(
      (wanted) =>
        document.activeElement.tagName === 'H2' && document.activeElement.textContent === wanted,
      words,
    );
  const status = async (car) => {
    const told = await served.ask('standings');
    return [...told.standings, ...told.unplaced].find((row) => row.car === car).status;
  };
  const newest = async (query = '') => (await served.ask('log?limit=1' + query)).entries[0];

  /** Gives the reason, looks at the effect, keeps it. Returns what the effect said of places. */
  async function decide(reason, keep) {
    await clerk.type('Reason', reason);
    await page.keyboard.press('Enter');
    await page.waitForFunction((words) => document.activeElement.textContent === words, keep);
    const effect = await page.locator('#act [aria-live]').innerText();
    await page.keyboard.press('Enter');
    await page.waitForSelector('#act', { state: 'detached' });
    return effect;
  }

  test('a car on the road retires, and is back the next day', async () => {
    assert.deepEqual(await clerk.walk(), []);
    await clerk.press('Retire car 1');
    await heading('Car 1 retires');
    assert.equal(await page.getByLabel('After which point').inputValue(), 'S1/finish');
    await page.keyboard.press('Tab');
    await page.keyboard.press('Tab');
    await page.keyboard.press('Enter');
    assert.match(await clerk.focused(), /There is a problem/);
    await clerk.looks('a retirement without a reason');
    assert.match(await decide('Axle', 'Keep the retirement'), /running → retired/);
    assert.equal(await status(1), 'retired');
    assert.match(await page.locator('#out').innerText(), /S1\/finish\s+Axle/);
    await clerk.press('Rejoin car 1');
    assert.equal(await page.getByLabel('From which day').inputValue(), '2');
    await clerk.looks('a car rejoins');
    assert.match(await decide('Mended overnight', 'Keep that it rejoins'), /retired → running/);
    assert.equal(await status(1), 'running');
  });

  test('a retirement is undone, and a point closed and opened again', async () => {
    await clerk.press('Retire car 2');
    await decide('Water pump', 'Keep the retirement');
    await clerk.press('Undo the retirement of car 2');
    assert.match(await decide('It was car 5', 'Keep this'), /retired → running/);
    assert.equal(await status(2), 'running');
    assert.equal((await newest()).what, 'undone: retire for car 2 at PC1');
    await clerk.press('Close T1/1');
    await decide('The last car is through', 'Close it');
    await clerk.on('Open again T1/1');
    await clerk.press('Open again T1/1');
    await decide('One more comes', 'Open it');
    await clerk.on('Close T1/1');
  });

  test('an entry is withdrawn, and a crew changes with its day', async () => {
    await clerk.section('cars');
    await clerk.press('Withdraw car 9');
    await heading('Car 9 is withdrawn');
    await decide('Sold on Tuesday', 'Keep the withdrawal');
    assert.equal(await status(9), 'not-started');
    await clerk.on('Undo the withdrawal of car 9');
    await clerk.press('Change car 8');
    await clerk.type('Navigator', 'L. Gale');
    await page.getByLabel('From which day it is so', { exact: true }).fill('2031-06-07');
    await clerk.type('Why it changes', 'P. Ling is ill');
    await clerk.looks('a crew changes');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() =>
      document.activeElement.textContent.includes('What would change'),
    );
    await clerk.press('Take this list');
    await page.waitForFunction(() =>
      document.querySelector('#entries').textContent.includes('L. Gale'),
    );
    const { changes, why, by, since } = await newest();
    assert.deepEqual(
      [changes, why, by, since],
      [['car 8: navigator P. Ling → L. Gale'], 'P. Ling is ill', 'C. Clerk', '2031-06-07'],
    );
    await clerk.looks('the entry list');
  });

  test('a doubt and a refused row are acknowledged, and one is taken up again', async () => {
    await clerk.section('review');
    const doubt = 'Car 3 at PC1: the desk has a doubt';
    await clerk.press('Look at ' + doubt);
    await heading(doubt);
    await clerk.press('Nothing to rule');
    await heading(doubt);
    await clerk.looks('a doubt is left as it is');
    await clerk.type('Why it may stay as it is', 'Asked the desk: it was typed from paper');
    await page.keyboard.press('Enter');
    await page.waitForFunction(
      (words) => !document.querySelector('#doubts').textContent.includes(words),
      doubt,
    );
    const row = (await page.locator('#refused tbody th').innerText()).trim();
    assert.match(row, /^Row 2 of the upload of Desk A was refused: .*77/);
    await clerk.press('Look at ' + row);
    await clerk.type('Why it may stay as it is', 'There is no car 77');
    await page.keyboard.press('Enter');
    await page.waitForSelector('#refused', { state: 'detached' });
    await page.locator('#acknowledged summary').focus();
    await page.keyboard.press('Enter');
    await clerk.looks('what was acknowledged');
    await clerk.press(`Take up again: ${row}`);
    await clerk.type('Why it is looked at again', 'Was it car 7?');
    await page.keyboard.press('Enter');
    await page.waitForSelector('#refused');
  });

  test('all of it is found in the log', async () => {
    await clerk.section('log');
    await page.reload();
    await page.waitForSelector('html[data-section="log"] #facts');
    assert.deepEqual(await clerk.walk(), []);
    const facts = () =>
      page
        .locator('#facts tbody tr')
        .evaluateAll((rows) =>
          rows.map((row) =>
            [...row.cells].slice(1, 4).map((cell) => cell.innerText.trim().replace(/\s+/g, ' ')),
          ),
        );
    const find = async (words) => {
      await clerk.type('Words', words);
      await page.keyboard.press('Enter');
      await page.waitForFunction((wanted) => {
        const rows = [...document.querySelectorAll('#facts tbody tr')];
        return (
          rows.length > 0 &&
          rows.every((row) =>
            wanted
              .toLowerCase()
              .split(' ')
              .every((word) => row.textContent.toLowerCase().includes(word)),
          )
        );
      }, words);
      return facts();
    };
    await clerk.looks('the log');
    assert.deepEqual(await find('axle'), [
      ['Retire for car 1 at S1/finish', 'Axle', 'C. Clerk, by key 1'],
    ]);
    await clerk.press(await page.locator('#facts button').getAttribute('aria-label'));
    await heading('Retire for car 1 at S1/finish');
    assert.match(await page.locator('#effect').innerText(), /running → retired/);
    await clerk.looks('what it did');
    await clerk.press('Close');
    assert.match(await clerk.focused(), /^What it did: retire for car 1/);
    assert.deepEqual(
      (await find('sold')).map(([what]) => what),
      ['Car 9 withdrawn before the start'],
    );
    assert.match((await find('typed from paper'))[0][0], /^Acknowledged: Car 3 at PC1/);
    assert.deepEqual(
      (await find('gale'))[0][0],
      'Entry list replaced from 2031-06-07 on car 8: navigator P. Ling → L. Gale',
    );
    await clerk.type('Words', '');
    await clerk.type('Car number', '1');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => document.querySelectorAll('#facts tbody tr').length === 3);
    assert.deepEqual(
      (await facts()).map(([what]) => what),
      ['Rejoin from day 2 for car 1', 'Retire for car 1 at S1/finish', '8 readings imported'],
    );
  });

  test('uploads of one desk are one line, and older entries follow', async () => {
    for (let i = 0; i < 60; i++)
      await served.ask('readings', [{ point: 'PC1', car: '5', id: `many-${i}` }]);
    await clerk.type('Car number', '');
    await page.getByLabel('Show', { exact: true }).focus();
    await page.keyboard.press('ArrowDown');
    await page.locator('#older').waitFor();
    assert.match(
      await page.locator('#facts tbody tr').first().innerText(),
      /50 readings in 50 uploads/,
    );
    await clerk.press('Older entries');
    await page.waitForFunction(() => document.querySelectorAll('#facts tbody tr').length > 10);
    assert.match(
      await page.locator('#facts tbody tr').first().innerText(),
      /60 readings in 60 uploads/,
    );
    assert.equal(await page.locator('#older').count(), 0);
    await clerk.looks('a log of many');
  });
});
