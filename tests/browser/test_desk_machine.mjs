// SPDX-License-Identifier: MIT
// The timekeeper's desk on a machine that fails: tabs closed, browsers killed, clocks set, disks full.

import assert from 'node:assert/strict';
import { after, afterEach, before, beforeEach, describe, test } from 'node:test';
import { Profile, Served, until } from '../support/setup.mjs';
import { Desk, apart, assertHeld, counting, inOrder, roadside } from '../support/desk.mjs';
import { FlakyProxy } from '../support/flaky_proxy.mjs';

const DOWN = [/ERR_|Failed to (load|fetch)|net::/];

describe('the desk on a machine that fails', { timeout: 400_000 }, () => {
  const profile = new Profile();
  let context, served, proxy, key;

  const reopen = async () => {
    context = await Desk.prepare(await profile.open());
  };
  before(reopen);
  after(() => profile.end());
  beforeEach(async () => {
    served = await Served.start(roadside);
    proxy = await FlakyProxy.to(served);
    key = served.addKey('--role', 'timekeeper', '--points', 'TC1', '--label', 'Cold quay');
  });
  afterEach(async () => {
    for (const page of context.pages()) await page.close();
    await proxy.end();
    await served.end();
  });

  const open = (more = {}) =>
    Desk.open(context, served, { origin: proxy.origin, key, allow: DOWN, ...more });
  /** The desk once more, as somebody opens it who has no link at hand. */
  const again = () => open({ key: null, settle: false });

  test('closing the tab with readings unsent: the browser asks', async () => {
    const desk = await open();
    await desk.offlineReady();
    proxy.cut();
    await desk.stamp(1);
    await desk.kept(1);
    const asked = new Promise((resolve) => {
      desk.page.once('dialog', async (dialog) => {
        await dialog.dismiss();
        resolve(dialog.type());
      });
    });
    await desk.page.close({ runBeforeUnload: true });
    assert.equal(await asked, 'beforeunload');
    await desk.stamp(2); // the page has stayed
    await desk.kept(2);
    await desk.page.close();
    const back = await again().catch(() => null);
    assert.notEqual(back, null, 'it must open without a line');
    await back.kept(2);
    proxy.mend();
    await back.sent();
    assertHeld(served, desk.presses);
  });

  test('closing the tab with all sent: nobody is asked', async () => {
    const desk = await open();
    await desk.stamp(1);
    await desk.sent();
    let asked = false;
    desk.page.once('dialog', (dialog) => {
      asked = true;
      dialog.accept();
    });
    const closed = desk.page.waitForEvent('close');
    await desk.page.close({ runBeforeUnload: true });
    await closed;
    assert.equal(asked, false);
  });

  test('the page crashes: what was pressed is there', async () => {
    const desk = await open();
    await desk.offlineReady();
    proxy.cut();
    for (let car = 1; car <= 10; car++) await desk.stamp(car);
    await desk.kept(10);
    const crashed = desk.page.waitForEvent('crash');
    const session = await context.newCDPSession(desk.page);
    session.send('Page.crash').catch(() => {});
    await crashed;
    const back = await again();
    await back.kept(10);
    proxy.mend();
    await back.sent();
    assertHeld(served, desk.presses);
  });

  test('the browser is killed: what was pressed is there', async () => {
    const desk = await open();
    await desk.offlineReady();
    proxy.cut();
    for (let car = 1; car <= 20; car++) await desk.stamp(car);
    await desk.kept(20);
    await profile.kill();
    await reopen();
    const back = await again();
    await back.kept(20);
    await back.stamp(21);
    await back.kept(21);
    proxy.mend();
    await back.sent();
    assertHeld(served, [...desk.presses, ...back.presses]);
  });

  test('the wall clock is set by an hour: stamps stay true, and say so where nobody knows', async () => {
    const desk = await open();
    await desk.stamp(1);
    proxy.cut();
    await desk.page.evaluate(() => {
      window.test.turn(3_600_000);
    });
    await desk.stamp(2);
    await desk.page.evaluate(() => {
      window.test.turn(-7_200_000);
    });
    await desk.stamp(3);
    await desk.kept(3);
    proxy.mend();
    await desk.sent();
    await desk.clockSettled();
    await desk.stamp(4);
    await desk.kept(4);
    await desk.sent();
    const rows = assertHeld(served, desk.presses);
    const flagged = rows
      .filter((row) => /clock-jumped/.test(row.flags))
      .map((row) => Number(row.car));
    assert.deepEqual(flagged.sort(), [2, 3]);
    // Both raw clocks go with each reading, so that the office can follow it.
    const [, second] = rows;
    assert.ok(Math.abs(Number(second.wall_ms) - desk.presses[1].at - 3_600_000) < 1000);
  });

  test('a machine whose clock was wrong all along: true times', async () => {
    await context.addInitScript(() => {
      if (location.hash.length > 1) sessionStorage.setItem('wrong', 'yes');
      if (sessionStorage.getItem('wrong')) window.test.turn(-41_000);
    });
    try {
      const desk = await open();
      await desk.stamp(5);
      await desk.kept(1);
      await desk.sent();
      assertHeld(served, desk.presses);
    } finally {
      await profile.close();
      await reopen();
    }
  });

  test('frozen in the background and back: the clock is asked for at once', async () => {
    const desk = await open();
    await desk.stamp(1);
    await desk.sent();
    const asked = () => proxy.seen.filter(({ path }) => path.endsWith('/clock')).length;
    await desk.page.evaluate(() => {
      document.dispatchEvent(new Event('freeze'));
    });
    const before = asked();
    await desk.page.evaluate(() => {
      document.dispatchEvent(new Event('resume'));
    });
    while (asked() < before + 4) await desk.page.waitForTimeout(20);
    await desk.stamp(2);
    await desk.kept(2);
    await desk.sent();
    assertHeld(served, desk.presses);
  });

  for (const [when, refuse] of [
    [
      'from the start',
      () => {
        IDBFactory.prototype.open = () => {
          throw new DOMException('no', 'SecurityError');
        };
      },
    ],
    [
      'while at work',
      () => {
        window.refuse = () => {
          for (const name of ['add', 'put']) {
            IDBObjectStore.prototype[name] = () => {
              throw new DOMException('full', 'QuotaExceededError');
            };
          }
        };
      },
    ],
  ]) {
    test(`storage is refused ${when}: it says so in red, and sends at once`, async () => {
      const page = await context.newPage();
      await page.addInitScript(refuse);
      const desk = new Desk();
      Object.assign(desk, { page, served, presses: [] });
      await page.goto(`${proxy.origin}/${served.slug}/control#${key}`);
      await desk.ready();
      await desk.clockSettled();
      if (when === 'while at work') {
        assert.equal(await page.getAttribute('html', 'data-storage'), 'kept');
        await desk.stamp(1);
        await desk.sent();
        await page.evaluate(() => window.refuse());
      }
      await desk.stamp(2);
      await page.locator('html[data-storage="refused"]').waitFor({ state: 'attached' });
      await desk.stamp(3);
      assert.ok(await page.locator('#banner-storage').isVisible());
      await page.waitForFunction(
        () => document.querySelectorAll('#log tr[data-state="sent"]').length >= 2,
      );
      await desk.sent();
      assertHeld(served, desk.presses);
    });
  }

  test('a held key and a second Enter: one stamp', async () => {
    const desk = await open();
    await desk.page.keyboard.type('7');
    await desk.page.keyboard.down('Enter');
    for (let i = 0; i < 5; i++) await desk.page.keyboard.down('Enter');
    await desk.page.keyboard.up('Enter');
    const [{ at }] = await desk.page.evaluate(() =>
      window.test.presses.filter(({ key: name }) => name === 'Enter'),
    );
    await desk.page.keyboard.press('Enter');
    await desk.kept(1);
    await desk.page.keyboard.down('+');
    for (let i = 0; i < 5; i++) await desk.page.keyboard.down('+');
    await desk.page.keyboard.up('+');
    await desk.kept(2); // the blank
    await desk.page.keyboard.type('8');
    await desk.page.keyboard.press('*');
    await desk.sent();
    const rows = inOrder(counting(served.readings()));
    assert.deepEqual(
      rows.map((row) => [Number(row.car), row.source]),
      [
        [7, 'key'],
        [8, 'blank'],
      ],
    );
    assert.ok(apart(rows[0], at) < 20, JSON.stringify(rows[0]));
  });

  test('whoever comes from the board is offered no newer version', async () => {
    const board = await context.newPage();
    await board.goto(`${proxy.origin}/${served.slug}/`);
    await board.evaluate(() => navigator.serviceWorker.ready);
    await board.waitForFunction(() => navigator.serviceWorker.controller !== null);
    await board.close();
    const desk = await open();
    await until(desk.page, async () =>
      (await navigator.serviceWorker.getRegistrations()).some(
        ({ scope, active }) => scope.endsWith('/control') && active?.state === 'activated',
      ),
    );
    assert.equal(await desk.page.locator('#update').isVisible(), false);
  });

  test('a new version waits until the timekeeper says so', async () => {
    const desk = await open();
    await desk.offlineReady();
    await desk.stamp(1);
    await desk.page.evaluate(() => {
      window.sameAsBefore = true;
    });
    proxy.rewrite = (path, text) => (path.endsWith('/worker.js') ? `${text}\n// newer\n` : null);
    await desk.page.evaluate(async () => {
      // The board's worker may be here too.
      const all = await navigator.serviceWorker.getRegistrations();
      await all.find(({ scope }) => scope.endsWith('/control')).update();
    });
    await desk.page.locator('#update').waitFor();
    await desk.stamp(2);
    await desk.page.waitForTimeout(500);
    assert.equal(await desk.page.evaluate(() => window.sameAsBefore), true);
    await desk.kept(2);
    await desk.sent();
    const gone = desk.page.waitForEvent('load');
    await desk.page.locator('#update').click();
    await gone;
    await desk.ready();
    assert.equal(await desk.page.evaluate(() => window.sameAsBefore), undefined);
    await desk.kept(2);
    await desk.clockSettled();
    await desk.stamp(3);
    await desk.kept(3);
    await desk.sent();
    assertHeld(served, desk.presses);
  });

  test('the page is busy when the key goes down: the true time', async () => {
    const desk = await open();
    const session = await context.newCDPSession(desk.page);
    for (const car of [1, 2, 3]) {
      await desk.page.keyboard.type(String(car));
      const busy = desk.page.evaluate(() => {
        const end = performance.now() + 400;
        while (performance.now() < end);
      });
      await new Promise((resolve) => {
        setTimeout(resolve, 60);
      });
      const at = Date.now();
      // The instant that the machine gives the key, before any page hears of it.
      const down = session.send('Input.dispatchKeyEvent', {
        type: 'keyDown',
        key: 'Enter',
        code: 'Enter',
        windowsVirtualKeyCode: 13,
        text: '\r',
        timestamp: at / 1000,
      });
      await Promise.all([busy, down]);
      await session.send('Input.dispatchKeyEvent', {
        type: 'keyUp',
        key: 'Enter',
        code: 'Enter',
        windowsVirtualKeyCode: 13,
      });
      desk.presses.push({ car, at });
    }
    await desk.kept(3);
    await desk.sent();
    assertHeld(served, desk.presses);
  });

  test('readings of days ago stay on the sheet, sent ones too', async () => {
    const desk = await open();
    for (const car of [1, 2]) await desk.stamp(car);
    await desk.kept(2);
    await desk.sent();
    await desk.page.close();
    const back = await again();
    await back.kept(2);
    assert.deepEqual(
      (await back.rows()).map((row) => row.state),
      ['sent', 'sent'],
    );
    assert.equal(counting(served.readings()).length, 2);
  });
});
