// SPDX-License-Identifier: MIT
// A timekeeper at the desk: presses keys, and remembers when and for which car, so that a test can
// hold what the server has against it.

import assert from 'node:assert/strict';
import { cpSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { DEMO } from './cairn.mjs';
import { PageErrors } from './chromium.mjs';

export const ZONE = 'Atlantic/Azores';
export const CLOSE_MS = 20; // how far a stamped key may be out
const DAY_MS = 86_400_000;

/** Local time at the instant `ms`, as if it were UTC. */
function localMs(ms) {
  const parts = new Intl.DateTimeFormat('en-GB', {
    timeZone: ZONE,
    hourCycle: 'h23',
    year: 'numeric',
    month: '2-digit',
    day: '2-digit',
    hour: '2-digit',
    minute: '2-digit',
    second: '2-digit',
  }).formatToParts(ms);
  const of = Object.fromEntries(parts.map(({ type, value }) => [type, value]));
  return (
    Date.parse(`${of.year}-${of.month}-${of.day}T${of.hour}:${of.minute}:${of.second}Z`) +
    (((ms % 1000) + 1000) % 1000)
  );
}

const clockText = (ms) => new Date(ms).toISOString().slice(11, 19);

/** Milliseconds since midnight of HH:MM:SS.fff, whose hours may run past 24. */
export function timeMs(text) {
  const [, hours, minutes, seconds = '0'] = /^(\d\d):(\d\d)(?::([\d.]+))?$/.exec(text);
  return Math.round((hours * 3600 + minutes * 60) * 1000 + Number(seconds) * 1000);
}

/** The rally day on which the program began: it began six hours before, so that midnight does not part
 *  it; nor do those six hours, as it stays the same. `midnight` is as localMs counts. */
const DATE = new Date(localMs(Date.now()) - 6 * 3_600_000).toISOString().slice(0, 10);
const MIDNIGHT = Date.parse(`${DATE}T00:00:00Z`);

/** HH:MM of the rally day, `minutes` from now; hours run on past 24. */
export function fromNow(minutes) {
  const ms = Math.floor((localMs(Date.now()) - MIDNIGHT) / 60_000 + minutes) * 60_000;
  return `${String(Math.floor(ms / 3_600_000)).padStart(2, '0')}${clockText(ms % DAY_MS).slice(2, 5)}`;
}

export const EVENT = {
  name: 'Petrel Night 2031',
  slug: 'petrel-2031',
  timezone: ZONE,
  unit: 'km',
  classes: { scheme: 'fiva' },
  scoring: {
    defaults: {
      'time-control': { precision: 'minute', per: 'minute', early: 60, late: 10, missed: 900 },
      'passage-control': { missed: 300 },
      regularity: { precision: 'second', per: 'second', early: 1, late: 1, missed: 120 },
    },
  },
  route: [
    { day: 1, id: 'TC1', kind: 'time-control', name: 'Cold quay', target: '00:20:00' },
    { day: 1, id: 'PC1', kind: 'passage-control', name: 'Skua bridge' },
    {
      day: 1,
      id: 'R1',
      kind: 'regularity',
      name: 'Secret moor',
      speeds: [{ from: 0, speed: 48 }],
      checks: [{ at: '5.371' }, { at: '9.023' }],
    },
    {
      day: 1,
      id: 'S1',
      kind: 'special-test',
      name: 'Long shed',
      maximum: '00:03:00',
      faults: { cone: 5, line: 10, 'wrong-route': 'maximum' },
    },
    { day: 1, id: 'L1', kind: 'consistency', name: 'Gravel ring', laps: 3 },
    { day: 1, id: 'TC2', kind: 'time-control', name: 'Warm hall', target: '00:30:00' },
  ],
};

/** A small event that is on today, its cars due at TC1 from some minutes ago on. */
export function roadside(folder, route = EVENT.route) {
  const event = {
    ...EVENT,
    days: [{ date: DATE, first_start: fromNow(-25), interval: '00:01:00', order: 'number' }],
    route,
  };
  writeFileSync(path.join(folder, 'event.json'), JSON.stringify(event));
  const cars = Array.from({ length: 30 }, (_, i) => i + 1);
  writeFileSync(
    path.join(folder, 'entries.csv'),
    'number,driver,navigator,make,model,year\n' +
      cars.map((n) => `${n},A. Tern ${n},B. Knot ${n},Calder,Model ${n},${1920 + n}\n`).join(''),
  );
}

/** The demo event with its first day today, a few minutes before the first car is due at TC1. */
export function demoToday(folder) {
  cpSync(DEMO, folder, { recursive: true });
  const event = JSON.parse(readFileSync(path.join(DEMO, 'event.json'), 'utf8'));
  event.days.forEach((day, i) => {
    day.date = new Date(MIDNIGHT + i * DAY_MS).toISOString().slice(0, 10);
  });
  event.days[0].first_start = fromNow(-60);
  writeFileSync(path.join(folder, 'event.json'), JSON.stringify(event));
  for (const name of ['readings.csv', 'decisions.csv']) {
    const text = readFileSync(path.join(DEMO, name), 'utf8');
    writeFileSync(path.join(folder, name), text.slice(0, text.indexOf('\n') + 1));
  }
}

// Runs before the page's own scripts. Notes the instant of every key on a clock that no test turns,
// and lets a test put the machine's clock wrong.
function overhear() {
  const Real = Date;
  const presses = [];
  let wrong = 0;
  class Turned extends Real {
    constructor(...parts) {
      if (parts.length === 0) super(Real.now() + wrong);
      else super(...parts);
    }

    static now() {
      return Real.now() + wrong;
    }
  }
  window.Date = Turned;
  window.test = {
    presses,
    turn(ms) {
      wrong += ms;
    },
  };
  /** The real time less the page's: the machine may do something else between the two looks, so
   *  the closest pair of looks counts. */
  const difference = () => {
    let [gap, best] = [Infinity, 0];
    for (let i = 0; i < 50 && gap > 0.5; i++) {
      const first = performance.now();
      const now = Real.now();
      const last = performance.now();
      if (last - first < gap) [gap, best] = [last - first, now - (first + last) / 2];
    }
    return best;
  };
  window.addEventListener(
    'keydown',
    (event) => {
      if (event.repeat) return;
      const at = difference() + event.timeStamp;
      presses.push({ key: event.key, at });
    },
    true,
  );
}

export class Desk {
  /** Prepares a context for desks. */
  static async prepare(context) {
    await context.addInitScript(overhear);
    return context;
  }

  /** Opens the desk of `served` in a new page, through `origin`. `key` null: the one that the
   *  browser has. `allow`: patterns of errors that the test provokes. `settle` false: there is no
   *  line on which the clock could be set. */
  static async open(
    context,
    served,
    { origin = served.origin, key = null, allow = [], settle = true } = {},
  ) {
    const desk = new Desk();
    desk.page = await context.newPage();
    desk.served = served;
    desk.errors = new PageErrors(desk.page, allow);
    desk.address = `${origin}/${served.slug}/control`;
    desk.presses = []; // {car, at}: what the server must hold, in the end
    await desk.page.goto(desk.address + (key === null ? '' : `#${key}`));
    await desk.ready();
    if (settle) await desk.clockSettled();
    return desk;
  }

  /** Until the clock is known well enough for what tests hold of stamps, as a timekeeper would wait
   *  for it: a machine busy with other tests answers late at times. What an earlier page knew will not
   *  do, as the first exchange of this one takes its place, however long it took. */
  async clockSettled() {
    for (const end = Date.now() + 90_000; Date.now() < end;) {
      const badge = await this.page.locator('#badge-clock').innerText();
      const [, out] = /(\d+) ms, checked/.exec(badge) ?? [];
      if (Number(out) < CLOSE_MS / 2) return;
      await this.page.evaluate(() => {
        window.dispatchEvent(new Event('online'));
      });
      await this.page.waitForTimeout(50);
    }
    throw new Error(
      `the clock does not settle: ${await this.page.locator('#badge-clock').innerText()}`,
    );
  }

  ready() {
    return this.page.locator('html[data-ready="true"]').waitFor({ state: 'attached' });
  }

  /** Until the worker has all files, so that the page opens without a network. */
  async offlineReady() {
    await this.page.evaluate(async () => {
      await navigator.serviceWorker.ready;
    });
    await this.page.waitForFunction(() => navigator.serviceWorker.controller !== null);
  }

  /** Presses one key and returns the instant at which it went down. The page's own clock and this
   *  program's, around the press, must agree on it. */
  async press(key) {
    const before = Date.now();
    await this.page.keyboard.press(key);
    const after = Date.now();
    const name = key.startsWith('Numpad') ? key.slice(6) : key;
    const { at } = await this.page.evaluate(
      (wanted) => window.test.presses.filter((press) => press.key === wanted).at(-1),
      { Add: '+', Enter: 'Enter' }[name] ?? name,
    );
    assert.ok(at >= before - CLOSE_MS && at <= after + CLOSE_MS, `${before} ${at} ${after}`);
    return at;
  }

  /** A number and Enter. */
  async stamp(car) {
    await this.page.keyboard.type(String(car));
    const at = await this.press('Enter');
    this.presses.push({ car, at });
    return at;
  }

  /** Rows of the log, newest first, as {id, seq, state, flags, text}. */
  rows() {
    return this.page.locator('#log tr[data-id]').evaluateAll((rows) =>
      rows.map((row) => ({
        ...row.dataset,
        text: row.innerText.replace(/\s+/g, ' '),
      })),
    );
  }

  /** Waits until the log has `count` rows, none of them still on its way to the disk. */
  async kept(count) {
    await this.page
      .waitForFunction((n) => document.querySelectorAll('#log tr[data-id]').length === n, count)
      .catch(async (error) => {
        throw new Error(
          `not ${count} rows, but ${JSON.stringify(await this.rows())}; the field has ` +
            `“${await this.page.locator('#field').inputValue()}”; ${await this.says()}`,
          { cause: error },
        );
      });
  }

  /** Waits until nothing is left to send and no blank stamp lacks its number; the link is told to
   *  try at once. */
  async sent() {
    await this.page.evaluate(() => {
      window.dispatchEvent(new Event('online'));
    });
    await this.page
      .waitForFunction(() => {
        const rows = [...document.querySelectorAll('#log tr[data-id]')];
        return (
          rows.length > 0 &&
          rows.every((row) => !/kept|blank/.test(row.dataset.state)) &&
          document.querySelector('#badge-outbox').dataset.level !== 'doubt'
        );
      })
      .catch(async (error) => {
        const rows = (await this.rows()).filter((row) => /kept|blank/.test(row.state));
        throw new Error(`not all is sent: ${JSON.stringify(rows)}`, { cause: error });
      });
  }

  /** Types a number and gives it to the oldest blank stamp, which was taken at `at`. */
  async give(car, at) {
    await this.page.keyboard.type(String(car));
    await this.page.keyboard.press('*');
    // With several open the field waits for which; Enter alone means the oldest.
    if ((await this.page.locator('#field').inputValue()) !== '') {
      await this.page.keyboard.press('Enter');
    }
    this.presses.push({ car, at });
  }

  /** Corrects the newest line's car by keys alone: Up, Enter, the number, Enter. */
  async renumber(car) {
    await this.page.keyboard.press('ArrowUp');
    await this.page.keyboard.press('Enter');
    await this.page.locator('#log input[name="car"]').waitFor();
    await this.page.keyboard.type(String(car)); // it is marked, so that typing replaces it
    await this.page.keyboard.press('Enter');
    // The number of a car that is still to come is asked about.
    if (await this.page.locator('#log .trouble:not(:empty)').count())
      await this.page.keyboard.press('Enter');
    await this.page.locator('#log input[name="car"]').waitFor({ state: 'detached' });
  }

  /** Strikes the newest line out, or restores it: the second press does it. */
  async strike() {
    await this.page.keyboard.press('-');
    await this.page.keyboard.press('-');
  }

  says() {
    return this.page.locator('#say').innerText();
  }

  warns() {
    return this.page.locator('#warn').innerText();
  }
}

/** Readings in the order in which a desk made them. */
export function inOrder(readings) {
  return [...readings].sort((a, b) => Number(a.seq) - Number(b.seq));
}

/** How far a reading's time lies from the instant `at`, in ms. */
export function apart(reading, at) {
  const difference = timeMs(reading.time) - localMs(at);
  return Math.abs(difference - Math.round(difference / DAY_MS) * DAY_MS);
}

/** The readings that count: none that another replaces, and no withdrawals. */
export function counting(readings) {
  const replaced = new Set(readings.map((row) => row.replaces).filter(Boolean));
  return readings.filter((row) => row.void !== 'yes' && !replaced.has(row.id));
}

/** Holds that at `point` the server has every press once, with its true time, and that no desk's
 *  numbers have a gap. `presses`: {car, at}. Returns the rows of that point. */
export function assertHeld(served, presses, { point = 'TC1', refused = 0 } = {}) {
  const all = served.readings();
  const ids = all.map((row) => row.id);
  assert.equal(new Set(ids).size, ids.length, 'an id came twice');
  const rows = all.filter((row) => row.point === point);
  const held = counting(rows);
  const left = [...held];
  for (const { car, at } of presses) {
    const i = left.findIndex((row) => Number(row.car) === car && apart(row, at) < CLOSE_MS);
    assert.notEqual(
      i,
      -1,
      `car ${car} at ${new Date(at).toISOString()} is not held: ` +
        JSON.stringify(left.filter((row) => Number(row.car) === car)),
    );
    left.splice(i, 1);
  }
  assert.deepEqual(left, [], 'more is held than was pressed');
  const bySeq = new Map();
  for (const row of all) {
    if (!bySeq.has(row.desk)) bySeq.set(row.desk, []);
    bySeq.get(row.desk).push(Number(row.seq));
  }
  for (const [desk, numbers] of bySeq) {
    assert.match(desk, /^[0-9a-f]{8}$/);
    assert.equal(new Set(numbers).size, numbers.length, `desk ${desk} used a number twice`);
    assert.equal(Math.max(...numbers), numbers.length + refused, `desk ${desk}: ${numbers}`);
  }
  return inOrder(rows);
}
