// SPDX-License-Identifier: MIT
// The desk's keys; what the server says of the desk and its points; the desk's own reports.

const POLL_MS = 15000;
const INFO_MS = 300000;
const REPORT_MS = 60000;

/** The key in the fragment of an address or in a pasted link; '' where there is none. */
export function keyIn(text) {
  const key = text
    .trim()
    .replace(/^[^#]*#/, '')
    .trim();
  return /^[A-Za-z0-9._~-]{8,200}$/.test(key) ? key : '';
}

export class Link {
  /** heard(what) is called after 'info' and 'expected' changed, and with 'good', 'lost', 'key'. */
  constructor(desk, heard) {
    Object.assign(this, { desk, heard, keys: [], good: null, infoAt: 0 });
  }

  /** Keys of earlier links stay: readings made under one are sent with it. */
  async takeKey(key) {
    const { store } = this.desk;
    if (!this.keys.some((k) => k.key === key)) this.keys.unshift({ key, points: null });
    else this.keys.sort((a, b) => (b.key === key) - (a.key === key));
    await store?.set('keys', this.keys);
  }

  get key() {
    return this.keys[0]?.key || '';
  }

  keyFor(point, bad) {
    const covers = this.keys.filter((k) => !bad.has(k.key));
    const found = covers.find((k) => k.points === null || k.points.includes(point)) || covers[0];
    return found?.key || null;
  }

  /** Remembers how the last exchange went, and says so when that changes. */
  went(good) {
    if (this.good === good) return;
    const before = this.good;
    this.good = good;
    this.heard(good ? 'good' : 'lost', before);
  }

  async call(path, options) {
    try {
      const reply = await this.desk.api.call(path, options);
      this.went(true);
      return reply;
    } catch (error) {
      this.went(false);
      throw error;
    }
  }

  /** The desk's points and the entry list, for the newest key. */
  async refreshInfo() {
    const { desk } = this;
    if (!this.key) return;
    const reply = await this.call('desk', {
      key: this.key,
      etag: desk.info?.key === this.key ? desk.info.etag : null,
    });
    this.infoAt = performance.now();
    if (reply.status === 401 || reply.status === 403) return void this.heard('key');
    if (reply.status !== 200) return;
    const info = { ...reply.answer, etag: reply.etag, key: this.key };
    this.keys[0].points = info.role === 'organiser' ? null : info.points.map((p) => p.id);
    if (desk.store) {
      await desk.store.set('info', info);
      await desk.store.set('keys', this.keys);
    }
    this.heard('info', info);
  }

  /** The cars expected at a point. */
  async #refreshExpected(point) {
    const { desk } = this;
    const copy = desk.copies.get(point);
    const reply = await this.call('expected?point=' + encodeURIComponent(point), {
      key: this.key,
      etag: copy?.etag,
    });
    if (reply.status !== 200 && reply.status !== 304) return;
    const fetched = Date.now();
    const fresh =
      reply.status === 304
        ? { ...copy, fetched }
        : { ...reply.answer, point, etag: reply.etag, fetched };
    desk.copies.set(point, fresh);
    if (reply.status === 200) await desk.store?.setExpected(fresh);
    this.heard('expected');
  }

  /** Looks again after a while, sooner when `hurry`; only while somebody can see the page. */
  start() {
    const round = async () => {
      clearTimeout(this.timer);
      try {
        if (!document.hidden && this.desk.info) await this.#round();
      } catch {
        /* went() has said it */
      }
      this.timer = setTimeout(round, POLL_MS * (0.8 + Math.random() * 0.4));
    };
    this.hurry = () => {
      clearTimeout(this.timer);
      this.timer = setTimeout(round, 1000);
    };
    round();
  }

  async #round() {
    const { desk } = this;
    if (performance.now() - this.infoAt > INFO_MS) await this.refreshInfo();
    const { points = [] } = desk.station || {};
    for (const point of new Set([points[0], points.at(-1)])) {
      if (point) await this.#refreshExpected(point);
    }
    // For the hour without a network, once a copy of the others too.
    for (const point of desk.info.points) {
      if (!desk.copies.has(point.id)) await this.#refreshExpected(point.id);
    }
  }

  /** Reports to the office how the desk does: every minute, and soon after something changed. */
  startReports(reportOf) {
    this.report = async () => {
      clearTimeout(this.reportTimer);
      this.reportTimer = setTimeout(this.report, REPORT_MS);
      if (!this.key || !this.desk.info) return;
      try {
        await this.call('desks/' + this.desk.id, {
          key: this.key,
          method: 'POST',
          body: reportOf(),
        });
      } catch {
        /* went() has said it */
      }
    };
    this.reportSoon = () => {
      clearTimeout(this.reportTimer);
      this.reportTimer = setTimeout(this.report, 3000);
    };
    this.report();
  }
}
