// SPDX-License-Identifier: MIT
// A crew on a phone asks about its card and reads the answer, with and without JavaScript; the
// office hands out codes.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { createServer } from 'node:http';
import { after, before, describe, test } from 'node:test';
import {
  PageErrors,
  Served,
  axe,
  contextOf,
  events,
  keyboard,
  launch,
  legible,
  sideways,
} from '../support/setup.mjs';
import { faultsOf } from '../support/html.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };
const WORDS = 'Sheep on the bridge,\nnobody could pass. <b>Really</b> & truly.';

describe('a crew with its code', { timeout: 400_000 }, () => {
  let browser, served, codes;
  before(async () => {
    browser = await launch();
    served = await Served.start(events.hostile);
    const told = await ask('codes');
    codes = new Map((await told.json()).codes.map(({ car, code }) => [car, code]));
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  function ask(name, body = null) {
    return fetch(`${served.origin}/api/v1/events/${served.slug}/${name}`, {
      method: body ? 'POST' : 'GET',
      body: body && JSON.stringify(body),
      headers: { Authorization: `Bearer ${served.organiser}`, 'Content-Type': 'application/json' },
    });
  }

  async function phone(options, act) {
    const context = await contextOf(browser, { ...PHONE, ...options });
    const page = await context.newPage();
    const pageErrors = new PageErrors(page);
    try {
      await act(page);
      // A page that tells an error has its status, and the browser says so.
      assert.deepEqual(
        pageErrors.take().filter((error) => !/^answer: \S+ 4\d\d$|status of 4\d\d/.test(error)),
        [],
      );
    } finally {
      await context.close();
    }
  }

  /** What is wrong with the look and the source of the page that is open. */
  async function looks(page, source = null) {
    const faults = [...(await sideways(page)), ...(await legible(page)), ...(await keyboard(page))];
    for (const colorScheme of ['light', 'dark']) {
      await page.emulateMedia({ colorScheme });
      faults.push(...(await axe(page)).faults);
    }
    if (source) faults.push(...(await faultsOf({ address: page.url(), source })));
    return faults;
  }

  for (const [car, javaScriptEnabled] of [
    [1, true],
    [2, false],
  ]) {
    test(`asks and is answered ${javaScriptEnabled ? 'with' : 'without'} JavaScript`, () =>
      phone({ javaScriptEnabled }, async (page) => {
        const whole = async (source) =>
          javaScriptEnabled && assert.deepEqual(await looks(page, source), []);
        await page.goto(`${served.origin}/${served.slug}/cars/${car}?lang=de`);
        await page.locator('.asking summary').click();
        await whole(null);
        await page.getByLabel('Code Ihres Teams').fill('AAA AAA AAA');
        await page.getByLabel('Betrifft').selectOption('TC1');
        await page.getByLabel('Ihre Frage').fill(WORDS);
        let [answer] = await Promise.all([
          page.waitForResponse((r) => r.request().method() === 'POST'),
          page.getByRole('button', { name: 'An das Büro senden' }).click(),
        ]);
        assert.equal(answer.status(), 403);
        await page.waitForSelector('.fault');
        assert.match(await page.locator('.fault').innerText(), /nicht der Code/);
        assert.equal(await page.getByLabel('Ihre Frage').inputValue(), WORDS);
        assert.equal(await page.getByLabel('Betrifft').inputValue(), 'TC1');
        await whole(await answer.text());
        await page.getByLabel('Code Ihres Teams').first().fill(codes.get(car).toLowerCase());
        await page.getByRole('button', { name: 'An das Büro senden' }).click();
        await page.waitForSelector('#receipt');
        assert.doesNotMatch(page.url(), new RegExp(codes.get(car), 'i'));
        const number = /Nummer (\d+)/.exec(await page.locator('#receipt').innerText())[1];
        await whole(null);
        assert.equal(
          (await ask(`enquiries/${number}`, { outcome: 'upheld', text: 'One minute less.' }))
            .status,
          200,
        );
        await page.getByLabel('Code Ihres Teams').fill(codes.get(car));
        [answer] = await Promise.all([
          page.waitForResponse((r) => r.request().method() === 'POST'),
          page.getByRole('button', { name: 'Zeigen' }).click(),
        ]);
        await page.waitForSelector(`#case-${number}`);
        const told = await page.locator(`#case-${number}`).innerText();
        for (const words of [WORDS, 'One minute less.', 'Stattgegeben', 'TC1'])
          assert.ok(told.includes(words), told);
        await whole(await answer.text());
      }));
  }

  test('is told apart from a page of another site', () =>
    phone({}, async (page) => {
      const other = createServer((_, response) =>
        response
          .setHeader('Content-Type', 'text/html')
          .end(
            `<form method="post" action="${served.origin}/${served.slug}/cars/3/enquiry">` +
              `<input name="code" value="${codes.get(3)}"><input name="text" value="Not by the crew">` +
              '<button>x</button></form>',
          ),
      );
      await new Promise((resolve) => {
        other.listen(0, '127.0.0.1', resolve);
      });
      await page.goto(`http://localhost:${other.address().port}/`);
      const [answer] = await Promise.all([
        page.waitForResponse((r) => r.request().method() === 'POST'),
        page.locator('button').click(),
      ]);
      assert.equal(answer.status(), 403);
      other.closeAllConnections();
      other.close();
      assert.doesNotMatch(await (await ask('enquiries')).text(), /Not by the crew/);
    }));

  test('is given it by the office, and a new one', () =>
    phone({ acceptDownloads: true }, async (page) => {
      await page.goto(`${served.origin}/${served.slug}/office#${served.organiser}`);
      await page.locator('#sections').getByText('Keys', { exact: true }).click();
      for (const [button, begins] of [
        ['Strips as PDF', '%PDF-'],
        ['Codes as CSV', 'number,driver'],
      ]) {
        const [download] = await Promise.all([
          page.waitForEvent('download'),
          page.getByRole('button', { name: button }).click(),
        ]);
        assert.ok(readFileSync(await download.path(), 'latin1').startsWith(begins), button);
      }
      await page.getByLabel('New code for car').fill('5');
      await page.getByRole('button', { name: 'Make a new code' }).click();
      await page.waitForSelector('#renewed strong');
      const made = await page.locator('#renewed strong').innerText();
      assert.notEqual(made, codes.get(5));
      const now = (await (await ask('codes')).json()).codes.find(({ car }) => car === 5).code;
      assert.equal(made, now);
      await page.getByLabel('New code for car').fill('77');
      await page.getByRole('button', { name: 'Make a new code' }).click();
      await page.waitForSelector('.faults');
      assert.match(await page.locator('.faults').innerText(), /no car/);
    }));
});
