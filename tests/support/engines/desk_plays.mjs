// SPDX-License-Identifier: MIT
// What a desk must do in every engine, each with a browser that is killed and opened again.

import assert from 'node:assert/strict';
import { after, afterEach, before, beforeEach, describe, test } from 'node:test';
import { Served } from '../cairn.mjs';
import { inOrder, roadside } from '../desk.mjs';
import { FlakyProxy } from '../flaky_proxy.mjs';
import { Engine } from './engine.mjs';
import { Timekeeper, assertTaken } from './timekeeper.mjs';

/** Declares the plays for a driver: Firefox or WebKit. */
export function playDesk(driver) {
  describe(`the desk in ${driver.name}`, { timeout: 400_000 }, () => {
    const engine = new Engine(driver);
    let first, served, proxy, key;

    before(async () => {
      first = await engine.open();
    });
    after(() => engine.end());
    beforeEach(async () => {
      served = await Served.start(roadside);
      proxy = await FlakyProxy.to(served);
      key = served.addKey('--role', 'timekeeper', '--points', 'TC1,S1', '--label', 'Cold quay');
    });
    afterEach(async () => {
      await proxy.end();
      await served.end();
    });

    const open = (page = first, more = {}) =>
      Timekeeper.open(page, { served, origin: proxy.origin, key, ...more });
    /** The desk once more, as somebody opens it who has no link at hand. */
    const again = (page = first) => open(page, { key: null, settle: false });

    test('stamps, a blank that is given its number, and a line that is struck out', async () => {
      const desk = await open();
      for (const car of [1, 12, 3]) await desk.stamp(car);
      const blank = await desk.press('NumpadAdd');
      await desk.kept(4);
      await desk.stamp(5);
      await desk.give(4, blank);
      await desk.stamp(88); // nobody's number
      await desk.kept(6);
      await desk.strike();
      await desk.sent();
      assertTaken(served, desk.presses);
    });

    test('no digit is lost right behind Enter', async () => {
      const desk = await open();
      const cars = Array.from({ length: 30 }, (_, i) => ((i * 7) % 30) + 1);
      await desk.stampAll(cars);
      await desk.sent();
      const held = inOrder(assertTaken(served, desk.presses));
      assert.deepEqual(
        held.map((row) => Number(row.car)),
        cars,
      );
    });

    test('faults are counted at a test', async () => {
      const desk = await open();
      await desk.page.look(() => {
        const points = document.querySelector('#points');
        points.value = 'S1/finish';
        points.dispatchEvent(new Event('change', { bubbles: true }));
        document.querySelector('#field').focus();
      });
      await desk.press('7', 'c', 'c', 'l');
      const at = await desk.press('Enter');
      await desk.kept(1);
      await desk.sent();
      const [row] = assertTaken(served, [{ car: 7, ...at }], 'S1/finish');
      assert.equal(row.faults, 'cone=2;line=1');
    });

    test('a server that is away, a reload, a browser that is killed: all is there and comes once', async () => {
      const desk = await open();
      await desk.offlineReady();
      await desk.stamp(1);
      await desk.sent();
      await served.stop();
      for (const car of [2, 3, 4]) await desk.stamp(car);
      await desk.kept(4);
      await desk.page.reload();
      await desk.ready();
      await desk.kept(4);
      await desk.stamp(5);
      await desk.kept(5);
      await engine.kill();
      first = await engine.open();
      const back = await again();
      await back.kept(5);
      await back.stamp(6);
      await back.kept(6);
      await served.run();
      await back.sent();
      assertTaken(served, [...desk.presses, ...back.presses]);
    });

    test('a page that is held up, as a phone does with one behind another, holds up no other', async () => {
      const desk = await open();
      await desk.stamp(1);
      await desk.sent();
      const other = await again(await engine.newPage());
      await other.clockSettled();
      await desk.page.suspend();
      await other.stamp(2);
      await other.kept(2);
      await other.sent();
      assertTaken(served, [...desk.presses, ...other.presses]);
      desk.page.resume();
      await desk.kept(2);
      await other.page.close();
    });

    test('two tabs: what is stamped in either is sent, and one goes on without the other', async () => {
      const desk = await open();
      await desk.stamp(1);
      await desk.sent();
      const other = await again(await engine.newPage());
      await other.clockSettled();
      await other.stamp(2);
      await other.kept(2);
      await other.sent();
      await desk.page.close();
      await other.stamp(3);
      await other.kept(3);
      await other.sent();
      assertTaken(served, [...desk.presses, ...other.presses]);
      first = other.page;
    });
  });
}
