// SPDX-License-Identifier: MIT
// The entry list in the office: a pasted list row by row, whole or not at all; numbers by age with
// exceptions by hand; with a colleague at work; by keyboard, for axe, on a tablet and a phone.

import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import path from 'node:path';
import { after, before, describe, test } from 'node:test';
import {
  PageErrors,
  Served,
  axe,
  contextOf,
  csvRows,
  events,
  keyboard,
  launch,
  legible,
  sideways,
} from '../support/setup.mjs';

const WIDTHS = [
  { width: 820, height: 1180 },
  { width: 390, height: 844 },
];
const HEAD = 'number,driver,navigator,make,model,year,engine_cc,category\n';
const CARS =
  HEAD +
  `1,A. Thorn,M. Vale,Halden,Four,1934,1500,open
2,B. Reed,,Halden,Four,1930,,open
3,C. Moss,,Halden,Four,1930,1100,club
4,D. Fern,,Halden,Four,1930,900,club
`;

/** The small event before anybody has started. */
function early(folder) {
  events.hostile(folder);
  writeFileSync(path.join(folder, 'entries.csv'), CARS);
  writeFileSync(path.join(folder, 'readings.csv'), 'point,car,time\n');
  writeFileSync(path.join(folder, 'decisions.csv'), 'kind,car,point,value,reason\n');
}

describe('the entry list in the office', { timeout: 400_000 }, () => {
  let browser, served, page, pageErrors;

  before(async () => {
    served = await Served.start(early);
    browser = await launch();
    page = await (await contextOf(browser, { viewport: WIDTHS[0] })).newPage();
    // Conflicts and refusals are what these tests bring about.
    pageErrors = new PageErrors(page, [/ 400|\(400| 412|\(412/]);
    await page.goto(`${served.origin}/${served.slug}/office#${served.organiser}`);
    await page.locator('#sections a').first().waitFor();
    await page.goto(`${served.origin}/${served.slug}/office#cars`);
    await page.locator('#entries').waitFor();
    await page.getByText('Import a list').click();
    await page.getByText('Number by age', { exact: true }).click();
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  async function inForce() {
    const answer = await fetch(`${served.api}/entries`, {
      headers: { Authorization: `Bearer ${served.organiser}` },
    });
    return answer.text();
  }

  const take = () => page.getByRole('button', { name: 'Take this list' });
  const rows = (id) =>
    page
      .locator(`#${id} tbody tr`)
      .allInnerTexts()
      .then((all) => all.map((row) => row.split('\t')));

  async function clean(what) {
    for (const size of WIDTHS) {
      await page.setViewportSize(size);
      assert.deepEqual((await axe(page)).faults, [], `${what} at ${size.width}`);
      assert.deepEqual(await sideways(page), [], `${what} at ${size.width}`);
      assert.deepEqual(await legible(page), [], `${what} at ${size.width}`);
    }
    await page.setViewportSize(WIDTHS[0]);
  }

  async function paste(text) {
    await page.getByLabel('Paste a list').fill(text);
    await page.getByRole('button', { name: 'Show what would change' }).press('Enter');
  }

  test('a refused row refuses the list, and says why', async () => {
    const before = await inForce();
    await paste('Number\tDriver\tYear\n1\tA. Thorn\t1935\n2\tB. Reed\t1930\n9\tE. Sedge\tsoon\n');
    await page.locator('#rows').waitFor();
    const told = await rows('rows');
    assert.deepEqual(
      told.map((row) => row.slice(0, 3)),
      [
        ['4', 'refused', '9'],
        ['2', 'changed', '1'],
      ],
    );
    assert.match(told[0].at(-1), /year “soon” must be from 1885 to 2100/);
    assert.equal(told[1].at(-1), 'year: 1934 → 1935');
    await page.getByText('3 rows: 1 refused, 0 added, 1 changed, 1 the same.').waitFor();
    assert.equal(await take().count(), 0);
    await clean('a refused list');
    assert.deepEqual(await keyboard(page), []);
    assert.equal(await inForce(), before);
  });

  test('a list is taken as it was shown', async () => {
    await paste(
      'number;driver;navigator;make;model;year;engine_cc;category\n' +
        '1;A. Thorn;P. Ling;Halden;Four;1934;1500;open\n9;E. Sedge;;Marl;Ten;1930;1100;club\n',
    );
    await page.getByText('2 rows: 0 refused, 1 added, 1 changed, 0 the same.').waitFor();
    await take().press('Enter');
    await page.locator('#entries caption', { hasText: '5 cars' }).waitFor();
    const now = csvRows(await inForce());
    assert.deepEqual(
      now.map((car) => [car.number, car.navigator]),
      [
        ['1', 'P. Ling'],
        ['2', ''],
        ['3', ''],
        ['4', ''],
        ['9', ''],
      ],
    );
  });

  test('numbers by age, with exceptions by hand, seen before they are taken', async () => {
    await page.getByLabel('Cars that keep their number').fill('2');
    await page.getByLabel('Numbers that nobody gets').fill('4');
    await page.getByRole('button', { name: 'Show the numbers' }).press('Enter');
    await page.locator('#numbers').waitFor();
    // The two of 1930 with 1,100 cc stand in the order of entry.
    assert.deepEqual(
      (await rows('numbers')).map((row) => [row[0], row[1], row[2], row.at(-1)]),
      [
        ['1', '4', 'D. Fern', 'age'],
        ['2', '2', 'B. Reed', 'hand'],
        ['3', '3', 'C. Moss', 'age'],
        ['5', '9', 'E. Sedge', 'age'],
        ['6', '1', 'A. Thorn', 'age'],
      ],
    );
    await clean('numbers');
    await take().press('Enter');
    await page
      .locator('#entries tbody tr', { hasText: 'A. Thorn' })
      .getByRole('rowheader', { name: '6' })
      .waitFor();
    assert.deepEqual(
      csvRows(await inForce()).map((car) => [car.driver, car.number]),
      [
        ['A. Thorn', '6'],
        ['B. Reed', '2'],
        ['C. Moss', '3'],
        ['D. Fern', '1'],
        ['E. Sedge', '5'],
      ],
    );
  });

  test('what cannot be read in an exception is told, and a car that is not there', async () => {
    await page.getByLabel('Numbers by hand').fill('6');
    await page.getByRole('button', { name: 'Show the numbers' }).press('Enter');
    await page
      .locator('.faults', { hasText: "write a car's number now and its new one" })
      .waitFor();
    await page.getByLabel('Numbers by hand').fill('44=1');
    await page.getByRole('button', { name: 'Show the numbers' }).press('Enter');
    await page.getByText('there is no car 44').waitFor();
    assert.equal(await take().count(), 0);
    await page.getByLabel('Numbers by hand').fill('');
  });

  test('a colleague who was first is told of, and what was typed stays', async () => {
    const text = 'number,club\n6,Curlew Motor Club\n';
    await paste(text);
    await take().waitFor();
    const theirs = (await inForce()).replace('B. Reed', 'B. Reedling');
    const answer = await fetch(`${served.api}/entries`, {
      method: 'PUT',
      body: theirs,
      headers: { Authorization: `Bearer ${served.organiser}`, 'Content-Type': 'text/csv' },
    });
    assert.equal(answer.status, 200, await answer.text());
    await take().click();
    await page
      .locator('.faults', { hasText: 'Somebody else has changed the entry list' })
      .waitFor();
    assert.equal(await inForce(), theirs);
    assert.equal(await page.getByLabel('Paste a list').inputValue(), text);
    await page.locator('#entries tbody tr', { hasText: 'B. Reedling' }).waitFor(); // theirs is what is changed now
    await page.getByRole('button', { name: 'Show what would change' }).press('Enter');
    await take().click();
    await page
      .locator('section#cars [aria-live]', { hasText: 'What would change' })
      .waitFor({ state: 'hidden' });
    const now = csvRows(await inForce());
    assert.deepEqual(now.map((car) => [car.driver, car.club]).slice(0, 2), [
      ['A. Thorn', 'Curlew Motor Club'],
      ['B. Reedling', ''],
    ]);
  });

  test('numbers stay once a car was read', async () => {
    await served.ask('readings', [{ point: 'PC1', car: '6' }]);
    await page.getByRole('button', { name: 'Show the numbers' }).press('Enter');
    await page.getByText('numbers stay as they are').waitFor();
    assert.equal(await take().count(), 0);
    assert.deepEqual(pageErrors.take(), []);
  });
});
