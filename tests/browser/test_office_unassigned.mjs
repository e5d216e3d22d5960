// SPDX-License-Identifier: MIT
// What a desk sent without a car of the list: the office numbers a time, gives one to another car,
// withdraws one, and learns how many wait; the public sees none of them.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { Served, contextOf, events, launch } from '../support/setup.mjs';
import { Clerk, TABLET } from '../support/office.mjs';

const DESK = { point: 'TC1', desk: '0a1b2c3d', by: 'quay' };
const SHOWS = 'Show what it does';
const NO_CAR = 'TC1: a time without a number';
const unknown = (car) => `Car ${car} at TC1: not in the entry list`;

describe('readings without a car of the list', { timeout: 300_000 }, () => {
  let browser, clerk, page, served;

  before(async () => {
    served = await Served.start(events.hostile);
    browser = await launch();
    clerk = await Clerk.open(await contextOf(browser, { viewport: TABLET }), served, 'C. Clerk');
    ({ page } = clerk);
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  const send = (...rows) =>
    served.ask(
      'readings',
      rows.map((row, i) => ({ ...DESK, seq: i + 1, ...row })),
    );
  const waiting = async () => (await served.ask('status')).without_car;
  const titles = async () => (await clerk.rows('#doubts')).map(([title]) => title);

  /** Answers one doubt from the queue and waits until it is gone. */
  async function answer(title, choice, label, value) {
    await clerk.section('prizes');
    await clerk.section('review');
    await clerk.press(`Look at ${title}`);
    await clerk.on(title);
    await clerk.pick(choice);
    if (label) await clerk.type(label, value);
    await clerk.type('Reason', 'Asked the quay desk by radio');
    await clerk.press(SHOWS);
    await clerk.on('Keep this ruling');
    await clerk.keep('Keep this ruling', () =>
      page.waitForFunction(
        (words) => document.querySelector('#doubt h2')?.textContent !== words,
        title,
      ),
    );
  }

  test('a time without a number is given to a car, and then counts', async () => {
    await send({ time: '08:57:10', id: 'blank-9', source: 'blank' });
    assert.equal(await waiting(), 1);
    await answer(NO_CAR, 'It was car number', 'Number of the car', '9');
    const { readings } = await served.ask('readings?point=TC1&car=9');
    const [given] = readings.filter(({ replaces }) => replaces === 'blank-9');
    assert.deepEqual([given.time, given.counts, given.by], ['08:57:10', true, 'C. Clerk']);
    assert.equal(await waiting(), 0);
  });

  test('a reading of an unknown car is given to another', async () => {
    await send({ car: 411, time: '08:46:30', id: 'odd-411' });
    await answer(unknown(411), 'It was another car', 'Number of the other car', '1');
    const { readings } = await served.ask('readings?point=TC1&car=1');
    assert.ok(readings.some((one) => one.replaces === 'odd-411' && one.time === '08:46:30'));
    assert.equal(await waiting(), 0);
  });

  test('one that is nothing is withdrawn', async () => {
    await send({ time: '08:59:00', id: 'spectator', source: 'blank' });
    await answer(NO_CAR, 'Nothing of it is right: it is withdrawn');
    assert.equal(await waiting(), 0);
    assert.ok(!(await titles()).includes(NO_CAR));
  });

  test('the machine tells how many wait, and no public page has one', async () => {
    await send({ car: 433, time: '08:47:33', id: 'odd-433' });
    await clerk.section('machine');
    await page.waitForFunction(() =>
      /Readings without a car of the list\s+1/.test(document.querySelector('main').innerText),
    );
    for (const path of ['', '/cars/433']) {
      const reply = await fetch(`${served.origin}/${served.slug}${path}`);
      assert.doesNotMatch(await reply.text(), /08:47:33|\b433\b.*08/);
    }
  });
});
