// SPDX-License-Identifier: MIT
// A whole day at the first control of the demo event, by keyboard alone and in fast motion.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { after, afterEach, before, describe, test } from 'node:test';
import { DEMO, Profile, Served, csvRows } from '../support/setup.mjs';
import {
  Desk,
  apart,
  assertHeld,
  counting,
  demoToday,
  fromNow,
  inOrder,
} from '../support/desk.mjs';

const CARS = csvRows(readFileSync(path.join(DEMO, 'entries.csv'), 'utf8'))
  .map((row) => Number(row.number))
  .sort((a, b) => a - b);
// Of these each comes together with the one behind it.
const PAIRS = [20, 60, 100, 140].map((i) => CARS[i]);

describe('a day at a control', { timeout: 400_000 }, () => {
  const profile = new Profile();
  let context, served;

  before(async () => {
    context = await Desk.prepare(await profile.open());
    served = await Served.start(demoToday);
  });
  afterEach(async () => {
    for (const page of context.pages()) await page.close();
  });
  after(async () => {
    await profile.end();
    await served.end();
  });

  test('172 cars, eight of them in pairs, five slips: exactly what was meant', async () => {
    const key = served.addKey('--role', 'timekeeper', '--points', 'TC1', '--label', 'Saltmill');
    const desk = await Desk.open(context, served, { key });
    const { keyboard } = desk.page;
    assert.equal(CARS.length, 172);
    await desk.page.waitForFunction(
      (n) => document.querySelectorAll('#expected tr[data-car]').length === n,
      CARS.length,
    );

    let lines = 0;
    const slips = {
      // The neighbour's number, seen once it stood there.
      async [CARS[33]](car) {
        const at = await desk.stamp(CARS[40]);
        await desk.kept(++lines);
        await desk.renumber(car);
        desk.presses.at(-1).car = car;
        return at;
      },
      // Twice, because the first beep was lost in the noise.
      async [CARS[52]](car) {
        await desk.stamp(car);
        await desk.kept(++lines);
        await keyboard.type(String(car));
        await keyboard.press('Enter');
        await desk.kept(++lines);
        await desk.strike();
        await desk.page.locator('#log tr[data-state="void"]').first().waitFor();
      },
      // Struck out by a sleeve, and restored.
      async [CARS[75]](car) {
        await desk.stamp(car);
        await desk.kept(++lines);
        const voids = await desk.page.locator('#log tr[data-state="void"]').count();
        await desk.strike();
        await desk.page.waitForFunction(
          (n) => document.querySelectorAll('#log tr[data-state="void"]').length === n,
          voids + 1,
        );
        await desk.strike();
        await desk.page.waitForFunction(
          (n) => document.querySelectorAll('#log tr[data-state="void"]').length === n,
          voids,
        );
      },
      // A blank for a car that was none.
      async [CARS[110]](car) {
        const voids = await desk.page.locator('#log tr[data-state="void"]').count();
        await keyboard.press('+');
        await desk.kept(++lines);
        await desk.strike();
        await desk.page.waitForFunction(
          (n) => document.querySelectorAll('#log tr[data-state="void"]').length === n,
          voids + 1,
        );
        await desk.stamp(car);
        await desk.kept(++lines);
      },
      // A number that nobody has, mended at once.
      async [CARS[160]](car) {
        await desk.stamp(9000 + car);
        await desk.kept(++lines);
        await desk.renumber(car);
        desk.presses.at(-1).car = car;
      },
    };

    for (let i = 0; i < CARS.length; i++) {
      const car = CARS[i];
      if (PAIRS.includes(car)) {
        const first = await desk.press('+');
        const second = await desk.press('+');
        await desk.kept((lines += 2));
        await desk.give(car, first);
        await desk.page.waitForFunction(
          () => document.querySelectorAll('#log tr[data-state="blank"]').length === 1,
        );
        await desk.give(CARS[++i], second);
      } else if (slips[car]) {
        await slips[car](car);
      } else {
        await desk.stamp(car);
        lines++;
      }
    }
    assert.equal(desk.presses.length, CARS.length);
    await desk.kept(lines);
    await desk.sent();
    assertHeld(served, desk.presses);
    assert.deepEqual(
      counting(served.readings())
        .map((row) => Number(row.car))
        .sort((a, b) => a - b),
      CARS,
    );

    // What the timekeeper reads to the office, and what the office sees. The list of the cars is drawn
    // when no key was pressed for a moment.
    await desk.page.waitForFunction(
      () => document.querySelector('#expected tr[data-state="expected"]') === null,
    );
    assert.match(await desk.page.locator('#summary').innerText(), /172/);
    const { desks } = await served.ask('desks');
    assert.deepEqual(
      desks.map(({ points }) => points),
      [['TC1']],
    );
    assert.deepEqual(desks[0].gaps, []);
    const board = await served.ask('standings?after=TC1');
    const ranked = [...board.standings, ...board.unplaced];
    assert.equal(ranked.length, CARS.length);
    assert.deepEqual(
      ranked.filter((row) => row.doubtful > 0 || row.through !== 'TC1'),
      [],
    );
    assert.deepEqual(desk.errors.take(), []);
  });

  test('a time that was read off another clock is marked, and stands beside a stamp', async () => {
    const key = served.addKey('--role', 'timekeeper', '--points', 'TC2', '--label', 'Second');
    const desk = await Desk.open(context, served, { key });
    // The browser has a copy of the first key's points: nothing may be stamped there.
    assert.equal(await desk.page.locator('#points').inputValue(), 'TC2');
    await desk.stamp(1);
    // A few minutes ago: what lies far from now may be another day's, when it comes from midnight.
    const day = fromNow(-7);
    const [hours, minutes] = [String(Number(day.slice(0, 2)) % 24).padStart(2, '0'), day.slice(3)];
    for (const [typed, car] of [
      [`${hours}${minutes}`, 1],
      [`${hours}${minutes}07`, 2],
      [`${hours}:${minutes}:07.5`, 3],
      [`${hours}.${minutes}.07`, 4],
    ]) {
      await desk.page.keyboard.type(`${car} ${typed}`);
      await desk.page.keyboard.press('Enter');
    }
    await desk.kept(5);
    await desk.sent();
    const rows = inOrder(served.readings().filter((row) => row.point === 'TC2'));
    assert.deepEqual(
      rows.filter((row) => row.source === 'typed').map((row) => row.time),
      [day, `${day}:07`, `${day}:07.5`, `${day}:07`],
    );
    assert.ok(
      rows.filter((row) => row.source === 'typed').every((row) => /typed-time/.test(row.flags)),
    );
    const [stamp] = rows.filter((row) => row.source === 'key');
    assert.ok(apart(stamp, desk.presses[0].at) < 20);
  });
});
