// SPDX-License-Identifier: MIT
// The office's page on the machine: every line in words, kept up to date, whole on a phone.

import assert from 'node:assert/strict';
import { renameSync } from 'node:fs';
import path from 'node:path';
import { after, before, describe, test } from 'node:test';
import { setTimeout as sleep } from 'node:timers/promises';
import {
  PageErrors,
  Served,
  axe,
  contextOf,
  events,
  launch,
  legible,
  sideways,
} from '../support/setup.mjs';

describe('the machine in the office', { timeout: 400_000 }, () => {
  let browser, pageErrors, page, served;

  before(async () => {
    served = await Served.start(events.hostile);
    browser = await launch();
    const context = await contextOf(browser, {
      viewport: { width: 390, height: 844 },
      hasTouch: true,
    });
    page = await context.newPage();
    pageErrors = new PageErrors(page);
    await page.goto(`${served.origin}/${served.slug}/office#${served.organiser}`);
    await page.waitForSelector('html[data-section="room"]');
    await page.locator('#sections a[href="#machine"]').click();
    await page.waitForSelector('html[data-section="machine"] #machine-lines');
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  const states = () => page.locator('#machine-lines .state').allTextContents();

  test('each line says in words whether it is fine', async () => {
    const words = await states();
    assert.ok(words.length >= 14, `${words.length} lines`);
    for (const word of words) assert.match(word, /^(fine|look at this|not known)$/);
    const rows = await page.locator('#machine-lines tbody tr').allTextContents();
    assert.ok(rows.some((row) => row.startsWith('Disk')));
    assert.ok(rows.some((row) => row.startsWith('Copies') && row.includes('--backups')));
  });

  test('what to look at is summed up, and changes while one watches', async () => {
    const post = await fetch(`${served.origin}/api/v1/events/${served.slug}/desks/0a1b2c3d`, {
      method: 'POST',
      headers: { Authorization: 'Bearer ' + served.organiser, 'Content-Type': 'application/json' },
      body: JSON.stringify({
        by: 'quay',
        points: [],
        last_seq: 2,
        unsent: 2,
        refused: 0,
        blanks: 0,
        offset_ms: 0,
        uncertainty_ms: 1,
        clock: 'good',
        version: '1',
      }),
    });
    assert.equal(post.status, 200);
    await page.waitForFunction(() =>
      /Look at: .*Desks/.test(document.getElementById('machine-sum').textContent),
    );
    assert.ok((await states()).includes('look at this'));
  });

  test('a file that cannot be written is told on every section, until it can', async () => {
    const file = path.join(served.data, `${served.slug}.cairn`);
    const go = async (name) => {
      await page.locator(`#sections a[href="#${name}"]`).click();
      await page.waitForSelector(`html[data-section="${name}"] #${name}`);
    };
    assert.equal(await page.locator('#trouble p').count(), 0);
    renameSync(file, file + '.x');
    try {
      while ((await (await fetch(`${served.origin}/healthz`)).json()).can_write) await sleep(20);
      for (const name of ['keys', 'cars', 'notices']) {
        await go(name);
        await page.waitForFunction(() =>
          /^Event file: removed or replaced; nothing can be written/.test(
            document.querySelector('#trouble p')?.textContent,
          ),
        );
        assert.deepEqual((await axe(page, { colours: true })).faults, []);
        assert.deepEqual(await sideways(page), []);
      }
    } finally {
      renameSync(file + '.x', file);
    }
    while (!(await (await fetch(`${served.origin}/healthz`)).json()).can_write) await sleep(20);
    await go('machine');
    await page.waitForFunction(() => !document.querySelector('#trouble p'));
  });

  test('it is accessible, legible and does not scroll sideways on a phone', async () => {
    assert.deepEqual((await axe(page, { colours: true })).faults, []);
    assert.deepEqual(await legible(page), []);
    assert.deepEqual(await sideways(page), []);
    assert.deepEqual(pageErrors.take(), []);
  });
});
