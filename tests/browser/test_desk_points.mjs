// SPDX-License-Identifier: MIT
// What a desk takes at points other than time controls, what it hides, and files from devices.

import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { after, afterEach, before, beforeEach, describe, test } from 'node:test';
import { Profile, Served, csvRows } from '../support/setup.mjs';
import { Desk, EVENT, apart, counting, inOrder, roadside } from '../support/desk.mjs';

describe('a desk at every sort of point', { timeout: 400_000 }, () => {
  const profile = new Profile();
  let context, served;

  before(async () => {
    context = await Desk.prepare(await profile.open());
  });
  after(() => profile.end());
  // At an address of its own, so that each test has a sheet of its own.
  beforeEach(async () => {
    served = await Served.start(roadside);
  });
  afterEach(async () => {
    for (const page of context.pages()) await page.close();
    await served.end();
  });

  async function open(points) {
    const key = served.addKey('--role', 'timekeeper', '--points', points);
    return Desk.open(context, served, { key });
  }

  const at = (point) => inOrder(served.readings().filter((row) => row.point === point));

  test('a sighting at a passage control', async () => {
    const desk = await open('PC1');
    await desk.page.keyboard.type('4');
    await desk.page.keyboard.press('/');
    await desk.stamp(5);
    await desk.kept(2);
    await desk.sent();
    const [seen, stamped] = at('PC1');
    assert.deepEqual([seen.car, seen.time, seen.elapsed, seen.source], ['4', '', '', 'sighting']);
    assert.ok(stamped.car === '5' && apart(stamped, desk.presses[0].at) < 20);
  });

  test('a special test: elapsed times and faults, by keys and by steppers', async () => {
    const desk = await open('S1');
    const { page } = desk;
    await page.locator('#points').selectOption('S1/finish');
    await page.locator('#field').focus();
    await page.keyboard.press('F4'); // from times of day to elapsed times
    await page.keyboard.type('6 1:23.45');
    await page.keyboard.press('c');
    await page.keyboard.press('c');
    await page.keyboard.press('l');
    await page.keyboard.press('Enter');
    await desk.kept(1);
    await page.locator('#faults [data-fault="cone"] button').last().click();
    await page.locator('#faults [data-fault="wrong-route"] button').last().click();
    await page.keyboard.type('7 83.4');
    await page.keyboard.press('Enter');
    await desk.kept(2);
    await desk.sent();
    assert.deepEqual(
      at('S1/finish').map((row) => [row.car, row.elapsed, row.faults]),
      [
        ['6', '00:01:23.45', 'cone=2;line=1'],
        ['7', '83.4', 'cone=1;wrong-route=1'],
      ],
    );
  });

  test('a line with faults is mended on a phone: fields in columns, words over the width', async () => {
    const desk = await open('S1');
    const { page } = desk;
    await page.locator('#points').selectOption('S1/finish');
    await page.locator('#field').focus();
    await page.keyboard.type('6 104207');
    await page.keyboard.press('Enter');
    await page.keyboard.press('Enter'); // it may be far from now, which is asked about
    await desk.kept(1);
    for (const width of [390, 360]) {
      await page.setViewportSize({ width, height: 844 });
      await page.locator('#field').focus();
      await page.keyboard.press('ArrowUp');
      await page.keyboard.press('Enter');
      const form = await page.locator('form.edit').evaluate((node) => {
        const inside = (box) => {
          const outer = node.getBoundingClientRect();
          return box.left >= outer.left && box.right <= outer.right;
        };
        const box = (name) => node.querySelector(`[name="${name}"]`).getBoundingClientRect();
        return {
          out: [...node.querySelectorAll('input, button')].filter(
            (one) => !inside(one.getBoundingClientRect()),
          ).length,
          faults: new Set(
            [...node.querySelectorAll('[size="3"]')].map((one) =>
              Math.round(one.getBoundingClientRect().bottom),
            ),
          ).size,
          words: ['note', 'reason'].map((name) => box(name).width > node.clientWidth * 0.9),
          low: [...node.querySelectorAll('button')].filter((one) => one.offsetHeight < 40).length,
          lines: new Set([...node.querySelectorAll('button')].map((one) => one.offsetTop)).size,
        };
      });
      assert.deepEqual(form, { out: 0, faults: 1, words: [true, true], low: 0, lines: 1 }, width);
      await page.keyboard.press('Escape');
    }
    await page.setViewportSize({ width: 1280, height: 900 });
  });

  test('the help names the letters of the faults that are counted here', async () => {
    const desk = await open('S1,PC1');
    const { page } = desk;
    const keys = () =>
      page.$$eval('.keys dt', (all) =>
        all.map((dt) => [...dt.querySelectorAll('kbd')].map((key) => key.textContent).join('')),
      );
    await page.keyboard.press('?');
    await page.locator('#help-list').waitFor();
    await page.locator('#points').selectOption('PC1');
    assert.ok(!(await keys()).includes('CLW'));
    await page.locator('#points').selectOption('S1/finish');
    assert.ok((await keys()).includes('CLW'));
  });

  test('faults at a control and at a passage, where the item names some', async () => {
    await served.end();
    served = await Served.start((folder) =>
      roadside(
        folder,
        EVENT.route.map((item) =>
          item.id === 'TC1' || item.id === 'PC1'
            ? { ...item, faults: { zone: 50, no_stamp: 'missed', sign: { fails: 1 } } }
            : item,
        ),
      ),
    );
    const desk = await open('TC1,PC1');
    const { page } = desk;
    await page.keyboard.press('z');
    await desk.stamp(9);
    await desk.kept(1);
    await page.locator('#points').selectOption('PC1');
    await page.locator('#field').focus();
    await page.keyboard.type('4');
    await page.keyboard.press('n');
    await page.keyboard.press('s');
    await page.keyboard.press('/');
    await desk.kept(1);
    await desk.sent();
    assert.deepEqual(
      [...at('TC1'), ...at('PC1')].map((row) => [row.car, row.faults]),
      [
        ['9', 'zone=1'],
        ['4', 'no_stamp=1;sign=1'],
      ],
    );
  });

  test('faults counted with a blank, or with its number, go with that car', async () => {
    const desk = await open('S1');
    const { page } = desk;
    await page.locator('#points').selectOption('S1/finish');
    await page.locator('#field').focus();
    await page.keyboard.press('c');
    await page.keyboard.press('c');
    await page.keyboard.press('+');
    await desk.kept(1);
    assert.match((await desk.rows())[0].text, /2 × cone/);
    await page.keyboard.press('l');
    await page.keyboard.type('8*');
    await desk.sent();
    await page.keyboard.press('w'); // told of the car whose number is typed, which comes behind
    await page.keyboard.type('9');
    await page.keyboard.press('+');
    await desk.kept(2);
    await page.keyboard.press('Enter');
    await desk.kept(3);
    await page.keyboard.type('10*');
    await desk.sent();
    assert.deepEqual(
      counting(at('S1/finish')).map((row) => [row.car, row.faults]),
      [
        ['8', 'cone=2;line=1'],
        ['9', 'wrong-route=1'],
        ['10', ''],
      ],
    );
  });

  test('a car whose route does not come by is said not to be expected', async () => {
    await served.end();
    served = await Served.start((folder) =>
      roadside(
        folder,
        EVENT.route.map((item) =>
          item.id === 'TC1' ? { ...item, for: [{ period: 'C', off: true }] } : item,
        ),
      ),
    );
    const desk = await open('TC1');
    const { page } = desk;
    await page.waitForFunction(() => document.querySelector('#expected tr[data-car="20"]'));
    await page.keyboard.type('5');
    await page.waitForFunction(() =>
      /not expected here/.test(document.querySelector('#echo').textContent),
    );
    await page.keyboard.press('Enter');
    await desk.kept(1);
    assert.match(await desk.warns(), /^5: not expected here/);
    await desk.sent();
    assert.match(at('TC1')[0].flags, /not-expected/);
  });

  test('a consistency test: lap after lap on one key', async () => {
    const desk = await open('L1');
    const presses = [await desk.stamp(8)];
    for (let lap = 1; lap <= 3; lap++) {
      await desk.kept(lap);
      await desk.page.waitForTimeout(1050); // nobody drives a lap in less than a second
      presses.push(await desk.press('Enter'));
    }
    await desk.kept(4);
    await desk.sent();
    const rows = inOrder(served.readings().filter((row) => row.point.startsWith('L1')));
    assert.deepEqual(
      rows.map((row) => [row.point, row.car]),
      ['L1/start', 'L1/1', 'L1/2', 'L1/3'].map((point) => [point, '8']),
    );
    rows.forEach((row, i) => assert.ok(apart(row, presses[i]) < 20, JSON.stringify(row)));
  });

  test('several points: switched by keyboard, each reading at its own', async () => {
    const desk = await open('TC1,TC2'); // arrival, departure, arrival, departure
    await desk.stamp(9);
    await desk.kept(1);
    await desk.page.keyboard.press('PageDown');
    await desk.page.keyboard.press('PageDown'); // the second press does it
    await desk.stamp(9);
    await desk.kept(1);
    await desk.page.keyboard.press('PageUp');
    await desk.page.keyboard.press('PageUp');
    await desk.stamp(10);
    await desk.kept(2);
    await desk.sent();
    assert.deepEqual(
      at('TC1').map((row) => row.car),
      ['9', '10'],
    );
    assert.deepEqual(
      at('TC1/out').map((row) => row.car),
      ['9'],
    );
  });

  test('what is hidden from this desk is told to it nowhere', async () => {
    const desk = await open('TC2');
    await desk.page.waitForFunction(
      () => document.querySelectorAll('#expected tr[data-car]').length === 30,
    );
    assert.ok(!(await desk.page.content()).includes('Secret'));
    const key = served.addKey('--role', 'timekeeper', '--points', 'TC2');
    const ask = async (name) => {
      const answer = await fetch(`${served.api}/${name}`, {
        headers: { Authorization: `Bearer ${key}` },
      });
      return { status: answer.status, text: await answer.text() };
    };
    for (const name of ['desk', 'expected?point=TC2']) {
      const { status, text } = await ask(name);
      assert.equal(status, 200, name);
      assert.ok(!/Secret|R1/.test(text), name);
    }
    // A point that is there and hidden answers like one that is not there.
    const [hidden, none] = [await ask('expected?point=R1/1'), await ask('expected?point=R9/1')];
    assert.deepEqual(hidden, { status: 403, text: none.text.replaceAll('R9', 'R1') });
    assert.equal(none.status, 403);
  });

  test('doubts are marked on the row and go to the office', async () => {
    const desk = await open('TC1');
    await desk.stamp(11);
    await desk.kept(1);
    await desk.stamp(11);
    await desk.kept(2);
    assert.match(await desk.warns(), /11/);
    await desk.sent();
    const [again] = await desk.rows();
    assert.match(again.flags, /seen-before/);
    const { flags } = await served.ask('flags');
    const [told] = flags.filter((row) => row.reading === again.id);
    assert.deepEqual([told.point, told.car], ['TC1', 11]);
    assert.ok(told.flags.includes('seen-before'));
  });

  test('a slip shows before Enter', async () => {
    const desk = await open('TC1');
    await desk.page.keyboard.type('12');
    assert.match(await desk.page.locator('#echo').innerText(), /12, Calder Model 12/);
    await desk.page.keyboard.press('Escape');
    await desk.page.keyboard.type('31');
    assert.match(await desk.page.locator('#echo').innerText(), /1|3|21|30/);
    await desk.page.keyboard.press('Escape');
    assert.equal(await desk.page.locator('#field').inputValue(), '');
    assert.equal(await desk.page.evaluate(() => document.activeElement.id), 'field');
  });

  test('a pasted table from a device: looked at, taken, not taken twice', async () => {
    const desk = await open('TC1');
    const { page } = desk;
    const table = 'No.\tTime\n13\t10:42:07.5\n14\t10:43:00\n15\tnonsense\n';
    const paste = async () => {
      await page.locator('#files summary').click();
      await page.locator('#paste').fill(table);
      await page.waitForFunction(() => document.querySelectorAll('#preview tr').length === 3);
    };
    await paste();
    assert.equal(await page.locator('#preview tr[data-state="refused"]').count(), 1);
    await page.locator('#take').click();
    await desk.kept(2);
    await page.locator('#files summary').click();
    await paste();
    assert.ok(await page.locator('#take').isDisabled());
    await desk.sent();
    const rows = at('TC1').filter((row) => row.source === 'device');
    assert.deepEqual(
      rows.map((row) => [row.car, row.time.slice(-10)]),
      [
        ['13', '10:42:07.5'],
        ['14', '10:43:00'],
      ],
    );
  });

  test("a copy of the sheet is the contract's CSV", async () => {
    const desk = await open('TC1');
    await desk.stamp(16);
    await desk.kept(1);
    const [file] = await Promise.all([
      desk.page.waitForEvent('download'),
      desk.page.locator('#save-copy').click(),
    ]);
    const rows = csvRows(await readFile(await file.path(), 'utf8'));
    assert.equal(rows.length, 1);
    assert.deepEqual([rows[0].point, rows[0].car], ['TC1', '16']);
    assert.ok(apart(rows[0], desk.presses[0].at) < 20);
  });
});
