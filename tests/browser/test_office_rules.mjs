// SPDX-License-Identifier: MIT
// The rules in the office: in forms and as text, each error at its field, tried before they are
// taken, with a colleague at work; by keyboard, for axe, at three widths.

import assert from 'node:assert/strict';
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
import { rulesForms } from '../support/office.mjs';

const SHEETS = [
  'Event and days',
  'Classes',
  'What is charged',
  'Totals and ranking',
  'Route',
  'Prizes',
];

describe('the rules in the office', { timeout: 400_000 }, () => {
  let browser, served, page, pageErrors, forms;

  before(async () => {
    served = await Served.start(events.hostile);
    browser = await launch();
    page = await (await contextOf(browser)).newPage();
    // Conflicts and refusals are what these tests bring about.
    pageErrors = new PageErrors(page, [/ 412|\(412| 422/]);
    await page.goto(`${served.origin}/${served.slug}/office#${served.organiser}`);
    await page.locator('#sections a').first().waitFor();
    forms = rulesForms(page, served);
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  const rules = () => served.ask('rules');
  const put = async (body, tag) => {
    const answer = await fetch(`${served.api}/rules`, {
      method: 'PUT',
      body: JSON.stringify(body),
      headers: {
        Authorization: `Bearer ${served.organiser}`,
        'Content-Type': 'application/json',
        ...(tag ? { 'If-Match': tag } : {}),
      },
    });
    assert.equal(answer.status, 200, await answer.text());
  };

  test('some cars get other values, and an example of their own', async () => {
    await forms.open('Route');
    await page.getByRole('button', { name: 'Change R1', exact: true }).click();
    await page.getByText('Other values for some cars').click();
    await page.getByRole('button', { name: 'Add a line' }).click();
    await page.getByRole('group', { name: 'Line 1, for nobody yet' }).waitFor();
    await forms.write('route[2].for[0].period', 'C');
    await page.getByRole('group', { name: 'For periods C', exact: true }).waitFor();
    await page.getByRole('button', { name: 'Remove For periods C', exact: true }).waitFor();
    await forms.write('route[2].for[0].checks', '2');
    await page.getByText('What they are charged otherwise').click();
    await forms.write('route[2].for[0].penalty.late', '3');
    await page
      .getByRole('cell', { name: /^Values for period C \(Vintage\)\./ })
      .first()
      .waitFor();
    assert.equal(await page.locator('.example table').count(), 2);
    await page.locator('select[data-path="route[2].for[0].off"]').selectOption('true');
    assert.equal(await page.locator('input[data-path="route[2].for[0].checks"]').count(), 0);
    const lines = async () => {
      await page.getByRole('button', { name: 'As text' }).click();
      const text = JSON.parse(await page.locator('textarea').inputValue());
      await page.getByRole('button', { name: 'In forms' }).click();
      await page.getByRole('button', { name: 'Route', exact: true }).click();
      await page.getByRole('button', { name: 'Change R1', exact: true }).click();
      return [text.route[2].for, text.route[2].checks[0]];
    };
    const [written, first] = await lines();
    assert.deepEqual(written, [
      { period: 'C', checks: [first, null], penalty: { late: 3 }, off: true },
    ]);
    // Either they have values of their own, or nothing: what was typed is there to be left out.
    await forms.check();
    await page.locator('.faults a', { hasText: 'leaves nothing to change' }).press('Enter');
    await page.getByRole('button', { name: 'Leave their other values out' }).press('Enter');
    assert.equal(await forms.focused(), 'route[2].for[0].off');
    assert.deepEqual((await lines())[0], [{ period: 'C', off: true }]);
    await forms.check();
    await page.locator('#tried h2', { hasText: 'can be taken' }).waitFor();
  });

  test('every sheet is clean for axe and fits windows of 1280, 820 and 390', async () => {
    await forms.open(SHEETS[0]);
    for (const width of [1280, 820, 390]) {
      await page.setViewportSize({ width, height: 900 });
      for (const sheet of SHEETS) {
        await page.getByRole('button', { name: sheet, exact: true }).click();
        if (sheet === 'Route') {
          await page.getByRole('button', { name: 'Change R1' }).click();
          await page.locator('#item .example tbody tr').first().waitFor();
        }
        if (width !== 820) assert.deepEqual((await axe(page)).faults, [], `${sheet} at ${width}`);
        assert.deepEqual(await sideways(page), [], `${sheet} at ${width}`);
        assert.deepEqual(await legible(page), [], `${sheet} at ${width}`);
      }
    }
    await page.setViewportSize({ width: 1280, height: 900 });
    await page.emulateMedia({ colorScheme: 'dark' });
    assert.deepEqual((await axe(page, { colours: true })).faults, []);
    await page.emulateMedia({ colorScheme: 'light' });
  });

  test('a rule is changed by keyboard alone, seen before it is taken, and taken', async () => {
    await forms.open(SHEETS[0]);
    assert.deepEqual(await keyboard(page), []);
    // From the part's button to the field, by Tab and typing; Enter checks.
    await page.getByRole('button', { name: 'What is charged' }).focus();
    await page.keyboard.press('Enter');
    for (let i = 0; (await forms.focused()) !== 'scoring.defaults.time-control.late'; i++) {
      assert.ok(i < 20, 'the field is not reached');
      await page.keyboard.press('Tab');
    }
    await page.keyboard.press('Control+A');
    await page.keyboard.type('70');
    await page.keyboard.press('Enter');
    const tried = page.locator('#tried');
    await tried.locator('#effect').waitFor();
    assert.match(await tried.innerText(), /These rules can be taken/);
    const told = await tried.locator('#effect tbody tr').allInnerTexts();
    assert.ok(told.length > 0);
    assert.equal((await rules()).scoring.defaults['time-control'].late, 10, 'nothing is taken yet');
    // The worked total adds up to what the car would have.
    const example = tried.locator('details', { hasText: 'Worked example: the total of car' });
    await example.locator('summary').press('Enter');
    const steps = await example.locator('tbody tr').allInnerTexts();
    const sum = steps.reduce(
      (all, row) => all + Math.round(Number(row.split('\t')[1].replace('–', '0')) * 1000),
      0,
    ); // a dash: to come
    assert.match(
      await example.locator('caption').innerText(),
      new RegExp(`^${(sum / 1000).toFixed(3)} points`),
    );
    assert.deepEqual((await axe(page)).faults, []);
    await page.locator('#tried').focus();
    for (
      let i = 0;
      (await page.evaluate(() => document.activeElement.textContent)) !== 'Take these rules';
      i++
    ) {
      assert.ok(i < 20, 'the button is not reached');
      await page.keyboard.press('Tab');
    }
    await page.keyboard.press('Enter');
    await tried.getByText('The rules are taken').waitFor();
    assert.equal((await rules()).scoring.defaults['time-control'].late, 70);
    // What was shown is what came of it.
    for (const row of told) {
      const [car, , penalty] = row.split('\t');
      assert.equal(
        (await served.ask(`cars/${car}`)).penalty,
        penalty.split(' → ').at(-1),
        `car ${car}`,
      );
    }
  });

  test('all that nobody touched stays as it was', async () => {
    const before = await rules();
    await forms.open('Prizes');
    await forms.write('awards[0].name', 'Gannet Jug');
    await forms.check();
    await page.getByRole('button', { name: 'Take these rules' }).click();
    await page.locator('#tried').getByText('The rules are taken').waitFor();
    before.awards[0].name = 'Gannet Jug';
    assert.deepEqual(await rules(), before);
  });

  test('an error leads to its field, also on another sheet and in an item', async () => {
    await forms.open('Route');
    await page.getByRole('button', { name: 'Change R1' }).click();
    await forms.write('route[2].speeds[0].speed', 'fast');
    await page.getByRole('button', { name: 'Event and days' }).click();
    await forms.write('days[1].date', '2031-06-31');
    await page.getByRole('button', { name: 'Classes' }).click();
    await forms.check();
    const faults = page.locator('.faults');
    await faults.waitFor();
    assert.equal(await page.evaluate(() => document.activeElement.className), 'faults');
    assert.deepEqual((await axe(page)).faults, []);
    assert.equal(await page.getByRole('button', { name: 'Take these rules' }).count(), 0);
    for (const path of ['route[2].speeds[0].speed', 'days[1].date']) {
      await faults.locator('a', { hasText: path }).press('Enter');
      assert.equal(await forms.focused(), path);
      const control = page.locator(`input[data-path="${path}"]`);
      assert.equal(await control.getAttribute('aria-invalid'), 'true');
      assert.equal(await control.locator('xpath=preceding-sibling::*[@class="fault"]').count(), 1);
    }
    await forms.write('days[1].date', '2031-06-30');
    await page.getByRole('button', { name: 'Route', exact: true }).click();
    await page.getByRole('button', { name: 'Change R1' }).click();
    await forms.write('route[2].speeds[0].speed', '48');
    await forms.check();
    await page.locator('#tried h2', { hasText: 'can be taken' }).waitFor();
    assert.equal(await faults.count(), 0);
  });

  test('a speed above the published limit is told, and leads to its field', async () => {
    await forms.open('Route');
    await page.getByRole('button', { name: 'Change R1' }).click();
    await forms.write('route[2].speeds[0].speed', '52');
    await forms.check();
    const doubt = page.locator('#tried a', { hasText: 'above the published limit of 50 km/h' });
    await doubt.press('Enter');
    assert.equal(await forms.focused(), 'route[2].speeds[0].speed');
  });

  test("an example follows what is typed, with the server's own figures", async () => {
    await forms.open('Route');
    await page.getByRole('button', { name: 'Change T1' }).click();
    const late = page
      .locator('#item .example tr')
      .filter({ has: page.getByRole('rowheader', { name: 'Late', exact: true }) });
    await late.getByText('7.000', { exact: true }).waitFor();
    await forms.write('route[3].penalty.late', '2.5');
    await late.getByText('17.500', { exact: true }).waitFor();
    assert.match(await late.innerText(), /at 2\.5 a hundredth = 17\.5/);
  });

  test('faults of every worth stand in one field, at any kind of item', async () => {
    await forms.open('Route');
    await page.getByRole('button', { name: 'Change TC1' }).click();
    const field = page.locator('input[data-path="route[0].faults"]');
    await forms.write('route[0].faults', 'board 30, no-sign 1 fail, way missed, line 2 fails');
    assert.equal(await field.inputValue(), 'board 30, no-sign 1 fail, way missed, line 2 fails');
    const faulted = page
      .locator('#item .example tr')
      .filter({ has: page.getByRole('rowheader', { name: /fault/i }) });
    await faulted.getByText('30.000', { exact: true }).waitFor();
    assert.match(await faulted.innerText(), /Faults: 1 × board at 30 = 30/);
    await forms.write('route[0].faults', 'board 30, way maximum');
    await forms.check();
    await page.getByText('only a fault of a special test can be “maximum”').first().waitFor();
    await forms.write('route[0].faults', '');
  });

  test('steps, amounts once and the rule of one pad are typed as they are said', async () => {
    await forms.open('Route');
    await page.getByRole('button', { name: 'Change T1' }).click();
    const row = (name) =>
      page
        .locator('#item .example tr')
        .filter({ has: page.getByRole('rowheader', { name, exact: true }) });
    await forms.write('route[3].penalty.late', '2 up to 00:00:01, then 5');
    await forms.write('route[3].penalty.early', '100 once');
    await row('Past the first step').getByText('100 × 2 + 2 × 5 = 210').waitFor();
    await row('Early').getByText('at 100 once = 100').waitFor();
    await page.getByText('What pad 2 charges otherwise than the rest').click();
    await forms.write('route[3].targets[1].penalty.missed', '900');
    await forms.write('route[3].targets', '12.00, 9.00');
    await page.getByRole('button', { name: 'As text' }).click();
    const said = async () => JSON.parse(await page.getByLabel('event.json').inputValue()).route[3];
    let item = await said();
    assert.deepEqual(item.penalty.late, [{ to: '00:00:01', rate: 2 }, { rate: 5 }]);
    assert.deepEqual(item.penalty.early, { once: 100 });
    assert.deepEqual(item.targets, ['12.00', { target: '9.00', penalty: { missed: 900 } }]);
    // A pad without a rule of its own is its target alone again.
    await page.getByRole('button', { name: 'In forms' }).click();
    await page.getByRole('button', { name: 'Route', exact: true }).click();
    await page.getByRole('button', { name: 'Change T1' }).click();
    assert.equal(
      await page.locator('input[data-path="route[3].penalty.late"]').inputValue(),
      '2 up to 00:00:01, then 5',
    );
    await forms.write('route[3].targets[1].penalty.missed', '');
    await page.getByRole('button', { name: 'As text' }).click();
    item = await said();
    assert.deepEqual(item.targets, ['12.00', '9.00']);
    await page.getByRole('button', { name: 'In forms' }).click();
  });

  test('items are added, moved, removed; only what applies to a kind is asked', async () => {
    await forms.open('Route');
    const ids = () => page.locator('#route tbody th').allInnerTexts();
    const first = await ids();
    await page.getByLabel('A further item').selectOption('special-test');
    await page.getByRole('button', { name: 'Add it' }).click();
    const item = page.locator('#item');
    assert.match(await item.locator('legend').first().innerText(), /Driving test S2/);
    assert.equal(
      await item
        .locator('[data-path$=".target"], [data-path$=".speeds"], [data-path$=".early"]')
        .count(),
      0,
    );
    assert.equal(await item.locator('[data-path$=".scope"]').count(), 0);
    await item.getByLabel('Charged').first().selectOption('behind-best');
    await item.locator('[data-path$=".scope"]').waitFor();
    await item.getByLabel('Charged').first().selectOption('');
    assert.equal(await item.locator('[data-path$=".best"]').count(), 0);
    await item.getByLabel('Maximum', { exact: true }).fill('best of class + 00:00:30');
    await item.getByLabel('Maximum', { exact: true }).press('Tab');
    await item.locator('[data-path$=".best"]').waitFor();
    assert.equal(await item.locator('[data-path$=".counts"]').count(), 0);
    await item.getByLabel('Attempts').fill('2');
    await item.getByLabel('Attempts').press('Tab');
    await item.locator('[data-path$=".counts"]').selectOption('sum');
    assert.equal(
      await item.getByLabel('Maximum', { exact: true }).inputValue(),
      'best of class + 00:00:30',
    );
    await page.getByRole('button', { name: 'Back to the route' }).click();
    assert.match(
      await page.locator('#route tbody').innerText(),
      /2 attempts, maximum best of class \+ 00:00:30/,
    );
    assert.deepEqual(await ids(), [...first, 'S2']);
    await page.getByRole('button', { name: 'Up with S2' }).click();
    assert.deepEqual(await ids(), [...first.slice(0, -1), 'S2', first.at(-1)]);
    await page.getByRole('button', { name: 'Remove S2' }).click();
    assert.deepEqual(await ids(), first);
  });

  test('a coefficient is on all kinds or on some, by category or entry; a day has a most', async () => {
    await forms.open('Totals and ranking');
    const by = page.locator('select[data-path="scoring.coefficient.by"]');
    const table = page.locator('[data-path="scoring.coefficient.table"]');
    const typed = async () => {
      await page.getByRole('button', { name: 'As text' }).click();
      const text = await page.locator('#sheet textarea').inputValue();
      await page.getByRole('button', { name: 'In forms' }).click();
      await by.waitFor();
      return JSON.parse(text).scoring;
    };
    await by.selectOption('category');
    await table.waitFor();
    await by.selectOption('entry');
    await page.locator('input[data-path="scoring.coefficient.kinds"]').waitFor();
    assert.equal(await table.count(), 0);
    await forms.write('scoring.coefficient.kinds', 'all');
    await forms.write('scoring.day_cap', '1000');
    let scoring = await typed();
    assert.equal(scoring.coefficient.by, 'entry');
    assert.equal(scoring.coefficient.kinds, 'all');
    assert.equal(scoring.day_cap, 1000);
    await forms.write('scoring.coefficient.kinds', 'set-time, time-control');
    scoring = await typed();
    assert.deepEqual(scoring.coefficient.kinds, ['set-time', 'time-control']);
  });

  test('what was typed is there after a look at another section', async () => {
    await forms.open(SHEETS[0]);
    await forms.write('name', 'Half-typed Trial');
    await page.getByRole('link', { name: 'Prizes' }).click();
    await page.locator('section#prizes').waitFor();
    await page.getByRole('link', { name: 'Rules' }).click();
    await page.getByText('What you typed before is still here').waitFor();
    assert.equal(await page.locator('input[data-path="name"]').inputValue(), 'Half-typed Trial');
    await page.getByRole('button', { name: 'Back to what is in force' }).click();
    await page.waitForFunction(
      (name) => document.querySelector('input[data-path="name"]')?.value === name,
      (await rules()).name,
    );
  });

  test('a colleague who was first is told of, and nothing typed is lost', async () => {
    await forms.open(SHEETS[0]);
    await forms.write('name', 'My Trial');
    await forms.check();
    const takeIt = page.getByRole('button', { name: 'Take these rules' });
    await takeIt.waitFor();
    const theirs = await rules();
    theirs.days[0].first_start = '08:31';
    await put(theirs);
    await takeIt.click();
    const conflict = page.locator('#conflict');
    await conflict.waitFor();
    assert.match(await conflict.innerText(), /what you typed is still here/);
    assert.deepEqual(
      (await conflict.locator('tbody tr').allInnerTexts()).map((row) => row.split('\t')),
      [['days[0].first_start', '08:01', '08:31']],
    );
    assert.deepEqual((await axe(page)).faults, []);
    assert.equal(await page.locator('input[data-path="name"]').inputValue(), 'My Trial');
    assert.deepEqual(await rules(), theirs);
    await conflict.getByRole('button', { name: 'Go on with mine' }).click();
    await forms.write('days[0].first_start', '08:31');
    await forms.check();
    await takeIt.click();
    await page.locator('#tried').getByText('The rules are taken').waitFor();
    assert.deepEqual(await rules(), { ...theirs, name: 'My Trial' });
  });

  test('the text is there for those who want it, and a slip in it is found', async () => {
    await forms.open(SHEETS[0]);
    await page.getByRole('button', { name: 'As text' }).click();
    const text = page.getByLabel('event.json');
    const good = await text.inputValue();
    await text.fill(good.replace('"unit"', '"unit'));
    await page.getByRole('button', { name: 'In forms' }).click();
    await page.locator('.faults', { hasText: 'not well-formed' }).waitFor();
    assert.equal(await text.isVisible(), true);
    await forms.check();
    await page.locator('.faults a').press('Enter');
    assert.equal(await page.evaluate(() => document.activeElement.tagName), 'TEXTAREA');
    // A key that stands twice would be lost in forms.
    await text.fill(good.replace('"unit": "km"', '"unit": "km", "unit": "mi"'));
    await page.getByRole('button', { name: 'In forms' }).click();
    await page.locator('.faults a', { hasText: 'duplicate object key' }).press('Enter');
    assert.equal(await page.evaluate(() => document.activeElement.tagName), 'TEXTAREA');
    await text.fill(good.replace(/"name": "[^"]*"/, '"name": "Our Trial"'));
    await page.getByRole('button', { name: 'In forms' }).click();
    await page.locator('input[data-path="name"]').waitFor();
    assert.equal(await page.locator('input[data-path="name"]').inputValue(), 'Our Trial');
    assert.deepEqual(pageErrors.take(), []);
  });
});
