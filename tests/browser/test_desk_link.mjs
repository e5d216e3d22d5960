// SPDX-License-Identifier: MIT
// The timekeeper's desk over a bad connection: each press is stored once by the server, however often
// requests fail.

import assert from 'node:assert/strict';
import { after, afterEach, before, beforeEach, describe, test } from 'node:test';
import { Profile, Served } from '../support/setup.mjs';
import { Desk, assertHeld, roadside } from '../support/desk.mjs';
import { FlakyProxy } from '../support/flaky_proxy.mjs';

// The errors that a browser writes while the network is down.
const DOWN = [/ERR_|Failed to (load|fetch)|net::/];

describe('the desk on a bad line', { timeout: 400_000 }, () => {
  const profile = new Profile();
  let context, served, proxy, key;

  before(async () => {
    context = await Desk.prepare(await profile.open());
  });
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

  test('a good line: each press is held at its true time, the key is told nowhere', async () => {
    const desk = await open({ allow: [] });
    assert.equal(new URL(desk.page.url()).hash, '');
    for (const car of [1, 2, 3]) await desk.stamp(car);
    await desk.kept(3);
    await desk.sent();
    const rows = assertHeld(served, desk.presses);
    assert.deepEqual(
      rows.map((row) => row.source),
      ['key', 'key', 'key'],
    );
    assert.ok(
      rows.every((row) => /^\d\d:\d\d:\d\d\.\d{3}$/.test(row.time)),
      JSON.stringify(rows),
    );
    assert.ok(!proxy.seen.some(({ path }) => path.includes(key)));
    assert.ok(!served.log.includes(key));
    assert.deepEqual(desk.errors.take(), []);
  });

  test('reload while offline: it opens, the sheet is whole, work goes on', async () => {
    const desk = await open();
    await desk.offlineReady();
    await desk.stamp(1);
    await desk.sent();
    await context.setOffline(true);
    proxy.cut();
    await desk.stamp(2);
    await desk.kept(2);
    desk.page.once('dialog', (dialog) => dialog.accept());
    await desk.page.reload();
    await desk.ready();
    await desk.kept(2);
    await desk.stamp(3);
    await desk.kept(3);
    await context.setOffline(false);
    proxy.mend();
    await desk.sent();
    assertHeld(served, desk.presses);
  });

  test('reload while the server is stopped: the same', async () => {
    const desk = await open();
    await desk.offlineReady();
    await desk.stamp(4);
    await desk.sent();
    await served.stop();
    await desk.stamp(5);
    await desk.kept(2);
    desk.page.once('dialog', (dialog) => dialog.accept());
    await desk.page.reload();
    await desk.ready();
    await desk.kept(2);
    await desk.stamp(6);
    await desk.kept(3);
    await served.run();
    await desk.sent();
    assertHeld(served, desk.presses);
  });

  test('the answer is lost after the server has kept it: one row', async () => {
    const desk = await open();
    let losses = 0;
    proxy.fate = ({ method, path }) =>
      method === 'POST' && path.endsWith('/readings') && losses++ < 3 ? 'lose' : 'pass';
    await desk.stamp(7);
    await desk.stamp(8);
    await desk.kept(2);
    while (losses < 4) {
      await desk.page.evaluate(() => {
        window.dispatchEvent(new Event('online'));
      });
      await desk.page.waitForTimeout(20);
    }
    await desk.sent();
    assertHeld(served, desk.presses);
    const times = proxy
      .uploads()
      .flatMap(({ bodies }) => bodies)
      .filter(({ car }) => car === 7);
    assert.ok(times.length >= 2, `${times.length} times sent`);
    assert.equal(new Set(times.map(({ id }) => id)).size, 1);
  });

  test('the line flaps in the middle of the work: no gap, nothing twice', async () => {
    const desk = await open();
    let uploads = 0;
    proxy.fate = ({ path }) => {
      if (!path.endsWith('/readings')) return 'pass';
      return ['cut', 'lose', 'pass'][uploads++ % 3];
    };
    for (let i = 0; i < 60; i++) {
      await desk.stamp((i % 30) + 1);
      if (i % 5 === 0) {
        await desk.page.evaluate(() => {
          window.dispatchEvent(new Event('online'));
        });
      }
    }
    await desk.kept(60);
    for (let i = 0; i < 100 && uploads < 12; i++) {
      await desk.page.evaluate(() => {
        window.dispatchEvent(new Event('online'));
      });
      await desk.page.waitForTimeout(30);
    }
    proxy.mend();
    await desk.sent();
    assertHeld(served, desk.presses);
  });

  test('an hour without a line: no more is sent at once than the server likes', async () => {
    const desk = await open();
    proxy.cut();
    for (let i = 0; i < 60; i++) await desk.stamp((i % 30) + 1);
    await desk.kept(60);
    proxy.mend();
    await desk.sent();
    assertHeld(served, desk.presses);
    const sizes = proxy
      .uploads()
      .filter(({ status }) => status === 200)
      .map(({ bodies }) => bodies.length);
    assert.ok(sizes.every((n) => n <= 50) && sizes.length >= 2, sizes.join(' '));
  });

  test('two tabs: one sends, the other says so and takes over', async () => {
    const first = await open();
    const second = await open({ key: null });
    await second.page.waitForFunction(() =>
      [...document.querySelectorAll('.banner')].some((e) => e.checkVisibility()),
    );
    const senders = new Set();
    for (const [name, desk] of [
      ['first', first],
      ['second', second],
    ]) {
      desk.page.on('request', (request) => {
        if (request.method() === 'POST' && request.url().endsWith('/readings')) senders.add(name);
      });
    }
    for (const car of [1, 2, 3, 4, 5]) {
      await first.stamp(car);
      await second.stamp(car + 10);
    }
    await first.kept(10);
    await first.sent();
    await second.sent(); // it has heard of it
    assert.deepEqual([...senders], ['first']);
    assertHeld(served, [...first.presses, ...second.presses]);
    await first.page.close();
    await second.stamp(20);
    await second.kept(11);
    await second.sent();
    assert.deepEqual([...senders], ['first', 'second']);
    // A browser may repeat a POST by itself, so it is what the server holds that must be single.
    assertHeld(served, [...first.presses, ...second.presses]);
  });

  test('two tabs that do not hear of each other: no number is used twice', async () => {
    const first = await open();
    const second = await open({ key: null });
    for (const desk of [first, second]) {
      await desk.page.evaluate(() => {
        BroadcastChannel.prototype.postMessage = () => {};
      });
    }
    for (const car of [1, 2, 3]) {
      await first.stamp(car);
      await first.kept(car);
      await second.stamp(car + 10);
      await second.kept(car);
    }
    await first.sent();
    await first.page.close();
    await second.sent();
    assertHeld(served, [...first.presses, ...second.presses]);
  });

  test('the key is revoked while offline: kept, asked for, sent under the new one', async () => {
    const desk = await open({ allow: [...DOWN, /401/] });
    await desk.stamp(9);
    await desk.sent();
    proxy.cut();
    await desk.stamp(10);
    await desk.kept(2);
    served.revokeLastKey();
    proxy.mend();
    await desk.page.evaluate(() => {
      window.dispatchEvent(new Event('online'));
    });
    await desk.page.waitForFunction(
      () => document.querySelector('#badge-link').dataset.level === 'bad',
    );
    await desk.stamp(11);
    await desk.kept(3);
    assert.equal((await desk.rows()).filter((row) => row.state === 'kept').length, 2);
    const ids = (await desk.rows()).map((row) => row.id).sort();
    const fresh = served.addKey('--role', 'timekeeper', '--points', 'TC1');
    await desk.page.evaluate((text) => {
      location.hash = text;
    }, fresh);
    await desk.sent();
    const rows = assertHeld(served, desk.presses);
    assert.deepEqual(rows.map((row) => row.id).sort(), ids);
  });

  /** The server takes what a desk sends, whatever the car; here it has something against one. */
  async function refuseFirst(page, car) {
    await page.route('**/readings', async (route) => {
      const rows = JSON.parse(route.request().postData());
      const bad = rows.filter((row) => row.car === car && !row.replaces);
      const postData = JSON.stringify(rows.filter((row) => !bad.includes(row)));
      const response = await route.fetch({ postData });
      const answer = await response.json();
      answer.refused.push(...bad.map(({ id }) => ({ row: 1, id, reason: 'no place for it' })));
      await route.fulfill({ response, json: answer });
    });
  }

  test('a refused reading waits for a person and holds up no other', async () => {
    const wide = served.addKey('--role', 'timekeeper', '--points', 'TC1', '--label', 'Cold quay');
    const desk = await open({ key: wide });
    await refuseFirst(desk.page, 99);
    await desk.stamp(12);
    await desk.stamp(99); // nobody has this number
    await desk.stamp(13);
    await desk.kept(3);
    await desk.page.waitForFunction(
      () => document.querySelectorAll('#log tr[data-state="sent"]').length === 2,
    );
    const [bad] = (await desk.rows()).filter((row) => row.state === 'refused');
    assert.match(bad.flags, /unknown-number/);
    assert.match(bad.text, /99/);
    assertHeldCars(served, [12, 13]);
    const { desks } = await served.ask('desks');
    assert.equal(desks.length, 1);
    assert.deepEqual(desks[0].gaps, [[2, 2]]);
    // Struck out, nothing is left to do at the desk.
    await desk.page.locator('#log tr[data-state="refused"] button').click();
    await desk.page.getByRole('button', { name: 'Strike out', exact: true }).last().click();
    await desk.page.locator('#log tr[data-state="void"]').waitFor();
    await desk.page.waitForFunction(
      () => document.getElementById('badge-outbox').textContent.trim() === 'All sent',
    );
    assert.equal(await desk.page.locator('#log tr[data-state="refused"]').count(), 0);
    assertHeldCars(served, [12, 13, 99]); // what withdraws it is kept
  });
});

function assertHeldCars(served, cars) {
  assert.deepEqual(
    served
      .readings()
      .map((row) => Number(row.car))
      .sort((a, b) => a - b),
    cars,
  );
}
