// SPDX-License-Identifier: MIT
// Keys at the desk: what each means on any keyboard, and that no slip of one writes something else.

import assert from 'node:assert/strict';
import { after, afterEach, before, beforeEach, describe, test } from 'node:test';
import { Profile, Served } from '../support/setup.mjs';
import { Desk, EVENT, apart, counting, fromNow, inOrder, roadside } from '../support/desk.mjs';

describe('keys at the desk', { timeout: 400_000 }, () => {
  const profile = new Profile();
  let context, served;

  before(async () => {
    context = await Desk.prepare(await profile.open());
  });
  after(() => profile.end());
  beforeEach(async () => {
    served = await Served.start(roadside);
  });
  afterEach(async () => {
    for (const page of context.pages()) await page.close();
    await served.end();
  });

  const open = (points) =>
    Desk.open(context, served, { key: served.addKey('--role', 'timekeeper', '--points', points) });
  const at = (point) => inOrder(served.readings().filter((row) => row.point === point));
  const field = (desk) => desk.page.locator('#field').inputValue();
  const place = (desk) => desk.page.locator('#points').inputValue();

  /** Presses a key of a keyboard that is not ours: `code` is its place, `key` what it says there. */
  const strange = (desk, code, key, more = {}) =>
    desk.page.evaluate(
      (told) => {
        const event = new KeyboardEvent('keydown', { bubbles: true, cancelable: true, ...told });
        document.activeElement.dispatchEvent(event);
      },
      { code, key, ...more },
    );

  test('the number pad writes digits with Num Lock off, and changes no point', async () => {
    const desk = await open('TC1,TC2');
    const before = await place(desk);
    // Pressed thus they say End, ArrowDown, PageDown … Insert, and Delete.
    for (const n of [1, 2, 3, 4]) await desk.page.keyboard.press(`Numpad${n}`);
    assert.equal(await field(desk), '1234');
    await desk.page.keyboard.press('Escape');
    for (const n of [5, 6, 7, 8, 9, 0]) await desk.page.keyboard.press(`Numpad${n}`);
    await desk.page.keyboard.press('NumpadDecimal');
    assert.equal(await field(desk), '567890.');
    assert.equal(await place(desk), before);
    await desk.page.keyboard.press('Escape');
    await desk.page.keyboard.press('Numpad2');
    await desk.page.keyboard.press('Numpad1');
    await desk.page.keyboard.press('NumpadEnter');
    await desk.kept(1);
    await desk.sent();
    assert.deepEqual(
      at('TC1').map((row) => row.car),
      ['21'],
    );
  });

  test('the row above the letters of a French keyboard writes digits without Shift', async () => {
    const desk = await open('TC1');
    await desk.stamp(1);
    await desk.kept(1);
    const row = ['à', '&', 'é', '"', "'", '(', '-', 'è', '_', 'ç'];
    for (const digits of [
      [6, 6, 2],
      [1, 0, 9],
      [3, 4, 5, 7],
      [8, 8],
    ]) {
      for (const n of digits) await strange(desk, `Digit${n}`, row[n]);
      assert.equal(await field(desk), digits.join(''));
      await desk.page.keyboard.press('Escape');
    }
    // With Shift a sign stays what it says: here an asterisk, a blank's number.
    await strange(desk, 'Digit8', '*', { shiftKey: true });
    assert.match(await desk.says(), /No time waits/);
    assert.deepEqual(
      (await desk.rows()).map((line) => line.state === 'void'),
      [false],
    );
  });

  test('a line that is changed takes digits of such keyboards too, and words as they are', async () => {
    const desk = await open('TC1');
    await desk.stamp(1);
    await desk.kept(1);
    await desk.page.keyboard.press('ArrowUp');
    await desk.page.keyboard.press('Enter');
    const car = desk.page.locator('#log input[name="car"]');
    await car.waitFor();
    await desk.page.keyboard.press('Numpad3');
    await strange(desk, 'Digit0', 'à');
    assert.equal(await car.inputValue(), '30');
    const note = desk.page.locator('#log input[name="note"]');
    await note.focus();
    await strange(desk, 'Digit2', 'é');
    assert.equal(await note.inputValue(), '', 'the browser writes é there by itself');
  });

  test('digits reach the field from a button that has the focus, and Enter stamps them', async () => {
    const desk = await open('TC1');
    await desk.page.locator('#sound').focus();
    const sound = await desk.page.locator('#sound').getAttribute('aria-pressed');
    await desk.stamp(17);
    await desk.kept(1);
    await desk.page.locator('#save-copy').focus();
    await desk.page.keyboard.press('+');
    await desk.kept(2);
    await desk.page.locator('#log button').first().focus();
    await desk.page.keyboard.type('18*');
    await desk.sent();
    assert.equal(await desk.page.locator('#sound').getAttribute('aria-pressed'), sound);
    const rows = counting(at('TC1'));
    assert.deepEqual(
      rows.map((row) => row.car),
      ['17', '18'],
    );
    assert.ok(apart(rows[0], desk.presses[0].at) < 20);
  });

  test('with nothing in focus every key is the field’s', async () => {
    const desk = await open('TC1');
    await desk.page.evaluate(() => document.activeElement.blur());
    await desk.page.keyboard.press('+');
    await desk.kept(1);
    await desk.page.evaluate(() => document.activeElement.blur());
    await desk.page.keyboard.type('12');
    assert.equal(await field(desk), '12');
    await desk.page.evaluate(() => document.activeElement.blur());
    await desk.page.keyboard.press('Enter');
    await desk.kept(2);
  });

  test('another point after a stamp: the key asks, and a second press goes there', async () => {
    const desk = await open('TC1,TC2');
    await desk.page.keyboard.press('PageDown');
    assert.equal(await place(desk), 'TC1/out', 'where nothing was written it goes at once');
    await desk.page.keyboard.press('PageUp');
    await desk.stamp(9);
    await desk.kept(1);
    for (const key of ['PageDown', '/']) {
      await desk.page.keyboard.press(key);
      assert.match(await desk.says(), /Again to go to TC1\/out/);
      assert.equal(await place(desk), 'TC1');
      await desk.page.keyboard.type('1'); // something else: the question is gone
      await desk.page.keyboard.press('Escape');
      await desk.page.keyboard.press(key);
      assert.equal(await place(desk), 'TC1');
      await desk.page.keyboard.press('PageUp'); // another question than the one before
      assert.equal(await place(desk), 'TC1');
      await desk.page.keyboard.press('Escape');
    }
    await desk.page.keyboard.press('PageDown');
    await desk.page.keyboard.press('PageDown');
    assert.equal(await place(desk), 'TC1/out');
  });

  test('minus strikes out, and restores, by its second press', async () => {
    const desk = await open('TC1');
    await desk.stamp(9);
    await desk.kept(1);
    const state = async () => (await desk.rows())[0].state;
    await desk.page.keyboard.press('-');
    assert.match(await desk.says(), /− again strikes out 9, /);
    await desk.page.keyboard.type('1');
    await desk.page.keyboard.press('-'); // clears the number
    assert.equal(await field(desk), '');
    await desk.page.keyboard.press('-');
    assert.notEqual(await state(), 'void');
    await desk.page.keyboard.press('-');
    await desk.page.locator('#log tr[data-state="void"]').waitFor();
    await desk.page.keyboard.press('-');
    assert.match(await desk.says(), /− again restores 9, /);
    assert.equal(await state(), 'void');
    await desk.page.keyboard.press('-');
    await desk.page.locator('#log tr[data-state="void"]').waitFor({ state: 'detached' });
    await desk.sent();
    assert.equal(counting(at('TC1')).length, 1);
  });

  test('Escape clears the number first and the faults that are counted by a second press', async () => {
    const desk = await open('S1');
    const { page } = desk;
    const cones = () => page.locator('#faults [data-fault="cone"]').getAttribute('data-count');
    await page.locator('#points').selectOption('S1/finish');
    await page.locator('#field').focus();
    await page.keyboard.type('6');
    await page.keyboard.press('c');
    await page.keyboard.press('c');
    await page.keyboard.press('Escape');
    assert.deepEqual([await field(desk), await cones()], ['', '2']);
    await page.keyboard.press('Escape');
    assert.equal(await cones(), '0');
    assert.match(await desk.says(), /2 × cone/);
  });

  test('faults that are counted wait at their point: going away asks, coming back has them', async () => {
    const desk = await open('S1');
    const { page } = desk;
    const cones = () => page.locator('#faults [data-fault="cone"]').getAttribute('data-count');
    await page.locator('#points').selectOption('S1/finish');
    await page.locator('#field').focus();
    await page.keyboard.press('c');
    await page.keyboard.press('PageUp');
    assert.equal(await place(desk), 'S1/finish');
    assert.match(await desk.says(), /1 × cone.*Again to go to S1\/start/);
    await page.keyboard.press('PageUp');
    assert.equal(await place(desk), 'S1/start');
    await desk.stamp(6);
    await desk.kept(1);
    await page.locator('#points').selectOption('S1/finish');
    assert.equal(await cones(), '1');
    await page.locator('#points').selectOption('S1/start');
    assert.equal(await place(desk), 'S1/finish', 'from the list it asks as well');
    await desk.stamp(6);
    await desk.kept(1);
    await desk.sent();
    assert.deepEqual(
      [...at('S1/start'), ...at('S1/finish')].map((row) => [row.car, row.faults]),
      [
        ['6', ''],
        ['6', 'cone=1'],
      ],
    );
  });

  /** Times of day as the desk writes them, `minutes` from now. */
  const typedAt = (minutes) => fromNow(minutes).replace(':', '');

  test('an elapsed time is not taken for a time of day: it asks, F4 takes it, for the whole test', async () => {
    await served.end();
    served = await Served.start((folder) =>
      roadside(folder, [
        ...EVENT.route,
        { day: 1, id: 'T1', kind: 'set-time', name: 'Pads', targets: ['11.70', '9.00'] },
      ]),
    );
    const desk = await open('T1');
    const { page } = desk;
    await page.locator('#points').selectOption('T1/1');
    await page.locator('#field').focus();
    await page.keyboard.type('3 9.02');
    await page.keyboard.press('Enter');
    assert.match(
      await desk.warns(),
      /3: time of day \d\d:02\?.*F4 makes it an elapsed time, 9\.02/,
    );
    assert.equal((await desk.rows()).length, 0);
    await page.keyboard.press('F4');
    await page.keyboard.press('Enter');
    await desk.kept(1);
    assert.equal(await desk.warns(), '');
    await page.locator('#points').selectOption('T1/2');
    await page.locator('#field').focus();
    await page.keyboard.type('3 11.71');
    await page.keyboard.press('Enter');
    await desk.kept(1);
    await desk.sent();
    assert.deepEqual(
      [...at('T1/1'), ...at('T1/2')].map((row) => [row.car, row.elapsed, row.time]),
      [
        ['3', '9.02', ''],
        ['3', '11.71', ''],
      ],
    );
    await page.reload();
    await desk.ready();
    assert.equal(
      await page.locator('#measures [aria-pressed="true"]').innerText(),
      'Elapsed time',
      'and after the page was opened again',
    );
    await page.keyboard.type(`4 ${typedAt(0)}`);
    await page.keyboard.press('Enter');
    assert.match(await desk.warns(), /F4 makes it a time of day/);
  });

  test('what is no time of day says that F4 takes it', async () => {
    const desk = await open('S1');
    await desk.page.locator('#points').selectOption('S1/finish');
    await desk.page.locator('#field').focus();
    await desk.page.keyboard.type('3 83.4');
    await desk.page.keyboard.press('Enter');
    assert.match(
      await desk.warns(),
      /Not a time of day.*F4 makes it an elapsed time, 1:23\.4|83\.4/,
    );
  });

  test('a typed time far from now is kept by a second Enter, and the next of that sheet at once', async () => {
    const desk = await open('TC1');
    const { page } = desk;
    const hour = Number(fromNow(0).slice(0, 2));
    const far = (minute) => `${String((hour + 12) % 24).padStart(2, '0')}${minute}`;
    await page.keyboard.type(`5 ${far(10)}`);
    await page.keyboard.press('Enter');
    assert.match(await desk.warns(), /5: time of day \d\d:10\? ↵ again keeps it$/);
    assert.equal((await desk.rows()).length, 0);
    await page.keyboard.press('Escape');
    assert.equal(await desk.warns(), '');
    await page.keyboard.type(`6 ${typedAt(-3)}`);
    await page.keyboard.press('Enter');
    await desk.kept(1);
  });

  test('one wrong number: it is told of once, and no car behind it is doubted', async () => {
    const desk = await open('TC1');
    await desk.page.waitForFunction(() => document.querySelector('#expected tr[data-car="30"]'));
    for (let n = 1; n <= 4; n++) await desk.stamp(n);
    await desk.stamp(15); // 5 was meant
    await desk.kept(5);
    await desk.stamp(6);
    await desk.kept(6);
    assert.match(await desk.warns(), /15 came before 6, which was due earlier/);
    await desk.stamp(7);
    await desk.kept(7);
    assert.equal(await desk.warns(), '');
    await desk.sent();
    const told = at('TC1').map((row) => `${row.car} ${row.flags}`);
    assert.ok(!told.some((line) => line.includes('out-of-order')), told.join('; '));
  });

  test('a crew that waits is told to the second how early it is', async () => {
    const desk = await open('TC1');
    const { page } = desk;
    await page.waitForFunction(() => document.querySelector('#expected tr[data-car="12"]'));
    await page.keyboard.type('12');
    const left = async () => {
      const text = await page.locator('#echo').innerText();
      const [, minutes, seconds] = /due \d\d:\d\d, (\d+):(\d\d) early/.exec(text) ?? [];
      assert.ok(seconds, text);
      return minutes * 60 + Number(seconds);
    };
    const first = await left();
    assert.ok(first > 120 && first <= 420, String(first));
    await page.waitForFunction(
      (text) => document.querySelector('#echo').textContent !== text,
      await page.locator('#echo').innerText(),
    );
    assert.ok((await left()) < first);
    await page.keyboard.press('Enter');
    await desk.kept(1);
    assert.match(await desk.says(), /^12 stamped [\d:]+, due \d\d:\d\d, \d+:\d\d early/);
  });

  /** Opens the newest line and types another number in it. */
  async function retype(desk, car) {
    await desk.page.keyboard.press('ArrowUp');
    await desk.page.keyboard.press('Enter');
    await desk.page.locator('#log input[name="car"]').waitFor();
    await desk.page.keyboard.type(String(car));
  }

  test('a car that comes while a line is open is stamped, and the line is not overwritten', async () => {
    const desk = await open('TC1');
    const { page } = desk;
    await page.waitForFunction(() => document.querySelector('#expected tr[data-car="30"]'));
    await desk.stamp(8);
    await desk.kept(1);
    await retype(desk, 9);
    assert.match(await page.locator('#echo').innerText(), /^8 is being changed.*\+/);
    const pressed = await desk.press('Enter');
    assert.match(await page.locator('#log .trouble').innerText(), /\+.*9/);
    await desk.press('+');
    await page.locator('#log form.edit').waitFor({ state: 'detached' });
    await desk.kept(2);
    await desk.sent();
    const rows = at('TC1');
    assert.deepEqual(
      rows.map((row) => [row.car, row.replaces]),
      [
        ['8', ''],
        ['9', ''],
      ],
    );
    assert.ok(apart(rows[1], pressed) < 20, 'the instant is that of the first Enter');
  });

  test('plus in an open line keeps a time, and the line stays as it is', async () => {
    const desk = await open('TC1');
    const { page } = desk;
    await desk.stamp(8);
    await desk.kept(1);
    await page.keyboard.press('ArrowUp');
    await page.keyboard.press('Enter');
    await page.locator('#log input[name="car"]').waitFor();
    await page.keyboard.press('+');
    await desk.kept(2);
    assert.equal(await page.locator('#log input[name="car"]').inputValue(), '8');
    await page.keyboard.press('Escape');
    await page.keyboard.type('9*');
    await desk.sent();
    assert.deepEqual(
      counting(at('TC1')).map((row) => row.car),
      ['8', '9'],
    );
  });

  test('a second Enter corrects the line after all', async () => {
    const desk = await open('TC1');
    await desk.page.waitForFunction(() => document.querySelector('#expected tr[data-car="30"]'));
    await desk.stamp(8);
    await desk.kept(1);
    await retype(desk, 9);
    await desk.page.keyboard.press('Enter');
    await desk.page.keyboard.press('Enter');
    await desk.page.locator('#log form.edit').waitFor({ state: 'detached' });
    await desk.sent();
    assert.deepEqual(
      counting(at('TC1')).map((row) => row.car),
      ['9'],
    );
  });

  test('laps stand on the sheet with their numbers and times', async () => {
    const desk = await open('L1');
    const { page } = desk;
    await desk.stamp(8);
    await desk.kept(1);
    await page.waitForTimeout(1050); // nobody drives a lap in less than a second
    await page.keyboard.press('Enter');
    await desk.kept(2);
    const [lap, start] = await desk.rows();
    assert.match(lap.text, /lap 1 0:0\d/);
    assert.match(start.text, /start/);
  });
});
