// SPDX-License-Identifier: MIT
// An event whose teams are clubs, with a control that some cars do not pass: what the office calls
// things, and what it says of a reading and of a decision there.

import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { after, before, describe, test } from 'node:test';
import { Served, contextOf, events, launch } from '../support/setup.mjs';
import { Clerk, TABLET } from '../support/office.mjs';

function clubs(folder) {
  events.hostile(folder);
  const file = path.join(folder, 'event.json');
  const event = JSON.parse(readFileSync(file, 'utf8'));
  event.scoring.teams.by = 'club';
  event.route.find((item) => item.id === 'PC1').for = [{ category: 'club', off: true }];
  writeFileSync(file, JSON.stringify(event));
  const entries = path.join(folder, 'entries.csv');
  const [head, ...rows] = readFileSync(entries, 'utf8').trimEnd().split('\n');
  writeFileSync(
    entries,
    [`${head},club`, ...rows.map((row) => `${row},Withy & <b>Marl</b>`), ''].join('\n'),
  );
}

describe('the office of an event of clubs', { timeout: 300_000 }, () => {
  let browser, clerk, page, served;

  before(async () => {
    served = await Served.start(clubs);
    await served.ask('readings', [{ point: 'PC1', car: 3, id: 'off-3' }]);
    browser = await launch();
    clerk = await Clerk.open(await contextOf(browser, { viewport: TABLET }), served, 'C. Clerk');
    ({ page } = clerk);
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  test('the entry list has their clubs where teams would stand', async () => {
    await clerk.section('cars');
    const heads = await page.locator('#entries thead th').allTextContents();
    assert.ok(heads.includes('Club') && !heads.includes('Team'), heads.join());
    const [first] = await clerk.rows('#entries');
    assert.equal(first[heads.indexOf('Club')], 'Withy & <b>Marl</b>');
  });

  test('a reading off the route is called so', async () => {
    await clerk.section('review');
    await page.getByText('Car 3 at PC1: read off its route', { exact: true }).waitFor();
  });

  test('a decision off the route is shown to have no effect', async () => {
    await clerk.section('decisions');
    await clerk.choose('Kind', 'Penalty');
    await clerk.type('Car number', '3');
    await clerk.type('Point or test', 'PC1');
    await clerk.type('Value', '20');
    await clerk.type('Reason', 'Judge of facts');
    await clerk.press('Show what it does');
    await page
      .getByText('PC1 is not on the route of car 3: the penalty has no effect.', { exact: true })
      .waitFor();
    await page.getByText('It changes no penalty and no place.', { exact: true }).waitFor();
    await clerk.type('Car number', '1', '#office');
    await clerk.press('Show what it does');
    await page.locator('#effect').waitFor();
    assert.equal(await page.getByText('has no effect').count(), 0);
    assert.deepEqual(clerk.errors.take(), []);
  });
});
