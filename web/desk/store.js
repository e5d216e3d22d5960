// SPDX-License-Identifier: MIT
// What the desk keeps in the browser, in one IndexedDB for each event. Acknowledged readings stay
// here too: they are the desk's own sheet.

import { openDB } from 'idb';

const STRICT = { durability: 'strict' };

export class Store {
  /** Opens the event's store; throws where the browser refuses one. */
  static async open(slug) {
    const db = await openDB('desk-' + slug, 1, {
      upgrade(fresh) {
        fresh.createObjectStore('readings', { keyPath: 'seq' });
        fresh.createObjectStore('blanks', { keyPath: 'id' });
        fresh.createObjectStore('expected', { keyPath: 'point' });
        fresh.createObjectStore('meta');
      },
      blocking: () => db.close(),
    });
    return new Store(db);
  }

  constructor(db) {
    this.db = db;
  }

  readings() {
    return this.db.getAll('readings');
  }

  blanks() {
    return this.db.getAll('blanks');
  }

  /**
   * Keeps records, numbering them on from `last`, the last number that this tab knows of. Where
   * another tab has taken the next meanwhile, the store refuses it, and they go on from the store's
   * last: looking there first each time would cost two more ways to the disk and back. `blank`, if
   * any, is kept with them. Resolves once they are on disk.
   */
  async add(records, blank, last, fromStore = false) {
    const tx = this.db.transaction(['readings', 'blanks'], 'readwrite', STRICT);
    const readings = tx.objectStore('readings');
    const held = fromStore && (await readings.openKeyCursor(null, 'prev'));
    let seq = Math.max(held ? held.key : 0, last);
    const kept = records.map((record) => {
      record.seq = record.body.seq = ++seq;
      return readings.add(record);
    });
    if (blank) kept.push(tx.objectStore('blanks').put(blank));
    tx.commit();
    // The request's error has the reason; that of the transaction comes later.
    await Promise.all([...kept, tx.done]).catch((error) => {
      if (fromStore || error.name !== 'ConstraintError') throw error;
      return this.add(records, blank, last, true);
    });
  }

  /** Keeps the new states of records that are here already. */
  async update(records) {
    const tx = this.db.transaction('readings', 'readwrite', STRICT);
    for (const record of records) tx.store.put(record);
    await tx.done;
  }

  async putBlank(blank) {
    const tx = this.db.transaction('blanks', 'readwrite', STRICT);
    tx.store.put(blank);
    await tx.done;
  }

  get(name) {
    return this.db.get('meta', name);
  }

  set(name, value) {
    return this.db.put('meta', value, name);
  }

  expected(point) {
    return this.db.get('expected', point);
  }

  setExpected(copy) {
    return this.db.put('expected', copy);
  }

  /**
   * Takes or renews the right to send, where the browser has no locks: true if this tab has it
   * until `now + ttl`.
   */
  async lease(owner, now, ttl) {
    const tx = this.db.transaction('meta', 'readwrite');
    const held = await tx.store.get('sender');
    const free = !held || held.owner === owner || held.until < now || held.until > now + ttl;
    if (free) await tx.store.put({ owner, until: now + ttl }, 'sender');
    await tx.done;
    return free;
  }
}
