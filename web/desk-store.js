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
   * Keeps records, numbering them on from the last: the transaction makes sure that no two tabs
   * take one number, and `least` that none is taken which only memory has. `blank`, if any, is kept
   * with them. Resolves once they are on disk.
   */
  async add(records, blank, least = 0) {
    const tx = this.db.transaction(['readings', 'blanks'], 'readwrite', STRICT);
    const readings = tx.objectStore('readings');
    const last = await readings.openKeyCursor(null, 'prev');
    let seq = Math.max(last ? last.key : 0, least);
    for (const record of records) {
      record.seq = ++seq;
      record.body.seq = seq;
      readings.add(record);
    }
    if (blank) tx.objectStore('blanks').put(blank);
    await tx.done;
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
