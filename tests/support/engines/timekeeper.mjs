// SPDX-License-Identifier: MIT
// A timekeeper at the desk in another engine: presses keys, and remembers between which instants.

import assert from 'node:assert/strict';
import { CLOSE_MS, apart, counting } from '../desk.mjs';
import { GUARD_MS, pause, sooner } from './program.mjs';

/** Whether a reading lies between two instants, as far as the desk's clock may be out. */
function between(reading, from, to) {
  const length = to - from;
  return apart(reading, from + length / 2) <= length / 2 + CLOSE_MS;
}

export class Timekeeper {
  /** Opens the desk of `served` in `page`, through `origin`. `key` null: the one that it has. */
  static async open(page, { served, origin, key = null, settle = true }) {
    const desk = new Timekeeper();
    Object.assign(desk, { page, presses: [] });
    await page.open(`${origin}/${served.slug}/control${key === null ? '' : `#${key}`}`);
    await desk.ready();
    if (settle) await desk.clockSettled();
    return desk;
  }

  ready() {
    return this.page.until(() => document.documentElement.dataset.ready === 'true');
  }

  /** Until the clock is known well enough for what tests hold of stamps, see Desk.clockSettled. */
  clockSettled() {
    return this.page.until((most) => {
      const [, out] =
        /(\d+) ms, checked/.exec(document.querySelector('#badge-clock').innerText) ?? [];
      if (Number(out) < most) return true;
      window.dispatchEvent(new Event('online'));
      return false;
    }, CLOSE_MS / 2);
  }

  /** Until the page opens without a network. */
  offlineReady() {
    return this.page.until(() => Boolean(navigator.serviceWorker?.controller));
  }

  /** Presses keys; returns the instants before and after. */
  async press(...keys) {
    const from = Date.now();
    await this.page.press(...keys);
    return { from, to: Date.now() };
  }

  /** A number and Enter. */
  async stamp(car) {
    const at = await this.press(...String(car), 'Enter');
    this.presses.push({ car, ...at });
    return at;
  }

  /** Cars and Enter, one behind the other without a break. */
  async stampAll(cars) {
    const at = await this.press(...cars.flatMap((car) => [...String(car), 'Enter']));
    this.presses.push(...cars.map((car) => ({ car, ...at })));
  }

  /** Gives `car` to the one blank stamp, which was taken `at`. */
  async give(car, at) {
    await this.press(...String(car), 'NumpadMultiply');
    this.presses.push({ car, ...at });
  }

  /** Strikes the newest line out; where that is asked about, once more. */
  async strike() {
    const struck = () =>
      this.page.look(() => document.querySelector('#log tr[data-id]').dataset.state === 'void');
    const { car } = this.presses.pop();
    for (let press = 0; press < 2 && !(await struck()); press++) {
      await this.press('NumpadSubtract');
      for (const end = Date.now() + 1000; Date.now() < end && !(await struck());) await pause(20);
    }
    assert.ok(await struck(), `${car} is not struck out: ${await this.says()}`);
  }

  rows() {
    return this.page.look(() =>
      [...document.querySelectorAll('#log tr[data-id]')].map((row) => ({
        ...row.dataset,
        text: row.innerText.replace(/\s+/g, ' '),
      })),
    );
  }

  /** Waits until the log has `count` rows. */
  async kept(count) {
    let rows;
    await sooner(
      async () => {
        rows = await this.rows();
        return rows.length === count;
      },
      () => `${count} rows, but there are ${rows.length}: ${JSON.stringify(rows)}`,
      { ms: GUARD_MS },
    );
  }

  /** Waits until nothing is left to send; the link is told to try at once. */
  async sent() {
    await this.page.look(() => {
      window.dispatchEvent(new Event('online'));
    });
    await this.page.until(() => {
      const rows = [...document.querySelectorAll('#log tr[data-id]')];
      return (
        rows.length > 0 &&
        rows.every((row) => !/kept|blank/.test(row.dataset.state)) &&
        document.querySelector('#badge-outbox').dataset.level !== 'doubt'
      );
    });
  }

  says() {
    return this.page.look(
      () =>
        `${document.querySelector('#say').innerText} ${document.querySelector('#warn').innerText}`,
    );
  }
}

/** Holds that at `point` the server has every press once, at its time, and nothing else that counts.
 *  Returns those rows. */
export function assertTaken(served, presses, point = 'TC1') {
  const all = served.readings();
  assert.equal(new Set(all.map((row) => row.id)).size, all.length, 'an id came twice');
  const held = counting(all.filter((row) => row.point === point));
  const left = [...held];
  for (const { car, from, to } of presses) {
    const i = left.findIndex((row) => Number(row.car) === car && between(row, from, to));
    assert.notEqual(
      i,
      -1,
      `car ${car} from ${new Date(from).toISOString()} to ${new Date(to).toISOString()} is not held: ` +
        JSON.stringify(left.filter((row) => Number(row.car) === car)),
    );
    left.splice(i, 1);
  }
  assert.deepEqual(left, [], 'more is held than was pressed');
  return held;
}
