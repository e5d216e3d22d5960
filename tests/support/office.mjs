// SPDX-License-Identifier: MIT
// An organiser in the office who uses the keyboard alone.

import assert from 'node:assert/strict';
import { PageErrors } from './chromium.mjs';
import { axe, enlarge, keyboard, legible, sideways } from './accessibility.mjs';

export const TABLET = { width: 820, height: 1180 };
export const PHONE = { width: 390, height: 844 };

export class Clerk {
  /** Opens the office of `served` by its link in a new page of `context`, as `name`. `allow`:
   *  patterns of errors that the test provokes. */
  static async open(context, served, name, { key = served.organiser, allow = [] } = {}) {
    const clerk = new Clerk();
    clerk.served = served;
    clerk.page = await context.newPage();
    clerk.errors = new PageErrors(clerk.page, allow);
    await clerk.page.goto(`${served.origin}/${served.slug}/office#${key}`);
    await clerk.page.waitForSelector('html[data-section="room"]');
    await clerk.page.locator('#by').fill(name);
    await clerk.page.locator('#by').press('Tab');
    return clerk;
  }

  async section(name) {
    await this.page.locator(`#sections a[href="#${name}"]`).focus();
    await this.page.keyboard.press('Enter');
    await this.page.waitForSelector(`html[data-section="${name}"] section#${name}`);
  }

  /** What has the focus: its name for those who listen, else its text. */
  focused() {
    return this.page.evaluate(() => {
      const node = document.activeElement;
      return node.getAttribute('aria-label') || node.textContent.trim();
    });
  }

  /** Until the focus stands on what has that name. */
  on(words) {
    return this.page
      .waitForFunction((wanted) => {
        const node = document.activeElement;
        return (node.getAttribute('aria-label') || node.textContent.trim()) === wanted;
      }, words)
      .catch(async (error) => {
        throw new Error(`the focus stands on “${await this.focused()}”, not on “${words}”`, {
          cause: error,
        });
      });
  }

  /** Tabs until the control of that name has the focus, then presses it. */
  async press(words) {
    for (let i = 0; i < 120 && (await this.focused()) !== words; i++)
      await this.page.keyboard.press('Tab');
    assert.equal(await this.focused(), words);
    await this.page.keyboard.press('Enter');
  }

  /** Writes `text` into the field of that label, in the place of what is there. */
  async type(label, text, within = '#office') {
    await this.page.locator(within).getByLabel(label, { exact: true }).focus();
    await this.page.keyboard.press('Control+A');
    if (text === '') await this.page.keyboard.press('Delete');
    else await this.page.keyboard.type(text);
  }

  /** Goes down a list until it says `words`. */
  async choose(label, words) {
    const list = this.page.getByLabel(label, { exact: true });
    const said = () => list.evaluate((one) => one.selectedOptions[0].textContent);
    await list.focus();
    await this.page.keyboard.press('Home');
    for (let last = null; (await said()) !== words && (await said()) !== last;) {
      last = await said();
      await this.page.keyboard.press('ArrowDown');
    }
    assert.equal(await said(), words);
  }

  /** Goes down the answers, of which Tab reaches the first or the chosen one, to that of `words`. */
  async pick(words) {
    const answer = () =>
      this.page.evaluate(() => document.activeElement.closest('label')?.textContent.trim());
    for (let i = 0; i < 60 && (await answer()) === undefined; i++)
      await this.page.keyboard.press('Tab');
    await this.page.keyboard.press('Space');
    const first = await answer();
    while ((await answer()) !== words) {
      await this.page.keyboard.press('ArrowDown');
      assert.notEqual(await answer(), first, `no answer says “${words}”`);
    }
  }

  /** Walks the first controls of the page by Tab; see `keyboard`. */
  walk(most) {
    return keyboard(this.page, most);
  }

  /** Rows of a table as arrays of texts. */
  rows(table) {
    return this.page
      .locator(`${table} tbody tr`)
      .evaluateAll((list) =>
        list.map((row) => [...row.cells].map((cell) => cell.innerText.trim())),
      );
  }

  /** Each car's penalty, places and status, as an effect tells them. Its class has places also for
   *  cars that the overall classification leaves out. */
  async standings() {
    const [overall, classes] = [
      await this.served.ask('standings'),
      await this.served.ask('standings?by=class'),
    ];
    const places = new Map(
      classes.groups.flatMap((group) =>
        group.standings.map((row) => [row.car, String(row.position)]),
      ),
    );
    return new Map(
      [...overall.standings, ...overall.unplaced].map((row) => [
        String(row.car),
        [
          row.penalty + (row.fails ? `, ${row.fails} fail${row.fails === 1 ? '' : 's'}` : ''),
          String(row.position ?? 'no place'),
          places.get(row.car) ?? 'no place',
          row.status,
        ],
      ]),
    );
  }

  /** What the effect on the page says: for each car what is so before and after. */
  async effect() {
    const rows = await this.rows('#effect');
    if (rows.length === 0)
      await this.page.getByText('It changes no penalty and no place.').waitFor();
    return new Map(
      rows.map(([car, , ...cells]) => [
        car,
        [0, -1].map((at) => cells.map((cell) => cell.split(' → ').at(at))),
      ]),
    );
  }

  /** Presses what keeps the decision that is shown, until `gone`; what came about must be what was
   *  shown, for every car. */
  async keep(words, gone) {
    await this.on(words);
    const [was, shown] = [await this.standings(), await this.effect()];
    await this.page.keyboard.press('Enter');
    await gone();
    for (const [car, now] of await this.standings()) {
      const [before, after] = shown.get(car) ?? [was.get(car), was.get(car)];
      assert.deepEqual([was.get(car), now], [before, after], `car ${car}: penalty, places, status`);
    }
    return shown;
  }

  /** Clean for axe in both themes, whole on a tablet and a phone. `large` true: whole and legible
   *  at 320 pixels and at twice the size of text too. */
  async looks(where, { large = true } = {}) {
    const { page } = this;
    const faults = [];
    for (const colorScheme of ['light', 'dark']) {
      await page.emulateMedia({ colorScheme });
      faults.push(...(await axe(page, { colours: colorScheme === 'dark' })).faults);
    }
    await page.emulateMedia({ colorScheme: 'light' });
    for (const viewport of [PHONE, ...(large ? [{ width: 320, height: 568 }] : []), TABLET]) {
      await page.setViewportSize(viewport);
      faults.push(...(await sideways(page)), ...(await legible(page)));
    }
    if (large) {
      await enlarge(page, 200);
      faults.push(...(await sideways(page)));
      await enlarge(page, 100);
    }
    assert.deepEqual([...faults, ...this.errors.take()], [], where);
  }
}

/** What is done in the forms of the rules, in a page that has the office of `served` open. */
export const rulesForms = (page, served) => ({
  /** Opens a sheet of the section anew, as it is in force. */
  async open(sheet) {
    await page.goto(`${served.origin}/${served.slug}/office#prizes`);
    await page.locator('section#prizes').waitFor();
    await page.goto(`${served.origin}/${served.slug}/office#rules`);
    await page.locator('.rules h2').waitFor();
    await page.getByRole('button', { name: 'Back to what is in force' }).click();
    // It gives the focus on once they have come, and are drawn.
    await page.waitForFunction(() => document.activeElement.textContent === 'In forms');
    await page.getByRole('button', { name: sheet, exact: true }).click();
    await page.locator('#sheet h2', { hasText: sheet }).waitFor();
  },

  /** Writes into the field of a place of event.json. */
  async write(path, text) {
    const control = page.locator(`input[data-path="${path}"]`);
    await control.fill(text);
    await control.press('Tab');
  },

  /** The place of event.json that has the focus. */
  focused: () => page.evaluate(() => document.activeElement.dataset.path),

  check: () => page.getByRole('button', { name: 'Check it' }).click(),
});
