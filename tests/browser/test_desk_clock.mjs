// SPDX-License-Identifier: MIT
// The desk's clock: without a line, wrong, set, asleep; and on another day than that of the point.

import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { after, afterEach, before, beforeEach, describe, test } from 'node:test';
import { Profile, Served } from '../support/setup.mjs';
import { Desk, EVENT, ZONE, apart, counting, inOrder, roadside, timeMs } from '../support/desk.mjs';
import { FlakyProxy } from '../support/flaky_proxy.mjs';

const DOWN = [/ERR_|Failed to (load|fetch)|net::/];
const DAY_MS = 86_400_000;

/** Runs before the page's own scripts, behind the one that overhears it. Pages that open from now on
 *  find the machine's clock as far wrong as `wrong` in the browser's storage says; asleep, the running
 *  clock stands still while the world goes on. */
function machine() {
  window.test.turn(Number(localStorage.getItem('wrong') ?? 0));
  let slept = 0;
  let skew = 0;
  const now = Performance.prototype.now;
  const { get } = Object.getOwnPropertyDescriptor(Event.prototype, 'timeStamp');
  Performance.prototype.now = function moved() {
    return now.call(this) - slept;
  };
  Object.defineProperty(Event.prototype, 'timeStamp', {
    get() {
      return get.call(this) - slept + skew;
    },
  });
  window.test.sleep = (ms) => {
    slept += ms;
  };
  window.test.skew = (ms) => {
    skew = ms;
  };
}

/** HH:MM:SS on a watch at the event, at the instant `ms`. */
const wallText = (ms) =>
  new Intl.DateTimeFormat('en-GB', {
    timeZone: ZONE,
    hourCycle: 'h23',
    timeStyle: 'medium',
  }).format(ms);

/** The roadside event `days` from now, or before. */
const onDay = (days) => (folder) => {
  roadside(folder);
  const file = path.join(folder, 'event.json');
  const event = JSON.parse(readFileSync(file, 'utf8'));
  event.days[0].date = new Date(Date.parse(event.days[0].date) + days * DAY_MS)
    .toISOString()
    .slice(0, 10);
  writeFileSync(file, JSON.stringify(event));
};

describe('the clock of the desk', { timeout: 400_000 }, () => {
  const profile = new Profile();
  let context, served, proxy, key;

  before(async () => {
    context = await Desk.prepare(await profile.open());
    await context.addInitScript(machine);
  });
  after(() => profile.end());
  beforeEach(() => serve(roadside));
  afterEach(() => end());

  async function serve(maker) {
    served = await Served.start(maker);
    proxy = await FlakyProxy.to(served);
    key = served.addKey('--role', 'timekeeper', '--points', 'TC1,TC2', '--label', 'Cold quay');
  }
  async function end() {
    for (const page of context.pages()) await page.close();
    await proxy.end();
    await served.end();
  }

  const open = (more = {}) =>
    Desk.open(context, served, { origin: proxy.origin, key, allow: DOWN, ...more });

  /** A desk that was there with a line, closed, and opened without one; meanwhile the machine's
   *  clock was set by `wrong`. */
  async function coldStart(wrong) {
    const first = await open();
    await first.offlineReady();
    await first.page.evaluate((ms) => {
      localStorage.setItem('wrong', ms);
    }, wrong);
    await first.page.close();
    proxy.cut();
    return open({ key: null, settle: false });
  }

  /** Waits until something holds. */
  const until = async (holds) => {
    for (const late = Date.now() + 60_000; !(await holds());) {
      assert.ok(Date.now() < late, `it does not come about: ${holds}`);
      await new Promise((resolve) => {
        setTimeout(resolve, 50);
      });
    }
  };
  /** The next point: behind a stamp the key asks once more. */
  const another = async (desk) => {
    await desk.page.keyboard.press('PageDown');
    await desk.page.keyboard.press('PageDown');
  };
  const flagsOf = (row) => row.flags.split(' ');
  const badge = (desk) => desk.page.locator('#badge-clock').innerText();
  /** The desk of the office's list that has reported. */
  const report = async () => (await served.ask('desks')).desks.find((desk) => desk.report)?.report;

  for (const [when, days] of [
    ['before', 3],
    ['after', -5],
  ]) {
    test(`days ${when} the point's it is a rehearsal: marked, and thrown away with one press`, async () => {
      await end();
      await serve(onDay(days));
      const desk = await open();
      const { page } = desk;
      assert.match(await page.locator('#banner-day').innerText(), /rehearsal/);
      assert.equal(await page.locator('#throw-away').isVisible(), false);
      await desk.stamp(1);
      await page.keyboard.press('+');
      await desk.kept(2);
      await page.keyboard.type('2*');
      // A time far from now would be asked about.
      await page.keyboard.type(`3 ${wallText(Date.now()).replaceAll(':', '')}`);
      await page.keyboard.press('Enter');
      await desk.kept(3);
      await another(desk);
      await desk.stamp(4);
      await desk.kept(1);
      await desk.sent();
      const typed = days > 0 ? 'rehearsal typed-time' : 'typed-time';
      assert.deepEqual(
        inOrder(counting(served.readings())).map(({ car, flags }) => [Number(car), flags]),
        [
          [1, 'rehearsal'],
          [2, 'rehearsal'],
          [3, typed], // what is read off paper may well be typed days later
          [4, 'rehearsal'],
        ],
      );
      // A correction of one, or what is struck out and restored, is no less of the rehearsal.
      await desk.renumber(5);
      for (const rows of [7, 8]) {
        for (let i = 0; i < 2; i++) await page.keyboard.press('-');
        await until(() => served.readings().length === rows);
      }
      const rest = counting(served.readings()).find((row) => row.car === '5');
      assert.equal(rest.flags, 'rehearsal');
      const n = days > 0 ? 4 : 3;
      assert.equal(await page.locator('#throw-away').innerText(), `Throw away ${n}`);
      await page.locator('#throw-away').click();
      await page.waitForFunction(() => document.querySelector('#throw-away').hidden);
      await desk.sent();
      assert.deepEqual(
        counting(served.readings()).map((row) => row.car),
        days > 0 ? [] : ['3'],
      );
    });
  }

  test('opened without a line on a clock that was set: every stamp says that none compared it', async () => {
    const desk = await coldStart(47_000);
    await desk.stamp(6);
    await desk.kept(1);
    assert.match(await badge(desk), /from before this page was opened – stamps are marked/);
    proxy.mend();
    await desk.sent();
    const [row] = served.readings();
    assert.ok(flagsOf(row).includes('clock-unverified'), row.flags);
    await desk.clockSettled();
    await desk.stamp(7);
    await desk.kept(2);
    await desk.sent();
    const later = counting(served.readings()).find(({ car }) => car === '7');
    assert.ok(!/clock/.test(later.flags), later.flags);
  });

  test('a flat battery: the clock is known to be wrong, which is no rehearsal', async () => {
    const desk = await coldStart(Date.UTC(2020, 0, 1) - Date.now());
    const { page } = desk;
    await page.locator('#banner-clock.bad').waitFor();
    assert.match(await page.locator('#banner-clock').innerText(), /clock is wrong/);
    assert.equal(await page.locator('#banner-day').isVisible(), false);
    assert.match(await badge(desk), /wrong/);
    await desk.stamp(6);
    await desk.kept(1);
    proxy.mend();
    await desk.sent();
    const [row] = served.readings();
    assert.deepEqual(flagsOf(row), ['clock-wrong']);
    await page.locator('#banner-clock').waitFor({ state: 'hidden' });
  });

  test('the first report tells how the clock does, not that nobody has looked yet', async () => {
    await open();
    const reports = () => proxy.seen.filter((it) => /desks.[0-9a-f]{8}$/.test(it.path));
    await until(() => reports().length > 0);
    const { clock, uncertainty_ms: out } = JSON.parse(reports()[0].body);
    assert.match(clock, /good|doubtful/);
    assert.ok(out > 0);
    await until(async () => (await report())?.clock === clock);
  });

  test('a clock of events that is not the page’s moves no stamp', async () => {
    const desk = await open();
    const { page } = desk;
    for (const skew of [-300, 57]) {
      await page.evaluate((ms) => {
        window.test.skew(ms);
      }, skew);
      // Twenty keys, after which the old difference is forgotten.
      for (let i = 0; i < 20; i++) await page.keyboard.press('Escape');
      await page.keyboard.type(skew < 0 ? '8' : '9');
      const from = Date.now();
      await page.keyboard.press('Enter');
      const to = Date.now();
      await until(async () => (await desk.rows()).length === (skew < 0 ? 1 : 2));
      await desk.sent();
      const row = inOrder(served.readings()).at(-1);
      const middle = (from + to) / 2;
      assert.ok(apart(row, middle) <= (to - from) / 2 + 25, `${skew}: ${row.time}`);
      // The office is told, with the next report.
      await until(async () => Math.abs((await report()).skew_ms + skew) < 25);
    }
  });

  test('asleep without a line: both times are offered, and one key takes the right one', async () => {
    const desk = await open();
    const { page } = desk;
    await desk.stamp(10);
    await desk.sent();
    proxy.cut();
    await page.evaluate(() => {
      window.test.sleep(1_200_000);
    });
    const first = await desk.stamp(11); // before anybody has looked
    await page.locator('#clock-which').waitFor();
    const shown = async (id) => timeMs((await page.locator(id).innerText()).slice(0, 8));
    const [ran, slept] = [await shown('#clock-ran'), await shown('#clock-slept')];
    assert.equal((slept - ran + DAY_MS) % DAY_MS, 1_200_000);
    assert.match(await page.locator('#banner-clock').innerText(), /Which time is right/);
    assert.match(await desk.warns(), /Which time is right\?.* F7, .* F8$/); // in sight and aloud
    await page.keyboard.press('F8');
    await page.locator('#clock-which').waitFor({ state: 'hidden' });
    const second = await desk.stamp(12);
    await desk.kept(3);
    proxy.mend();
    await desk.sent();
    const held = () => counting(served.readings());
    const find = (car) => held().find((row) => Number(row.car) === car);
    assert.ok(Math.abs(apart(find(11), first) - 1_200_000) < 1000, find(11).time);
    assert.ok(apart(find(12), second) < 1000, find(12).time);
    for (const car of [11, 12]) assert.ok(flagsOf(find(car)).includes('clock-jumped'));
    // Both clocks went with it, so that the office can follow.
    assert.ok(Math.abs(Number(find(11).wall_ms) - first) < 1000);
    await page.locator('#banner-errors').waitFor();
    assert.match(
      await page.locator('#banner-errors').innerText(),
      /corrected by \+1200\.0 s: 11\./,
    );
    await page.locator('#banner-errors button').first().click();
    await page.locator('#banner-errors').waitFor({ state: 'hidden' });
    await desk.sent();
    assert.ok(apart(find(11), first) < 100, find(11).time);
    assert.match(find(11).reason, /clock was out: \+1200\.0 s/);
    assert.ok(!/clock/.test(find(11).flags), find(11).flags);
    assert.equal(served.readings().length, 4);
  });

  test('the clock set while awake, without a line: the other key, and nothing is to be corrected', async () => {
    const desk = await open();
    const { page } = desk;
    proxy.cut();
    await page.evaluate(() => {
      window.test.turn(3_600_000);
    });
    await desk.stamp(13);
    await page.locator('#clock-which').waitFor();
    await page.keyboard.press('F7');
    await page.locator('#clock-which').waitFor({ state: 'hidden' });
    const at = await page.evaluate(() => window.test.presses.at(-2).at);
    await desk.kept(1);
    proxy.mend();
    await desk.sent();
    await desk.clockSettled();
    const [row] = served.readings();
    assert.ok(apart(row, at) < 100, row.time);
    assert.equal(await page.locator('#banner-errors').isVisible(), false);
  });

  test('a cold start, then the line: every stamp since is offered its correction, and reopened still', async () => {
    let desk = await coldStart(47_000);
    const at = [await desk.stamp(14), await desk.stamp(15)];
    await desk.kept(2);
    proxy.mend();
    await desk.sent();
    await desk.page.locator('#banner-errors').waitFor();
    await desk.page.close();
    desk = await open({ key: null });
    const { page } = desk;
    await page.locator('#banner-errors').waitFor();
    assert.match(
      await page.locator('#banner-errors').innerText(),
      /by −47\.0 s: 15, 14|by −47\.0 s: 14, 15/,
    );
    await page.locator('#banner-errors button').first().click();
    await page.locator('#banner-errors').waitFor({ state: 'hidden' });
    await desk.sent();
    const held = inOrder(counting(served.readings()));
    held.forEach((row, i) => {
      assert.ok(apart(row, at[i]) < 100, row.time);
      assert.ok(!/clock/.test(row.flags), row.flags);
    });
    assert.equal(served.readings().length, 4, 'the old ones are kept');
  });

  test('what a person leaves as it is, is not asked about again', async () => {
    const desk = await coldStart(47_000);
    const { page } = desk;
    await desk.stamp(16);
    await desk.kept(1);
    proxy.mend();
    await desk.sent();
    await page.locator('#banner-errors').waitFor();
    await page.locator('#banner-errors button').last().click();
    await page.locator('#banner-errors').waitFor({ state: 'hidden' });
    await page.reload();
    await desk.ready();
    await desk.clockSettled();
    await page.waitForTimeout(500);
    assert.equal(await page.locator('#banner-errors').isVisible(), false);
    assert.equal(served.readings().length, 1);
  });

  test('a flat battery and a watch: times that may be used, and put right in the end', async () => {
    const desk = await coldStart(Date.UTC(2020, 0, 1) - Date.now());
    const { page } = desk;
    await page.locator('#banner-clock.bad').waitFor();
    const at = [await desk.stamp(17)];
    await page.locator('#watch').fill('nothing');
    await page.locator('#watch').press('Enter');
    assert.match(await desk.warns(), /Not a time of day/);
    await page.locator('#watch').fill(wallText(Date.now()));
    await page.locator('#watch').press('Enter');
    await page.locator('#banner-clock.bad').waitFor({ state: 'hidden' });
    assert.match(await badge(desk), /by your watch/);
    at.push(await desk.stamp(18));
    await desk.kept(2);
    proxy.mend();
    await desk.sent();
    const rows = inOrder(counting(served.readings()));
    assert.deepEqual(
      rows.map((row) => flagsOf(row).at(-1)),
      ['clock-wrong', 'clock-unverified'],
    );
    assert.ok(apart(rows[1], at[1]) < 2500, rows[1].time);
    await page.locator('#banner-errors').waitFor();
    for (let n = await page.locator('#banner-errors button').count(); n > 0; n -= 2) {
      await page.locator('#banner-errors button').first().click();
      await page.waitForFunction(
        (count) => document.querySelectorAll('#banner-errors button').length < count,
        n,
      );
    }
    await desk.sent();
    for (const row of counting(served.readings())) {
      assert.ok(!/clock|rehearsal/.test(row.flags), row.flags);
      assert.ok(apart(row, at[Number(row.car) - 17]) < 100, row.time);
    }
  });

  test('at a pad what counts is the time since the start, which this desk has too', async () => {
    await end();
    const fine = { precision: 'hundredth', per: 'second', late: 1 };
    await serve((folder) =>
      roadside(
        folder,
        EVENT.route.map((item) => (item.id === 'S1' ? { ...item, penalty: fine } : item)),
      ),
    );
    key = served.addKey('--role', 'timekeeper', '--points', 'S1/start,S1/finish');
    proxy.fate = ({ path: asked }) => (asked.endsWith('/clock') ? 60 : 'pass');
    const desk = await open({ settle: false });
    const { page } = desk;
    await page.waitForFunction(() =>
      /checked/.test(document.querySelector('#badge-clock').innerText),
    );
    await desk.stamp(20);
    await desk.kept(1);
    await another(desk);
    await page.waitForFunction(() =>
      /finish/.test(document.querySelector('#place-name').innerText),
    );
    assert.match(await badge(desk), /±[3-9]\d ms, .* a finger, though, is worth a tenth/);
    assert.equal(await page.locator('#banner-clock').isVisible(), false);
    await desk.stamp(20);
    await desk.kept(1);
    await page.keyboard.press('+');
    await desk.kept(2);
    await page.keyboard.type('20*');
    await page.waitForFunction(() => !document.querySelector('[data-state="blank"]'));
    await desk.stamp(21); // whose start was at another desk, for all that this one knows
    await desk.kept(3);
    await desk.sent();
    const flags = inOrder(counting(served.readings())).map(
      (row) => /clock-\w+/.exec(row.flags)?.[0] ?? '',
    );
    assert.deepEqual(flags, ['clock-unverified', '', '', 'clock-unverified']);
  });

  test('the office is told of a clock that is wrong, and of one of keys that is another', async () => {
    const page = await context.newPage();
    await fetch(`${served.api}/desks/0a1b2c3d`, {
      method: 'POST',
      headers: { Authorization: `Bearer ${key}`, 'Content-Type': 'application/json' },
      body: JSON.stringify({
        points: ['TC1'],
        last_seq: 1,
        unsent: 0,
        refused: 0,
        blanks: 0,
        offset_ms: 47_000,
        skew_ms: -57,
        clock: 'wrong',
      }),
    });
    await page.goto(`${served.origin}/${served.slug}/office#${served.organiser}`);
    const row = page.locator('#desks tbody tr');
    await row.waitFor();
    assert.match(await row.innerText(), /wrong; computer out by 47\.0 s; keys’ clock by -57 ms/);
  });
});
