// SPDX-License-Identifier: MIT
// Several tabs and several links of one browser: none loses a stamp from sight, sends it under another
// point's key, or changes the point of another.

import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { after, afterEach, before, beforeEach, describe, test } from 'node:test';
import { Profile, Served, csvRows } from '../support/setup.mjs';
import { Desk, assertHeld, roadside } from '../support/desk.mjs';
import { FlakyProxy } from '../support/flaky_proxy.mjs';

// The errors that a browser writes while the network is down, and of a key that is not in force.
const ALLOWED = [/ERR_|Failed to (load|fetch)|net::/, /40[13]/];

describe('several tabs and links', { timeout: 400_000 }, () => {
  const profile = new Profile();
  let context, served, proxy;

  before(async () => {
    context = await Desk.prepare(await profile.open());
  });
  after(() => profile.end());
  beforeEach(async () => {
    served = await Served.start(roadside);
    proxy = await FlakyProxy.to(served);
  });
  afterEach(async () => {
    for (const page of context.pages()) await page.close();
    await proxy.end();
    await served.end();
  });

  const keyFor = (points) => served.addKey('--role', 'timekeeper', '--points', points);
  const open = (key = null) =>
    Desk.open(context, served, { origin: proxy.origin, key, allow: ALLOWED });

  async function at(desk, place) {
    await desk.page.locator('#place-name').filter({ hasText: place }).waitFor();
  }

  async function reload(desk) {
    desk.page.once('dialog', (dialog) => dialog.accept());
    await desk.page.reload();
    await desk.ready();
  }

  function tryNow(desk) {
    return desk.page.evaluate(() => {
      window.dispatchEvent(new Event('online'));
    });
  }

  test('two links: each stamp goes with its own point’s key, each tab keeps its point', async () => {
    const first = await open(keyFor('TC1'));
    const second = await open(keyFor('TC2'));
    await at(second, 'TC2');
    for (const car of [1, 2, 3]) {
      await first.stamp(car);
      await second.stamp(car);
    }
    await first.sent();
    await second.sent();
    assertHeld(served, first.presses, { point: 'TC1' });
    assertHeld(served, second.presses, { point: 'TC2' });
    await reload(first);
    await at(first, 'TC1');
    await first.stamp(4);
    await first.kept(4);
    await first.sent();
    await first.page.close();
    await reload(second);
    await at(second, 'TC2');
    await second.stamp(5);
    await second.kept(4);
    await second.sent();
    assertHeld(served, first.presses, { point: 'TC1' });
    assertHeld(served, second.presses, { point: 'TC2' });
  });

  test('one link at two points in two tabs: a reload keeps the point of each', async () => {
    const key = keyFor('TC1,TC2');
    const first = await open(key);
    const second = await open();
    await second.page.locator('#points').selectOption('TC2');
    await at(second, 'TC2');
    await reload(first);
    await at(first, 'TC1');
    await reload(second);
    await at(second, 'TC2');
    const third = await open(key);
    await at(third, 'TC1'); // as the link says first
  });

  test('a withdrawn key, then a link for another point: what waits stays in sight', async () => {
    const desk = await open(keyFor('TC1'));
    proxy.cut();
    const { page } = desk;
    await desk.stamp(7);
    await desk.kept(1);
    served.revokeLastKey();
    proxy.mend();
    await tryNow(desk);
    await page.locator('#badge-link[data-level="bad"]').waitFor();
    await page.locator('#key-link').fill(`${desk.address}#${keyFor('TC2')}`);
    await page.locator('#key-link').press('Enter');
    await at(desk, 'TC2');
    const waiting = page.locator('#log-others tr[data-id]');
    await waiting.waitFor();
    const text = await waiting.innerText();
    assert.match(text, /7/);
    assert.match(text, /TC1/);
    assert.match(text, /waits for a link/);
    assert.equal(await page.locator('#badge-outbox').innerText(), '1 to send');
    await tryNow(desk);
    assert.match(await page.locator('#warn').innerText(), /another point: TC2/);
    // The office makes a new link for the first point, for a tab of its own.
    const other = await open(keyFor('TC1'));
    await other.sent();
    await waiting.waitFor({ state: 'detached' });
    assertHeld(served, desk.presses);
  });

  test('a tab that sleeps holds up no other', async () => {
    const first = await open(keyFor('TC1'));
    const second = await open();
    await second.page.locator('#banner-tab').waitFor();
    const session = await context.newCDPSession(first.page);
    await session.send('Debugger.enable');
    await session.send('Debugger.pause'); // no script of it runs any more
    await second.stamp(8);
    await second.kept(1);
    await second.sent();
    await second.page.locator('#banner-tab').waitFor({ state: 'hidden' });
    assertHeld(served, second.presses);
    await session.send('Debugger.disable');
  });

  test('a link that was cut short is not taken, and what was typed stays', async () => {
    const desk = await open(keyFor('TC1'));
    const { page } = desk;
    served.revokeLastKey();
    await desk.stamp(1);
    await page.locator('#banner-key').waitFor();
    const key = keyFor('TC1');
    const cut = `${desk.address}#${key.slice(0, -4)}`;
    await page.locator('#key-link').fill(cut);
    await page.locator('#key-link').press('Enter');
    await page.locator('#banner-key-text').filter({ hasText: 'does not know this link' }).waitFor();
    assert.equal(await page.locator('#key-link').inputValue(), cut);
    await page.locator('#key-link').fill(`${desk.address}#${key}`);
    await page.locator('#key-link').press('Enter');
    await page.locator('#banner-key').waitFor({ state: 'hidden' });
    await desk.sent();
    assertHeld(served, desk.presses);
  });

  test('the network that goes does not take the word of the car just stamped', async () => {
    const desk = await open(keyFor('TC1'));
    await desk.stamp(3);
    await desk.kept(1);
    await desk.sent();
    proxy.cut();
    await tryNow(desk);
    await desk.page.locator('#say').filter({ hasText: 'Offline' }).waitFor();
    assert.match(await desk.says(), /3 stamped/);
    await desk.stamp(4);
    await desk.kept(2);
    proxy.mend();
    await desk.sent();
    await desk.page.locator('#say').filter({ hasText: 'Online again, 1 sent' }).waitFor();
    assert.match(await desk.says(), /4 stamped/);
  });

  test('a time without a number is at the server and in the saved copy, before and after', async () => {
    const desk = await open(keyFor('TC1'));
    const { page } = desk;
    const pressed = await desk.press('NumpadAdd');
    await desk.kept(1);
    await page.locator('#log tr').filter({ hasText: 'no number, sent' }).waitFor();
    const [only, ...more] = served.readings();
    assert.deepEqual([only.car, only.source, more], ['', 'blank', []]);
    const copied = async () => {
      const [file] = await Promise.all([
        page.waitForEvent('download'),
        page.locator('#save-copy').click(),
      ]);
      return csvRows(await readFile(await file.path(), 'utf8')).map((row) => row.id);
    };
    assert.deepEqual(await copied(), [only.id]);
    await desk.give(7, pressed);
    await page.locator('#log tr[data-state="sent"]').waitFor();
    await desk.sent();
    const held = assertHeld(served, desk.presses).find((row) => row.car === '7');
    assert.equal(held.replaces, only.id);
    assert.equal((await copied()).length, 2);
  });

  test('a disk that was full and takes again: what it did not take is kept, the banner goes', async () => {
    const desk = await open(keyFor('TC1'));
    const { page } = desk;
    proxy.cut();
    await page.evaluate(() => {
      const { add } = IDBObjectStore.prototype;
      IDBObjectStore.prototype.add = () => {
        throw new DOMException('full', 'QuotaExceededError');
      };
      window.test.space = () => {
        IDBObjectStore.prototype.add = add;
      };
    });
    await desk.stamp(1);
    await page.locator('#banner-storage').waitFor();
    await page.evaluate(() => window.test.space());
    await desk.stamp(2);
    await page.locator('#banner-storage').waitFor({ state: 'hidden' });
    proxy.mend();
    await reload(desk);
    await desk.kept(2);
    await desk.sent();
    assertHeld(served, desk.presses);
  });

  test('the browser is asked to keep the data after a press only, with a word first', async () => {
    await context.addInitScript(() => {
      window.asked = 0;
      Object.assign(navigator.storage, {
        persisted: async () => window.asked > 0,
        persist: async () => {
          window.asked++;
          return true;
        },
      });
    });
    const desk = await open(keyFor('TC1'));
    const { page } = desk;
    const word = page.locator('#keeping-text');
    await word.filter({ hasText: 'may clear' }).waitFor();
    assert.equal(await page.evaluate(() => window.asked), 0);
    await page.locator('#keep-safe').click();
    await word.filter({ hasText: 'keeps this desk’s data' }).waitFor();
    assert.equal(await page.locator('#keep-safe').isVisible(), false);
    assert.equal(await page.evaluate(() => document.activeElement.id), 'field');
    assert.equal(await page.evaluate(() => window.asked), 1);
  });

  test('a car entered late is known, and what was refused for it is taken', async () => {
    const desk = await open(keyFor('TC1'));
    await desk.stamp(31);
    await desk.kept(1);
    const headers = { Authorization: `Bearer ${served.organiser}`, 'Content-Type': 'text/csv' };
    const list = await (await fetch(`${served.api}/entries`, { headers })).text();
    const answer = await fetch(`${served.api}/entries`, {
      method: 'PUT',
      body: `${list}31,A. Tern 31,B. Knot 31,Calder,Latecomer,1931\n`,
      headers,
    });
    assert.equal(answer.status, 200, await answer.text());
    await tryNow(desk);
    await desk.page.keyboard.type('31');
    await desk.page.locator('#echo').filter({ hasText: 'Latecomer' }).waitFor();
    await desk.sent();
    assertHeld(served, desk.presses);
  });
});
