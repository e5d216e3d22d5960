// SPDX-License-Identifier: MIT
// What a tired hand types into the forms of the rules: each slip told at its field, in words, and
// nothing that was typed lost or taken for something else.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { PageErrors, Served, axe, contextOf, events, launch } from '../support/setup.mjs';
import { rulesForms } from '../support/office.mjs';

describe('slips in the rules of the office', { timeout: 400_000 }, () => {
  let browser, served, page, pageErrors, forms;

  before(async () => {
    served = await Served.start(events.hostile);
    browser = await launch();
    page = await (await contextOf(browser)).newPage();
    pageErrors = new PageErrors(page, []);
    await page.goto(`${served.origin}/${served.slug}/office#${served.organiser}`);
    await page.locator('#sections a').first().waitFor();
    forms = rulesForms(page, served);
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  /** Opens an item of the route as it is in force. */
  async function openItem(id) {
    await forms.open('Route');
    await page.getByRole('button', { name: `Change ${id}`, exact: true }).click();
  }

  test('targets of their own are typed in a line, and a check that is corrected is so there', async () => {
    await openItem('T1');
    await page.getByText('Other values for some cars').click();
    await page.getByRole('button', { name: 'Add a line' }).click();
    await forms.write('route[3].for[0].period', 'C');
    await forms.write('route[3].for[0].targets', '13.00');
    await forms.check();
    await page.locator('.fault', { hasText: 'the test has 2 pads' }).waitFor();
    await forms.write('route[3].for[0].targets', '13.00, –');
    await page.getByRole('button', { name: 'Back to the route' }).click();
    await page.getByRole('button', { name: 'Change R1', exact: true }).click();
    await page.getByText('Other values for some cars').click();
    await page.getByRole('button', { name: 'Add a line' }).click();
    await forms.write('route[2].for[0].period', 'C');
    await forms.write('route[2].for[0].checks', '3');
    await forms.check();
    await page.locator('.fault', { hasText: 'write numbers of checks, from 1 to 2' }).waitFor();
    const field = page.locator('input[data-path="route[2].for[0].checks"]');
    assert.equal(await field.inputValue(), '3', 'what was typed stays');
    await forms.write('route[2].for[0].checks', '2');
    await forms.write('route[2].checks[0].at', '4.5');
    await page.getByRole('button', { name: 'As text' }).click();
    const { route } = JSON.parse(await page.locator('textarea').inputValue());
    assert.deepEqual(route[3].for, [{ period: 'C', targets: ['13.00', null] }]);
    assert.deepEqual(route[2].for, [{ period: 'C', checks: [{ ...route[2].checks[0] }, null] }]);
    assert.equal(route[2].checks[0].at, 4.5);
  });

  test('what a change of mind leaves behind is there to be taken out', async () => {
    await openItem('T1');
    const sheet = (name) => page.getByRole('button', { name, exact: true }).click();
    await sheet('Totals and ranking');
    await page.locator('select[data-path="scoring.coefficient.by"]').selectOption('class');
    await forms.write('scoring.coefficient.table', 'C 1,05');
    await forms.check();
    await page.locator('.fault', { hasText: 'write 1.05 with a point' }).waitFor();
    await forms.write('scoring.coefficient.table', 'C 1.05');
    await page.locator('select[data-path="scoring.coefficient.by"]').selectOption('year');
    await sheet('Classes');
    const scheme = page.locator('select[data-path="classes.scheme"]');
    const was = await scheme.inputValue();
    await scheme.selectOption('appendix-k');
    await forms.write('classes.edition', '2025');
    await scheme.selectOption(was);
    await forms.check();
    for (const path of ['scoring.coefficient.table', 'classes.edition']) {
      await page.locator('.faults a', { hasText: path }).press('Enter');
      assert.equal(await forms.focused(), path);
      await forms.write(path, '');
    }
    await forms.check();
    await page.locator('#tried h2', { hasText: 'can be taken' }).waitFor();
  });

  test('slips of a tired hand are told at their fields, and what was typed stays', async () => {
    await openItem('T1');
    const typed = [
      ['route[3].targets', '11,70, 9,00', /write 11\.70 with a point/],
      ['route[3].faults', 'cone 5, cone 10', /“cone” stands twice/],
      ['route[3].penalty.cap', 'early 90,5, late 60', /write 90\.5 with a point/],
      ['route[3].penalty.late', '2,5', /write 2\.5 with a point/],
    ];
    for (const [path, text] of typed) await forms.write(path, text);
    await forms.check();
    await page.locator('.faults').waitFor();
    for (const [path, text, words] of typed) {
      const control = page.locator(`input[data-path="${path}"]`);
      assert.equal(await control.inputValue(), text, path);
      const told = await control.locator('xpath=preceding-sibling::*[@class="fault"]').innerText();
      assert.match(told, words, path);
      assert.match(await page.locator('.faults').innerText(), words, path);
    }
    assert.deepEqual((await axe(page)).faults, []);
    // They are there after a look elsewhere, and gone once they are mended.
    await page.getByRole('button', { name: 'Back to the route' }).click();
    assert.match(await page.locator('#route').innerText(), /11,70, 9,00 s/);
    await page.getByRole('button', { name: 'Change T1', exact: true }).click();
    const mended = ['11.70, 9.00', '', 'early 90.5, late 60', '2.5'];
    for (const [i, [path]] of typed.entries()) await forms.write(path, mended[i]);
    await page.getByText('Other values for some cars').click();
    await page.getByRole('button', { name: 'Add a line' }).click();
    const hint = page.locator('input[data-path="route[3].for[0].group"]');
    assert.match(await hint.locator('xpath=..').innerText(), /of low, ladies/);
    await forms.write('route[3].for[0].group', 'lo');
    await page.locator('select[data-path="route[3].for[0].off"]').selectOption('true');
    await forms.check();
    await page.locator('.faults a', { hasText: '“lo” is no group of this event' }).press('Enter');
    assert.equal(await forms.focused(), 'route[3].for[0].group');
    await page.getByRole('button', { name: /^Remove For groups lo/ }).click();
    await forms.check();
    await page.locator('#tried h2', { hasText: 'can be taken' }).waitFor();
    assert.deepEqual(pageErrors.take(), []);
  });
});
