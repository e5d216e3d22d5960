// SPDX-License-Identifier: MIT
// The desk's readings. A record is never changed: a correction is a new record that replaces an
// old one, and a chain is a reading with all that became of it. What a person sees as one line of
// the sheet is a chain.
//
// A record: {seq, id, state, refusal, made, body}. `body` is what is posted, as the contract has
// it, the desk's own members included; `state` kept (not sent yet), sent or refused; `made` the
// instant of the stamp, for the order on the sheet.
//
// A time without a number is a reading without a car, so that it goes to the server like any other;
// beside it stands a blank of the same id with what only the sheet needs. It is the blank that is a line
// of the sheet, until a reading with a number replaces that without.

export function newId() {
  // Without https there is no crypto.randomUUID.
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  return hexOf(bytes).replace(/^(.{8})(.{4})(.{4})(.{4})/, '$1-$2-$3-$4-');
}

export function newDesk() {
  return hexOf(crypto.getRandomValues(new Uint8Array(4)));
}

const hexOf = (bytes) => [...bytes].map((b) => b.toString(16).padStart(2, '0')).join('');

const OWN = ['id', 'seq', 'at', 'by', 'flags', 'replaces', 'void', 'reason'];

/** The body of a reading that corrects or restores `old`: its values, changed. What is '' in
 * `changes` goes away. The clock's figures stay: they belong to the stamp. */
export function correction(old, changes, reason) {
  const kept = Object.fromEntries(Object.entries(old).filter(([name]) => !OWN.includes(name)));
  return withoutEmpty({ ...kept, ...changes, replaces: old.id, reason });
}

/** The body of a reading that withdraws `old`. */
export function withdrawal(old, reason) {
  return {
    point: old.point,
    car: old.car,
    source: old.source,
    void: 'yes',
    replaces: old.id,
    reason,
  };
}

/** True where a reading of the line waits for a person. One that was never taken and is struck out
 * does not, though its withdrawal is refused like it: there was nothing to withdraw. */
export const isRefused = ({ root, current, last, voided }) =>
  last.state === 'refused' && !(voided && current === root && root.state === 'refused');

export function withoutEmpty(body) {
  return Object.fromEntries(
    Object.entries(body).filter(
      ([, value]) => value !== undefined && value !== null && value !== '',
    ),
  );
}

export class Log {
  constructor() {
    this.records = new Map(); // id → record
    this.chains = []; // in the order in which their first records were made
    this.of = new Map(); // record id → chain
    this.blanks = []; // {id, no, point, made, time, clock, state: open|given|dropped, pending}
    this.turn = 0;
  }

  /** Takes a record in, or its new state where it is known. */
  add(record) {
    const known = this.records.get(record.id);
    if (known) {
      Object.assign(known, record);
      return this.of.get(record.id);
    }
    this.records.set(record.id, record);
    let chain = record.body.replaces && this.of.get(record.body.replaces);
    if (!chain) {
      chain = { id: record.id, root: record, current: record, voided: false };
      this.chains.push(chain);
    }
    this.of.set(record.id, chain);
    chain.voided = record.body.void === 'yes';
    if (!chain.voided) chain.current = record;
    chain.last = record;
    chain.touched = ++this.turn;
    this.#settle(this.blanks.find((b) => b.id === chain.id));
    return chain;
  }

  /** What its reading says of a blank holds. */
  #settle(blank) {
    const chain = blank && this.of.get(blank.id);
    if (!chain) return;
    blank.last = chain.last;
    blank.time = chain.current.body.time ?? blank.time;
    if (chain.current.body.car !== undefined) blank.state = 'given';
    else if (blank.state !== 'given') blank.state = chain.voided ? 'dropped' : 'open';
  }

  addBlank(blank) {
    const known = this.blanks.find((b) => b.id === blank.id);
    if (known) Object.assign(known, blank);
    else this.blanks.push(blank);
    (known || blank).touched = ++this.turn;
    this.#settle(known || blank);
  }

  openBlanks(point) {
    return this.blanks.filter((b) => b.state === 'open' && (!point || b.point === point));
  }

  /** The lines of the points, newest first: chains and blanks that have no number yet. */
  lines(points) {
    const here = (point) => points.includes(point);
    return [
      ...this.chains.filter((c) => c.current.body.car !== undefined && here(c.current.body.point)),
      ...this.blanks.filter((b) => b.state !== 'given' && !b.pending && here(b.point)),
    ].sort((a, b) => madeOf(b) - madeOf(a) || b.touched - a.touched);
  }

  /** The lines of other points than these that somebody has still to do with, newest first: those
   * refused, without a number, or not sent where `waits`(point). */
  elsewhere(points, waits) {
    const open = (line) => {
      if (!line.root) return line.state === 'open' || line.last?.state === 'refused';
      return isRefused(line) || (line.last.state === 'kept' && waits(line.current.body.point));
    };
    const all = [...this.chains, ...this.blanks].map((line) => (line.current?.body || line).point);
    return this.lines(all.filter((point) => !points.includes(point))).filter(open);
  }

  /** The line that was touched last, of those for which `fits`: what `undo` is about. */
  latest(points, fits = () => true) {
    return this.lines(points)
      .filter(fits)
      .reduce((a, b) => (a && a.touched > b.touched ? a : b), null);
  }

  /** The readings that hold at the points, newest first. */
  holding(points) {
    return this.lines(points)
      .filter((l) => l.current && !l.voided)
      .map((l) => l.current.body);
  }

  /** Counts for the badge and the office: {unsent, refused, lastSeq}. A refused reading that a
   * person has corrected or struck out since is settled. */
  tally() {
    let unsent = 0;
    let lastSeq = 0;
    for (const record of this.records.values()) {
      if (record.state === 'kept') unsent++;
      lastSeq = Math.max(lastSeq, record.seq);
    }
    const refused = this.chains.filter(isRefused).length;
    return { unsent, refused, lastSeq };
  }

  /** The bodies that a line had before it was corrected, oldest first. */
  earlier(line) {
    return this.all()
      .filter((r) => this.of.get(r.id) === line && r !== line.current && r.body.void !== 'yes')
      .map((r) => r.body);
  }

  /** All records in order of seq. */
  all() {
    return [...this.records.values()].sort((a, b) => a.seq - b.seq);
  }
}

function madeOf(line) {
  return line.root ? line.root.made : line.made;
}
