// SPDX-License-Identifier: MIT
// When a key went down. The browser tells it with the event (event.timeStamp), which is better than
// the moment at which the page comes to hear of it, as long as it is told by the page's own running
// clock: WebKit's was seen some 50 ms ahead of it for a whole visit.

const KEPT = 20; // events from which the difference of the two clocks is learnt
const SAME_MS = [-1, 8]; // between these the two are one clock: a page hears of a key a little late
const SLACK_MS = 1000; // more than a page that has been free may hear late

export class Instants {
  #late = []; // of the last events: the page's clock less the event's
  #beats = [-Infinity, -Infinity]; // when the page was last seen to be free, two times
  refused = 0; // events that told an instant which cannot be

  /** mono () => the page's running clock */
  constructor(mono) {
    this.mono = mono;
  }

  /** Learns from every event of a person's hand. */
  learn({ timeStamp }) {
    if (!(timeStamp > 0)) return;
    this.#late.push(this.mono() - timeStamp);
    if (this.#late.length > KEPT) this.#late.shift();
  }

  /** Called once a second as long as the page is free to do so. */
  beat() {
    this.#beats = [this.#beats[1], this.mono()];
  }

  /** How far the clock of events is behind the page's; 0 where it is the same, or nothing is known. */
  get skew() {
    const least = Math.min(...this.#late);
    return Number.isFinite(least) && (least < SAME_MS[0] || least > SAME_MS[1]) ? least : 0;
  }

  /** The instant of an event by the page's clock. One that lies ahead, or further back than the
   *  page can have been held up, is none: then it is now. */
  of({ timeStamp }) {
    const now = this.mono();
    if (!(timeStamp > 0)) return now;
    const at = timeStamp + this.skew;
    if (at > now + 1 || at < this.#beats[0] - SLACK_MS) {
      this.refused++;
      return now;
    }
    return Math.min(at, now);
  }
}
