// SPDX-License-Identifier: MIT
// The organiser's notices and enquiries: from the first bulletin to the final classification, by
// keyboard alone.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { after, before, describe, test } from 'node:test';
import { PageErrors, Served, contextOf, events, launch, writeJson } from '../support/setup.mjs';
import { Clerk, TABLET } from '../support/office.mjs';

/** The small event, with a protest period that a test can wait for. */
function withPeriod(folder) {
  events.hostile(folder);
  const event = JSON.parse(readFileSync(path.join(folder, 'event.json'), 'utf8'));
  writeJson(folder, 'event.json', {
    ...event,
    scoring: { ...event.scoring, protest_period: '00:00:03' },
  });
}

const CLOSED = ['day:1', 'day:2'].map((point) => ({
  kind: 'close',
  point,
  reason: 'last car is in',
}));
// What the tests provoke: Chromium writes every refusal to the console.
const REFUSED = [/ 412/, / 422/, /status of 4[12]2/];

describe('notices and enquiries in the office', { timeout: 400_000 }, () => {
  let browser, clerk, page, served;

  before(async () => {
    served = await Served.start(withPeriod);
    browser = await launch();
    clerk = await Clerk.open(
      await contextOf(browser, { viewport: TABLET, hasTouch: true }),
      served,
      'C. Clerk',
      { allow: REFUSED },
    );
    ({ page } = clerk);
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  /** The whole text of what has the focus. */
  const told = () => page.evaluate(() => document.activeElement.textContent);
  const notices = async () => (await served.ask('notices')).notices;
  const sealed = (number) => served.ask(`notices/${number}`);
  const dialog = () => page.locator('dialog[open]');
  const steps = (within) =>
    page
      .locator(`${within} .steps li`)
      .evaluateAll((items) =>
        items.map((item) => [item.className, item.querySelector('strong').textContent]),
      );

  test('a bulletin is looked at, then posted', async () => {
    await clerk.section('notices');
    assert.deepEqual(await clerk.walk(), []);
    await clerk.looks('nothing posted');
    await page.locator('#bulletin button').focus();
    await page.keyboard.press('Enter');
    assert.match(await told(), /There is a problem.*Give the bulletin a title/s);
    await clerk.type('Title', 'Fog <b>on</b> the moor');
    await clerk.type('Text', 'Day two starts later.\nTake care.');
    await clerk.press('Look at it, then post');
    await clerk.on('Post this bulletin?');
    assert.match(
      await dialog().innerText(),
      /Fog <b>on<\/b> the moor\s+Day two starts later\.\s+Take care\./,
    );
    await clerk.looks('a bulletin before it is posted');
    await page.keyboard.press('Escape');
    await dialog().waitFor({ state: 'detached' });
    await clerk.on('Look at it, then post');
    assert.deepEqual(await notices(), []);
    await page.keyboard.press('Enter');
    await clerk.press('Post it');
    await page.waitForSelector('#notice');
    await clerk.on('Notice 1: Fog <b>on</b> the moor');
    const [{ title, text, kind, hash }] = await notices();
    assert.deepEqual(
      [title, text, kind],
      ['Fog <b>on</b> the moor', 'Day two starts later.\nTake care.', 'bulletin'],
    );
    const shown = await page.locator('#notice').innerText();
    assert.ok(
      shown.includes(hash) && /The seal is whole/.test(shown) && /the event's own key/.test(shown),
      shown,
    );
    await clerk.press('Close');
    assert.equal(await page.evaluate(() => document.activeElement.dataset.notice), '1');
  });

  test('what is hidden holds back a provisional classification', async () => {
    await page.locator('#post-provisional').focus();
    await page.keyboard.press('Enter');
    await page.waitForSelector('#way .calm');
    assert.match(await told(), /Nothing was posted/);
    assert.ok(
      (await steps('#way')).some(
        ([state, name]) => state === 'left' && /^Nothing is hidden/.test(name),
      ),
    );
    await clerk.looks('a provisional that has to wait');
    assert.equal((await notices()).length, 1);
  });

  test('a provisional classification is posted as it was shown', async () => {
    await served.ask('decisions', CLOSED);
    await clerk.section('room');
    await clerk.section('notices');
    await clerk.type('Words above the tables', 'Protests to the secretary.');
    await clerk.press('Look at the provisional, then post');
    await dialog().waitFor();
    await clerk.on('Post notice 2: Provisional classification?');
    const shown = await dialog().innerText();
    await clerk.looks('a provisional before it is posted');
    await clerk.press('Post it as provisional');
    await page.waitForSelector('#notice');
    const { content } = await sealed(2);
    assert.ok(
      shown.includes(`public's revision ${content.revision}`) &&
        shown.includes('Protests to the secretary.') &&
        shown.includes(
          `${content.overall.standings.length} with a place, ${content.overall.unplaced.length} without`,
        ),
      shown,
    );
    assert.equal(Date.parse(content.protest_until) - Date.parse(content.posted), 3000);
    assert.equal(
      await page.locator(`#notice time[datetime="${content.protest_until}"]`).count(),
      1,
    );
    assert.deepEqual(content.text, 'Protests to the secretary.');
  });

  test('an enquiry comes on paper', async () => {
    await clerk.section('enquiries');
    await clerk.looks('no enquiry');
    await page.locator('#record button').focus();
    await page.keyboard.press('Enter');
    assert.match(await told(), /Enter the car's number.*Write down what the crew says/s);
    await clerk.type('Car number', '77');
    await clerk.type('Point or test', 'TC1');
    await clerk.type('What the crew says', 'We were held up <i>by sheep</i>.');
    await clerk.type('Handed in at', '1432');
    await clerk.press('Record it');
    await page.waitForSelector('#record .faults >> text=77');
    assert.match(await told(), /is not in the entry list/);
    await page.getByLabel('Car number', { exact: true }).fill('2');
    await clerk.press('Record it');
    await page.waitForSelector('#case-1');
    assert.match(
      await page.locator('#case-1').innerText(),
      /Enquiry 1, car 2 at TC1\s+B\. Ashdown .*entered by the office|held up <i>by sheep<\/i>.*handed in at 14:32, taken by C\. Clerk/s,
    );
    const [kept] = (await served.ask('enquiries')).enquiries;
    assert.equal(
      kept.text,
      'We were held up <i>by sheep</i>.\n\nOn paper, handed in at 14:32, taken by C. Clerk.',
    );
    await clerk.looks('an open enquiry');
  });

  test('a final classification is refused with all that is left', async () => {
    await served.ask('readings', [
      { point: 'TC1', car: 8, time: '08:53', id: 'd-1' },
      { point: 'TC1', car: 8, time: '08:54', id: 'd-2' },
    ]);
    await clerk.section('notices');
    assert.deepEqual(
      (await steps('#notices'))
        .filter(([state]) => state === 'done')
        .map(([, name]) => name)
        .slice(0, 2),
      ['Every point is closed', 'Nothing is hidden from the public any more'],
    );
    await page.locator('#post-final').focus();
    await page.keyboard.press('Enter');
    await page.waitForSelector('#way .calm');
    const left = (await steps('#way'))
      .filter(([state]) => state === 'left')
      .map(([, name]) => name)
      .filter((name) => name !== 'Its protest period is over'); // it may be, by now
    assert.deepEqual(left, ['Nothing is doubtful', 'Every enquiry and protest is answered']);
    assert.match(await page.locator('#way').innerText(), /car 8 at TC1.*case 1 of car 2/s);
    await clerk.looks('a final that has to wait');
    assert.equal((await notices()).length, 2);
    await page.locator('#way a[href="#review"]').press('Enter');
    await page.waitForSelector('section#review');
    await served.ask('readings', [
      { point: 'TC1', car: 8, void: true, replaces: 'd-2', reason: 'it was car 9' },
    ]);
  });

  test('the enquiry is a case of the review, and is answered once', async () => {
    await served.ask('decisions', [
      { kind: 'allowance', car: 2, point: 'TC1', value: '00:01', reason: 'held up by sheep' },
    ]);
    assert.match(await page.locator('#cases').innerText(), /1 enquiry or protest is open/);
    await page.getByRole('link', { name: 'Answer Enquiry 1, car 2 at TC1' }).press('Enter');
    await page.waitForSelector('#answer');
    await clerk.on('Answer Enquiry 1, car 2 at TC1');
    await clerk.looks('an enquiry while it is answered');
    await page.getByLabel('Outcome', { exact: true }).selectOption('upheld');
    await clerk.type('Answer', 'You were.');
    const { decisions } = await served.ask('decisions');
    await page
      .getByLabel('The decision that it rests on', { exact: true })
      .selectOption(String(decisions.find((d) => d.kind === 'allowance').number));
    await clerk.press('Look at it, then send');
    await dialog().waitFor();
    await clerk.looks('an answer before it is sent');
    await clerk.press('Send the answer');
    await page.waitForSelector('#answered');
    const [{ answer }] = (await served.ask('enquiries')).enquiries;
    assert.equal(answer.outcome, 'upheld');
    assert.match(
      answer.text,
      /^You were\.\n\nIt rests on decision \d+ \(allowance of car 2 at TC1, 00:01\): held up by sheep\nAnswered by C\. Clerk\.$/,
    );
    assert.match(
      await page.locator('#answered').innerText(),
      /Enquiry 1, car 2 at TC1.*upheld.*You were\./s,
    );
    assert.match(await page.locator('#enquiries').innerText(), /None is open/);
    await clerk.looks('an answered enquiry');
  });

  test('what changed meanwhile is not posted unseen', async () => {
    while ((await served.ask('classifications/final')).obstacles.length)
      await page.waitForTimeout(50);
    await clerk.section('notices');
    await page.locator('#post-final').focus();
    await page.keyboard.press('Enter');
    await dialog().waitFor();
    await served.ask('decisions', [{ kind: 'penalty', car: 1, value: '5', reason: 'lamp' }]);
    await clerk.press('Post it as final');
    await page.waitForSelector('#classification .faults');
    assert.match(await told(), /Somebody else was first/);
    assert.equal((await notices()).length, 2);
  });

  test('the final classification is posted with what changed', async () => {
    await page.locator('#post-final').focus();
    await page.keyboard.press('Enter');
    await dialog().waitFor();
    const rows = await dialog()
      .locator('.differences tbody tr')
      .evaluateAll((list) => list.map((row) => [...row.cells].map((cell) => cell.textContent)));
    await clerk.looks('a final before it is posted');
    await clerk.press('Post it as final');
    await page.waitForSelector('#notice');
    const { content, hash } = await sealed(3);
    assert.deepEqual([content.kind, content.supersedes, content.protest_until], ['final', 2, null]);
    const moved = (old, now) => (old === now ? now : `${old} → ${now}`);
    const place = (position) => (position === null ? 'no place' : String(position));
    const byCar = (a, b) => a[0] - b[0];
    assert.deepEqual(
      rows.map(([car, , cost, overall]) => [Number(car), cost, overall]).sort(byCar),
      content.differences
        .map(({ car, before: b, after: a }) => [
          car,
          moved(b.penalty, a.penalty),
          moved(place(b.position), place(a.position)),
        ])
        .sort(byCar),
    );
    assert.ok(
      rows.some(([car]) => car === '1') && rows.some(([car]) => car === '2'),
      JSON.stringify(rows),
    );
    assert.match(await page.locator('#state').innerText(), /Results are final/);
    assert.match(await page.locator('#notices').innerText(), /The results are final/);
    const shown = await page.locator('#notice').innerText();
    assert.ok(shown.includes(hash) && /The seal is whole/.test(shown), shown);
    await clerk.looks('the final classification');
  });

  test('a notice that was tampered with is found out', async () => {
    await page.route(/\/notices\/3$/, async (route) => {
      const answer = await route.fetch();
      await route.fulfill({
        response: answer,
        body: (await answer.text()).replace('Final', 'Fatal'),
      });
    });
    await page.getByRole('button', { name: 'Look at notice 3' }).press('Enter');
    await page.waitForSelector('#notice .fault');
    assert.match(await page.locator('#notice').innerText(), /Fatal.*The seal is broken/s);
    await page.unroute(/\/notices\/3$/);
    // Over plain http from another machine a browser has no means to check.
    await page.evaluate(() => Object.defineProperty(crypto, 'subtle', { value: undefined }));
    await page.getByRole('button', { name: 'Look at notice 3' }).press('Enter');
    await page.locator('#notice', { hasText: `cairn verify DATA_DIR ${served.slug} 3` }).waitFor();
  });

  test('the notice board shows all of it to everybody', async () => {
    assert.deepEqual(clerk.errors.take(), []);
    // Beside the office: whoever leaves that while it asks something makes an error of it.
    const reader = new Clerk();
    reader.page = await page.context().newPage();
    reader.errors = new PageErrors(reader.page);
    await reader.page.goto(`${served.origin}/${served.slug}/notices`);
    assert.deepEqual(await reader.page.locator('article h2').allInnerTexts(), [
      '3. Final classification',
      '2. Provisional classification',
      '1. Fog <b>on</b> the moor',
    ]);
    for (const summary of await reader.page.locator('article summary').all())
      await summary.press('Enter');
    const shown = await reader.page.locator('#notice-3').innerText();
    const { hash, signer } = await sealed(3);
    assert.ok(
      [hash, signer, 'The seal is whole', 'Replaces notice 2'].every((part) =>
        shown.includes(part),
      ),
      shown,
    );
    assert.equal(
      await reader.page.locator('#notice-3 tbody tr').count(),
      (await sealed(3)).content.differences.length,
    );
    assert.deepEqual(await reader.walk(), []);
    await reader.looks('the notice board');
    const paper = await fetch(
      await reader.page.locator('#notice-3 a', { hasText: 'PDF' }).evaluate((a) => a.href),
    );
    assert.equal(paper.headers.get('content-type'), 'application/pdf');
  });
});
