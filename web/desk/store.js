// SPDX-License-Identifier: MIT
// What the desk keeps in the browser, in one IndexedDB for each event. Acknowledged readings stay
// here too: they are the desk's own sheet.

import { answerOf, keptBy, openDatabase } from './database.js';

const STRICT = { durability: 'strict' };

export class Store {
  /** Opens the event's store; throws where the browser refuses one. */
  static async open(slug) {
    const db = await openDatabase('desk-' + slug, 1, (fresh) => {
      fresh.createObjectStore('readings', { keyPath: 'seq' });
      fresh.createObjectStore('blanks', { keyPath: 'id' });
      fresh.createObjectStore('expected', { keyPath: 'point' });
      fresh.createObjectStore('meta');
    });
    return new Store(db);
  }

  constructor(db) {
    this.db = db;
  }

  #read(store) {
    return this.db.transaction(store).objectStore(store);
  }

  /** Puts each of `values` into a store; resolves once they are on disk. */
  async #put(store, values, key, options = STRICT) {
    const tx = this.db.transaction(store, 'readwrite', options);
    const kept = keptBy(tx);
    for (const value of values) tx.objectStore(store).put(value, key);
    await kept;
  }

  async readings() {
    return answerOf(this.#read('readings').getAll());
  }

  async blanks() {
    return answerOf(this.#read('blanks').getAll());
  }

  /**
   * Keeps records, numbering them on from `last`, the last number that this tab knows of. Where
   * another tab has taken the next meanwhile, the store refuses it, and they go on from the store's
   * last: looking there first each time would cost two more ways to the disk and back. `blank`, if
   * any, is kept with them. Resolves once they are on disk.
   */
  async add(records, blank, last, fromStore = false) {
    const tx = this.db.transaction(['readings', 'blanks'], 'readwrite', STRICT);
    const done = keptBy(tx);
    const readings = tx.objectStore('readings');
    const held = fromStore && (await answerOf(readings.openKeyCursor(null, 'prev')));
    let seq = Math.max(held ? held.key : 0, last);
    const kept = records.map((record) => {
      record.seq = record.body.seq = ++seq;
      return answerOf(readings.add(record));
    });
    if (blank) kept.push(answerOf(tx.objectStore('blanks').put(blank)));
    tx.commit();
    // The request's error has the reason; that of the transaction comes later.
    await Promise.all([...kept, done]).catch((error) => {
      if (fromStore || error.name !== 'ConstraintError') throw error;
      return this.add(records, blank, last, true);
    });
  }

  /** Keeps what could not be kept when it was made. Returns the records whose number another tab has
   * taken since. */
  async addLate(records, blanks) {
    const tx = this.db.transaction(['readings', 'blanks'], 'readwrite', STRICT);
    const done = keptBy(tx);
    const readings = tx.objectStore('readings');
    const left = [];
    for (const record of records) {
      const held = await answerOf(readings.get(record.seq));
      if (held && held.id !== record.id) left.push(record);
      else readings.put(record);
    }
    for (const blank of blanks) tx.objectStore('blanks').put(blank);
    await done;
    return left;
  }

  /** Keeps the new states of records that are here already. */
  async update(records) {
    return this.#put('readings', records);
  }

  async get(name) {
    return answerOf(this.#read('meta').get(name));
  }

  async set(name, value) {
    return this.#put('meta', [value], name, {});
  }

  /** Changes a value in one go, whatever other tabs do: change(value) → the new one. */
  async change(name, change) {
    const tx = this.db.transaction('meta', 'readwrite');
    const kept = keptBy(tx);
    const meta = tx.objectStore('meta');
    meta.put(change(await answerOf(meta.get(name))), name);
    await kept;
  }

  async expected(point) {
    return answerOf(this.#read('expected').get(point));
  }

  async setExpected(copy) {
    return this.#put('expected', [copy], undefined, {});
  }
}
