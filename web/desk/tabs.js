// SPDX-License-Identifier: MIT
// Which of several tabs of one desk sends. Each tells the others once a second that it is there and
// whether somebody sees it; of those that were heard lately one that is seen comes first, and of
// equals the one that was opened first. A tab that the system has put to sleep says nothing, and so
// holds up nobody; that two send the same for a moment does no harm, as each reading has its id.

export const BEAT_MS = 1000;
export const SILENT_MS = 3000; // a tab that was not heard for so long does not send

/** Whether `a` sends rather than `b`, each {tab, seen, since}. */
function before(a, b) {
  if (a.seen !== b.seen) return a.seen;
  return a.since === b.since ? a.tab < b.tab : a.since < b.since;
}

export class Tabs {
  #others = new Map(); // tab → its last word, with `at`
  #sends = null;

  /**
   * tab, since    this tab's name, and when it was opened
   * seen()        whether somebody sees it
   * now()         a running clock in ms
   * post(word)    tells the other tabs
   * sends(yes)    is called when it becomes the one that sends, and when it is no longer
   */
  constructor(parts) {
    Object.assign(this, parts);
  }

  /** Says that this tab is there, and decides anew. */
  beat(more = {}) {
    const { tab, since } = this;
    this.post({ tab, since, seen: this.seen(), ...more });
    this.#decide();
  }

  /** What another tab said. One that has just been opened is answered at once. */
  hear(word) {
    if (word.gone) this.#others.delete(word.tab);
    else this.#others.set(word.tab, { ...word, at: this.now() });
    if (word.opened) this.beat();
    else this.#decide();
  }

  #decide() {
    const own = { tab: this.tab, since: this.since, seen: this.seen() };
    const heard = [...this.#others.values()].filter(({ at }) => this.now() - at < SILENT_MS);
    const sends = !heard.some((other) => before(other, own));
    if (sends === this.#sends) return;
    this.#sends = sends;
    this.sends(sends);
  }
}

/** Begins to beat over `channel`, which may be null: then each tab sends for itself. Returns the Tabs,
 * which is to hear what comes. */
export function startTabs(channel, tab, sends) {
  const tabs = new Tabs({
    tab,
    since: Date.now(),
    seen: () => !document.hidden,
    now: () => performance.now(),
    post: (word) => channel?.postMessage(word),
    sends,
  });
  tabs.beat({ opened: true });
  setInterval(() => tabs.beat(), BEAT_MS);
  document.addEventListener('visibilitychange', () => tabs.beat());
  addEventListener('pageshow', () => tabs.beat());
  addEventListener('pagehide', () => tabs.post({ tab, gone: true }));
  return tabs;
}
