// SPDX-License-Identifier: MIT
// Keeps the desk's clock going: compared once a minute, looked at once a second, and at once when the
// page comes back into sight.

import { Clock, ROUND_MS } from './clock.js';
import { later } from './later.js';
import { newDesk } from './log.js';
import { clockFlagsOf } from './marks.js';
import { byId } from '../shared/dom.js';

const HANDS = ['keydown', 'keyup', 'pointerdown', 'pointerup']; // events of a person's hand

/**
 * ask() → Promise of the server's answer;  compared() is called after each comparison;
 * second() is called once a second, as the shown time changes;
 * retime(lines, reason, event) → Promise: corrects what a comparison tells to be wrong
 * Returns a Promise that is kept once the first comparison was made, or has failed.
 */
export function runClock(desk, view, { ask, compared, retime, second }) {
  /** What the comparison tells of earlier stamps, if any of them was made without one. */
  const offer = async () => {
    const doubtful = ({ root, current }) => root.stretch && clockFlagsOf(current.body).length;
    if (!desk.log.chains.some(doubtful)) return;
    const { offerErrors } = await later();
    await offerErrors(desk, byId('banner-errors'), retime);
  };
  const clock = new Clock({
    mono: () => performance.now(),
    wall: () => Date.now(),
    saved: desk.saved,
    visit: newDesk(),
    ask: async () => {
      const { status, answer, back } = await ask();
      if (status !== 200 || typeof answer.ms !== 'number') throw new Error('no time');
      return { ms: answer.ms, back };
    },
    tell: (what, ms) => {
      view.clock.told(what, ms);
      view.tick();
      if (what === 'jump') return void clock.sync();
      if (clock.record) desk.store?.set('clock', clock.record).catch(() => {});
      if (what !== 'sync') return;
      compared();
      offer().catch(() => {}); // with the next comparison again
    },
  });
  desk.clock = clock;
  for (const name of HANDS) {
    addEventListener(name, (event) => desk.instants.learn(event), { capture: true, passive: true });
  }
  setInterval(() => clock.sync(), ROUND_MS);
  setInterval(() => {
    desk.instants.beat();
    clock.check();
    view.tick();
  }, 1000);
  const tickClock = () => {
    const ms = view.showTime();
    second();
    setTimeout(tickClock, 1000 - (ms % 1000) + 5);
  };
  tickClock();
  return clock.sync();
}
