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
  bad = new Set(); // keys that the server did not take

  /** heard(what) is called after 'info' and 'expected' changed, and with 'good', 'lost', 'key'. */
  constructor(desk, heard) {
    // keys: {key, asked, points}, newest first. `points` is known once it was asked for: those that the
    // key is for, null for all. `key` is this tab's own.
    Object.assign(this, { desk, heard, keys: [], key: '', good: null, infoAt: 0 });
  }

  /** Reads what other tabs have learned of keys. */
  async reread() {
    this.#join((await this.desk.store?.get('keys')) || []);
  }

  #join(others) {
    for (const other of others) {
      const mine = this.keys.find((k) => k.key === other.key);
      if (!mine) this.keys.push(other);
      else if (other.asked) Object.assign(mine, other);
    }
  }

  async #keep() {
    await this.desk.store?.change('keys', (kept = []) => {
      this.#join(kept);
      return this.keys;
    });
  }

  /** Another key for this tab. Keys of earlier links stay: readings made under one are sent with it. */
  async takeKey(key) {
    this.key = key;
    const known = this.keys.find((k) => k.key === key) || { key };
    this.keys = [known, ...this.keys.filter((k) => k !== known)];
    await this.#keep();
  }

  /** Forgets a key that the server does not know, and goes back to `before`. */
  async dropKey(key, before) {
    this.key = before;
    await this.desk.store?.change('keys', (kept = []) => kept.filter((k) => k.key !== key));
    this.keys = this.keys.filter((k) => k.key !== key);
  }

  /** The key of a tab that was opened without one: of its station, else the newest. */
  chooseKey(station) {
    const at = ({ points }) => points?.some((p) => p === station || p.startsWith(station + '/'));
    this.key = ((station && this.keys.find(at)) || this.keys[0])?.key || '';
  }

  /** The key with which a reading of the point is sent, this tab's rather than another; null where none
   * is known to be for it: such a reading waits. */
  keyFor(point) {
    const covers = this.keys.filter(
      ({ key, asked, points }) => !this.bad.has(key) && (points ? points.includes(point) : asked),
    );
    return (covers.find((k) => k.key === this.key) || covers[0])?.key || null;
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

  /** The desk's points and the entry list for a key, this tab's where none is named. A key
   * that the server does not know is `bad` from then on. Throws where the server cannot be asked. */
  async refreshInfo(key = this.key) {
    const { desk } = this;
    const own = () => key === this.key;
    if (!key) return;
    const reply = await this.call('desk', {
      key,
      etag: own() && desk.info?.key === key ? desk.info.etag : null,
    });
    if (own()) this.infoAt = performance.now();
    if (reply.status === 401 || reply.status === 403) {
      this.bad.add(key);
      if (own()) await this.#withoutKey();
      return;
    }
    if (reply.status === 200 || reply.status === 304) this.bad.delete(key);
    if (reply.status !== 200) return;
    const info = { ...reply.answer, etag: reply.etag, key };
    const known = this.keys.find((k) => k.key === key);
    if (!known) return;
    Object.assign(known, {
      asked: true,
      points: info.role === 'organiser' ? null : info.points.map((p) => p.id),
    });
    if (desk.store) {
      await desk.store.set('info ' + key, info);
      await this.#keep();
    }
    this.heard(own() ? 'info' : 'places', info);
  }

  /** Goes on with another key of the same point, where there is one. */
  async #withoutKey() {
    const other = this.keyFor(this.desk.station?.points[0]);
    if (!other) return this.heard('key');
    this.key = other;
    await this.refreshInfo();
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
    // Another entry list than the one that we have: a late entry is known within seconds.
    if (fresh.list && desk.info && fresh.list !== desk.info.list) await this.refreshInfo();
    this.heard('expected');
    if (reply.status === 200 && this.#isNewer(fresh)) await this.refreshInfo();
  }

  /** Whether the entry list has changed since the desk was told of it. */
  #isNewer({ list, cars }) {
    const { info } = this.desk;
    return list === undefined || info.list === undefined
      ? cars.some(({ car }) => !this.desk.cars.has(car))
      : list !== info.list;
  }

  /** Looks again after a while, sooner when `hurry`; only while somebody can see the page. */
  start() {
    const round = async () => {
      clearTimeout(this.timer);
      try {
        if (!document.hidden) await this.#round();
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
    const learns = this.keys.filter(({ key, asked }) => !asked && !this.bad.has(key));
    for (const { key } of learns) await this.refreshInfo(key);
    if (performance.now() - this.infoAt > INFO_MS) await this.refreshInfo();
    if (!desk.info) return;
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
