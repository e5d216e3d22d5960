// SPDX-License-Identifier: MIT
// What a timekeeper does: stamp, note a time, leave a blank, give it a number, strike out, restore,
// correct. Each becomes records that are kept at once; none is refused.

import { doubts, tooSoon } from './checks.js';
import { bothFaults, faultsText } from './command.js';
import { isFresh } from './expected.js';
import { correction, newId, withdrawal, withoutEmpty } from './log.js';
import { AT_ONCE, clockFlagsOf, isMarked, isTrial } from './marks.js';
import { goodBetween } from './clock.js';
import { nextPoint, startsOf } from './stations.js';
import { instantText, timeOfDay, timeText } from '../shared/time.js';

const tenth = (n) => Math.round(n * 10) / 10;

/** A blank's stamp, as Clock.at() gave it. */
const stampOf = ({ made: ms, stretch, measured, flags, clock }) => ({
  ms,
  mono: clock.mono_ms,
  stretch,
  measured,
  wrong: flags.includes('clock-wrong'),
});

export class Stamps {
  /** desk: the page's state, see desk.js: log, clock, store, info, cars, copies, id, by().
   * Called: kept(records) once they are on disk, trouble(error) for those that are not, mended() once
   * those are too. */
  constructor(desk, { kept, trouble, mended }) {
    Object.assign(this, { desk, kept, trouble, mended, unkept: { records: [], blanks: [] } });
  }

  /** The instant of a key or touch, however late the page came to hear of it. */
  instant(event) {
    return this.desk.clock.at(this.desk.instants.of(event));
  }

  #timeAt(point, ms) {
    const { info } = this.desk;
    const day = info.days.find((d) => d.day === point.day);
    return timeOfDay(ms, day.date, info.timezone);
  }

  #pointOf(id) {
    return this.desk.places.get(id);
  }

  /** The members that say how good a stamp's time is. */
  #clockOf(stamp) {
    return {
      wall_ms: Math.round(stamp.wall),
      mono_ms: tenth(stamp.mono),
      offset_ms: tenth(stamp.offset),
      uncertainty_ms: stamp.uncertainty === null ? null : tenth(stamp.uncertainty),
      sync_age_s: stamp.age,
    };
  }

  /** The doubts about a body, and the record that is to be kept. chain: the line that it corrects;
   *  made: when that line's stamp was truly made, once that is known. */
  record(body, stamp, { clockFlags = [], chain = null, also = [], made = null } = {}) {
    const { desk } = this;
    const point = this.#pointOf(body.point);
    const others = (points) =>
      desk.log
        .lines(points)
        .filter((l) => l.current && !l.voided && l !== chain)
        .map((l) => l.current.body);
    const mine = point ? desk.info.points.filter((p) => p.day === point.day) : [];
    const copy = desk.copies.get(body.point);
    const { rehearsal, before } = point ? this.#timeAt(point, made ?? stamp.ms) : {};
    const found =
      body.void || !point
        ? []
        : [
            ...doubts(body, {
              cars: desk.cars,
              rows: others([body.point]),
              earlier: others(mine.slice(0, mine.indexOf(point)).map((p) => p.id)),
              expected: new Map((copy ? copy.cars : []).map((c) => [c.car, c])),
              fresh: isFresh(copy, Date.now()),
              rehearsal,
              // A correction is of the day on which its reading was made; what was read off something
              // else may come days later, and earlier never.
              trial:
                chain && made === null
                  ? isMarked(chain)
                  : !stamp.wrong && (before || (rehearsal && AT_ONCE.includes(body.source))),
              clock: clockFlags,
            }),
            ...also,
          ];
    const full = withoutEmpty({
      id: newId(),
      ...body,
      desk: desk.id,
      by: desk.by(),
      at: instantText(stamp.ms, desk.info.timezone),
      flags: found
        .map((d) => d.flag)
        .filter(Boolean)
        .join(' '),
    });
    const { ms, stretch } = stamp;
    return {
      id: full.id,
      state: 'kept',
      refusal: '',
      made: ms,
      stretch,
      body: full,
      doubts: found,
    };
  }

  /** Keeps records; where the disk takes none they stay in memory. Returns the chain of the last. */
  async #keep(records, blank = null) {
    const { log, store } = this.desk;
    let failure = null;
    try {
      if (!store) throw new Error('no store');
      await store.add(records, blank, log.tally().lastSeq);
    } catch (error) {
      failure = error;
      let seq = log.tally().lastSeq;
      for (const record of records) record.body.seq = record.seq = ++seq;
    }
    let chain = null;
    for (const record of records) chain = log.add(record);
    if (blank) log.addBlank(blank);
    if (failure) {
      this.unkept.records.push(...records);
      if (blank) this.unkept.blanks.push(blank);
      this.trouble(failure, chain);
    } else await this.#mend();
    this.kept(records, failure);
    return chain;
  }

  /** Keeps what the disk did not take, as it is now, once it takes something again. */
  async #mend() {
    const { log, store } = this.desk;
    const { records, blanks } = this.unkept;
    if (records.length + blanks.length === 0) return;
    const left = await store
      .addLate(
        records.map(({ id }) => log.records.get(id)),
        blanks,
      )
      .catch(() => records);
    if (left.length) return;
    this.unkept = { records: [], blanks: [] };
    this.mended();
  }

  /** A car at the instant. source: key, pad. faults: counts. Resolves to {chain, point, lap}. */
  async stamp(station, car, stamp, { source, faults = {} }) {
    const next = this.nextAt(station, car);
    const point = this.#pointOf(next.point);
    const time = timeText(this.#timeAt(point, stamp.ms).ms);
    const also = station.laps && this.#lapTooSoon(station, car, time) ? [{ flag: 'too-soon' }] : [];
    const body = {
      point: point.id,
      car,
      time,
      faults: faultsText(faults),
      source,
      ...this.#clockOf(stamp),
    };
    const flags = this.#flagsAt(point, car, stamp, this.desk.clock.flags(stamp, point.precision));
    const chain = await this.#keep([this.record(body, stamp, { clockFlags: flags, also })]);
    return { chain, next };
  }

  nextAt(station, car) {
    return station.laps
      ? nextPoint(station, this.desk.log.holding(station.points), car)
      : { point: station.points[0], index: 0, of: 0, done: false };
  }

  /** The flags of the clock that matter for a car: where a time counts from its start, which this
   *  desk has stamped too, both are out alike. */
  #flagsAt(point, car, stamp, flags) {
    if (!stamp.measured || !flags.includes('clock-unverified')) return flags;
    const starts = startsOf(this.desk.info.points, point);
    const [start] = this.desk.log
      .lines(starts)
      .filter((l) => l.root && !l.voided && l.current.body.car === car)
      .map(({ root, current }) => ({ ...root, mono: current.body.mono_ms }));
    const here = { made: stamp.ms, mono: stamp.mono, stretch: stamp.stretch };
    return start && goodBetween(point.precision, start, here) ? [] : flags;
  }

  #lapTooSoon(station, car, time) {
    const last = this.desk.log.holding(station.points).find((r) => r.car === car);
    return last && tooSoon(time, last.time);
  }

  /** A car with a time or an elapsed time that was read off something else. fields: {time} or
   * {elapsed}, none for a sighting; source: typed, sighting. */
  async note(station, car, fields, stamp, { source, faults = {} }) {
    const next = this.nextAt(station, car);
    const body = {
      point: next.point,
      car,
      ...fields,
      faults: faultsText(faults),
      source,
      ...this.#clockOf(stamp),
    };
    return { chain: await this.#keep([this.record(body, stamp)]), next };
  }

  /** Readings from a device's file: [{point, car, time|elapsed, faults}]. */
  async fromFile(rows, stamp) {
    const records = rows.map((row) =>
      this.record({ ...row, source: 'device', ...this.#clockOf(stamp) }, stamp),
    );
    return this.#keep(records);
  }

  /** A time without a number. `typed` is what stood in the field, if it was no number; `faults` are
   * counts that belong to it. It can be given a number at once, but is `pending`, and not shown,
   * until keepBlank() has kept it. */
  blank(station, stamp, typed = '', faults = {}) {
    const { log } = this.desk;
    const no = Math.max(0, ...log.openBlanks().map((b) => b.no)) + 1;
    const point = this.#pointOf(station.points[0]);
    const blank = {
      id: newId(),
      no,
      point: point.id,
      place: station.id,
      made: stamp.ms,
      stretch: stamp.stretch,
      measured: stamp.measured,
      state: 'open',
      typed,
      faults: faultsText(faults),
      time: timeText(this.#timeAt(point, stamp.ms).ms),
      clock: this.#clockOf(stamp),
      flags: this.desk.clock.flags(stamp, point.precision),
      pending: true,
    };
    log.addBlank(blank);
    return blank;
  }

  /** Keeps a blank, and the reading without a car that it is for the server. */
  async keepBlank(blank) {
    const { last, ...kept } = { ...blank, pending: false };
    const { id, point, time, faults, typed } = blank;
    const body = { id, point, time, faults, source: 'blank', note: typed, ...blank.clock };
    const record = this.record(body, stampOf(blank), { clockFlags: blank.flags });
    await this.#keep(last ? [] : [record], kept);
  }

  /** The number of a blank: its reading is replaced by one with the number, with the blank's instant and
   * faults, and with those counted since. */
  async give(station, blank, car, reason, faults = {}) {
    const next =
      blank.point === station.points[0] ? this.nextAt(station, car) : { point: blank.point };
    const { flags, clock } = blank;
    const stamp = stampOf(blank);
    const body = {
      point: next.point,
      car,
      time: blank.time,
      faults: bothFaults(blank.faults || '', faults),
      source: 'blank',
      note: blank.typed,
      ...clock,
    };
    const { last, ...kept } = { ...blank, state: 'given' };
    const replaced = last && this.desk.log.of.get(blank.id).current.id;
    if (last) Object.assign(body, { replaces: replaced, reason });
    const record = this.record(body, stamp, {
      clockFlags: this.#flagsAt(this.#pointOf(next.point), car, stamp, flags),
    });
    return { chain: await this.#keep([record], kept), next };
  }

  /** Withdraws all lines of rehearsals, of every point. Returns how many there were. */
  async throwAway(stamp, reason) {
    const lines = this.desk.log.chains.filter(isTrial);
    await this.#keep(
      lines.map((chain) => this.record(withdrawal(chain.current.body, reason), stamp, { chain })),
    );
    return lines.length;
  }

  /** Strikes a line out, or restores it. Returns whether it is struck out now. */
  async strike(line, stamp, reasons) {
    const { log } = this.desk;
    if (!line.root && !line.last) await this.keepBlank(line);
    const chain = log.of.get(line.id);
    const { body } = chain.current;
    const struck = !chain.voided;
    const next = struck ? withdrawal(body, reasons.struck) : correction(body, {}, reasons.restored);
    await this.#keep([this.record(next, stamp, { chain, clockFlags: clockFlagsOf(body) })]);
    return struck;
  }

  /** Gives lines the time at which they were truly made: [{chain, ms}]. The old ones are kept, as with
   *  any correction. */
  async retime(lines, reason, stamp) {
    const records = lines.map(({ chain, ms }) => {
      const { body } = chain.current;
      const next = correction(
        body,
        {
          time: timeText(this.#timeAt(this.#pointOf(body.point), ms).ms),
          offset_ms: tenth(ms - body.wall_ms),
          uncertainty_ms: this.#clockOf(stamp).uncertainty_ms,
          sync_age_s: '',
        },
        reason,
      );
      return this.record(next, stamp, { chain, made: ms });
    });
    return this.#keep(records);
  }

  /** Corrects a line: changes of {point, car, time, elapsed, faults, note}. */
  async correct(line, changes, reason, stamp) {
    const { body } = line.current;
    const retimed =
      (changes.time && changes.time !== body.time) ||
      (changes.elapsed && changes.elapsed !== body.elapsed);
    const next = correction(body, { ...changes, ...(retimed ? { source: 'typed' } : {}) }, reason);
    const record = this.record(next, stamp, {
      chain: line,
      clockFlags: retimed ? [] : clockFlagsOf(body),
    });
    return this.#keep([record]);
  }
}
