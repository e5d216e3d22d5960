// SPDX-License-Identifier: MIT
// What is written down: a car that is stamped, a time that is noted, a blank and its number, a line
// that is struck out or corrected. The instant is taken when the key went down; what follows waits
// its turn, so that each sees what the one before has kept.

import { parseCommand } from './command.js';
import { dueShown } from './expected.js';
import { lineLabel, valueShown } from './lines.js';
import { hasChoice, measureOf } from './measures.js';
import { isOdd, otherwise } from './plausible.js';
import { Stamps } from './stamps.js';
import { durationShown, nearerToNow, timeMs } from '../shared/time.js';
import { changedWord, doubtText, earlyText, lapText } from './wording.js';
import { t } from './words.js';

const BOUNCE_MS = 1000; // a second press within this is a bounce of the key: no lap is so short
// Shown on the row, not read aloud.
const QUIET = [
  'typed-time',
  'note',
  'rehearsal',
  'clock-unverified',
  'clock-jumped',
  'clock-wrong',
];

export class Recorder {
  /** field, faults: see there; parts: kept, trouble (see Stamps); echo() shows what stands in the
   *  field now; sure(what, words) asks, and is true the second time. */
  constructor(desk, view, field, { faults, parts, echo, sure }) {
    Object.assign(this, { desk, view, field, faults, echo, sure, lapCar: null, lapAt: -Infinity });
    this.ahead = new Set(); // readings that were told of as too soon
    this.coming = null; // {line, car, stamp}: see asksOf()
    this.typed = null; // the typed time of day that was kept last, {station, ms}
    this.turn = Promise.resolve();
    this.stamps = new Stamps(desk, parts);
  }

  get measure() {
    return measureOf(this.desk.station);
  }

  /** What stands in the field, read. */
  get command() {
    return parseCommand(this.field.text, this.measure);
  }

  /** Does one after the other; a failure is shown and holds up nothing. */
  #inTurn(act) {
    this.turn = this.turn
      .then(act)
      .catch((error) => this.view.warn(t('failed', { why: String(error) })));
    return this.turn;
  }

  /** The field is free for the next number at once, and the faults belong to this one. `stamped`:
   *  a line follows. */
  takeField(stamped = false) {
    if (stamped) this.field.take();
    else this.field.text = '';
    return this.faults.take();
  }

  enter(event, source = 'key') {
    const { desk, view, command } = this;
    const { station } = desk;
    if (!station) return;
    const stamp = this.stamps.instant(event);
    const picked = view.lines.pickedLine();
    if (picked && command.kind === 'empty') return view.lines.edit(picked);
    switch (command.kind) {
      case 'empty':
        if (station.laps && this.lapCar !== null) this.#nextLap(station, stamp, source);
        return;
      case 'open':
      case 'car':
        if (this.measure === 'elapsed') {
          this.field.text = command.car + ' ';
          return;
        }
        return void this.#stampCar(station, command.car, stamp, source);
      case 'value':
        if (!this.#isMeant(station, command)) return;
        return void this.#noteCar(station, command, stamp);
      case 'give':
        return void this.#giveTo(station, command.car, this.blankNo(command.blank));
      default:
        if (command.why === 'number')
          return void this.#leaveBlank(station, stamp, this.field.text.trim());
        return view.warn(
          [t('bad.' + command.why), this.#otherWords(station, command.typed)]
            .filter(Boolean)
            .join('. '),
        );
    }
  }

  #stampCar(station, car, stamp, source) {
    const faults = this.takeField(true);
    this.lapCar = station.laps ? car : null;
    this.lapAt = stamp.mono;
    return this.#inTurn(async () =>
      this.#sayKept(
        'said.stamped',
        station,
        await this.stamps.stamp(station, car, stamp, { source, faults }),
      ),
    );
  }

  #nextLap(station, stamp, source) {
    if (stamp.mono - this.lapAt < BOUNCE_MS) return this.view.say(t('said.bounce'));
    return this.#stampCar(station, this.lapCar, stamp, source);
  }

  /** Whether a typed value is to be kept; one that is odd has to be entered twice. */
  #isMeant(station, { car, value, typed }) {
    const { measure } = this;
    const { ms, text } = measure === 'time' ? this.meant(value) : value;
    const last = this.typed?.station === station.id ? this.typed.ms : null;
    const choice = hasChoice(station);
    const odd = isOdd({ typed, measure, ms, now: this.view.now().ms, last, choice });
    const time = measure === 'time' ? text : durationShown(text);
    const words = [t('ask.' + measure, { car, time }), this.#otherWords(station, typed)];
    if (odd && !this.sure(measure + typed, words.filter(Boolean).join('. '), true)) return false;
    if (measure === 'time') this.typed = { station: station.id, ms };
    return true;
  }

  /** What F4 makes of it, where the station takes that as well. */
  #otherWords(station, typed) {
    const other = hasChoice(station) ? otherwise(typed, this.measure) : null;
    if (!other) return '';
    const time = other.measure === 'time' ? this.meant(other).text : durationShown(other.text);
    return t('other.' + other.measure, { time });
  }

  #noteCar(station, { car, value }, stamp) {
    const faults = this.takeField();
    const fields =
      this.measure === 'elapsed' ? { elapsed: value.text } : { time: this.meant(value).text };
    return this.#inTurn(async () =>
      this.#sayKept(
        'said.noted',
        station,
        await this.stamps.note(station, car, fields, stamp, { source: 'typed', faults }),
      ),
    );
  }

  /** In the small hours 0110 is meant as 25:10 of the rally's day. */
  meant(value) {
    const now = this.view.now();
    return now.rehearsal ? value : nearerToNow(value, now.ms);
  }

  sighting(event) {
    const { station } = this.desk;
    const command = parseCommand(this.field.text);
    if (!station || command.kind !== 'car') return;
    if (!station.takes.includes('sighting')) return this.view.warn(t('bad.sighting'));
    const stamp = this.stamps.instant(event);
    const faults = this.takeField();
    this.#inTurn(async () =>
      this.#sayKept(
        'said.sighted',
        station,
        await this.stamps.note(station, command.car, {}, stamp, { source: 'sighting', faults }),
      ),
    );
  }

  /** Whether a doubt is told at once. A car that came too soon is told of once, not with each that
   *  comes behind it. */
  #isSaid({ flag, ahead, id }) {
    if (!ahead) return !QUIET.includes(flag);
    const known = this.ahead.has(id);
    this.ahead.add(id);
    return !known;
  }

  /** The due time, and how far from it the car is, where the crew waits for its minute. */
  #earlyText(station, { car, time }) {
    const due = this.view.list.find((c) => c.car === car)?.due;
    if (!due || !time || station.part === 'start' || this.view.now().rehearsal) return '';
    const early = earlyText(timeMs(due), timeMs(time), station.precision);
    return early && t('echo.due', { due: dueShown(due) }) + ', ' + early;
  }

  /** Says what was kept, with its doubts. */
  #sayKept(word, station, { chain, next }) {
    const { body, doubts: found } = chain.last;
    const point = this.view.pointOf(body.point);
    const lap = station.laps && next ? lapText(next) : '';
    if (station.laps && next && next.index === next.of) this.lapCar = null;
    this.view.kept(
      [
        t(word, { car: body.car, time: valueShown(body, point?.precision) }),
        lap,
        this.#earlyText(station, body),
      ]
        .filter(Boolean)
        .join(', '),
      found.filter((d) => this.#isSaid(d)).map((d) => doubtText(body.car, d)),
    );
    this.field.clear();
    this.echo();
  }

  blank(event) {
    if (this.desk.station) this.#leaveBlank(this.desk.station, this.stamps.instant(event), '');
  }

  #leaveBlank(station, stamp, typed) {
    // With a number in the field the faults are that car's, which is still to come.
    const faults = typed || !this.field.text.trim() ? this.takeField() : {};
    const blank = this.stamps.blank(station, stamp, typed, faults);
    return this.#inTurn(async () => {
      await this.stamps.keepBlank(blank);
      const time = valueShown(blank, station.precision);
      this.view.kept(
        t('said.blank', { no: blank.no, time }),
        typed ? [t('bad.number', { typed, no: blank.no })] : [],
      );
    });
  }

  /** The open blank of that number; 0: the oldest of this station. */
  blankNo(no) {
    const open = this.desk.log.openBlanks().sort((a, b) => a.made - b.made);
    if (no) return open.find((b) => b.no === no);
    return open.find((b) => this.desk.station.points.includes(b.point)) || open[0];
  }

  /** `*`: with one blank open it is that one; with more the field waits for which, or for Enter. */
  give() {
    const { desk, view } = this;
    const command = parseCommand(this.field.text);
    const open = desk.log.openBlanks();
    const picked = view.lines.pickedLine();
    if (command.kind === 'give')
      return void this.#giveTo(desk.station, command.car, this.blankNo(command.blank));
    if (command.kind !== 'car') return view.say(t(open.length ? 'give.number' : 'give.none'));
    if (picked && !picked.root && picked.state === 'open')
      return void this.#giveTo(desk.station, command.car, picked);
    if (open.length === 0) return view.warn(t('give.none'));
    if (open.length === 1) return void this.#giveTo(desk.station, command.car, open[0]);
    this.field.text = command.car + '*';
  }

  #giveTo(station, car, blank) {
    if (!blank) return this.view.warn(t('give.unknown'));
    let faults = {};
    // Those that are counted here are none of another place's.
    if (blank.place === station.id) faults = this.takeField();
    else this.field.text = '';
    this.view.lines.picked = null;
    return this.#inTurn(async () => {
      if (blank.state !== 'open') return;
      this.#sayKept(
        'said.given',
        station,
        await this.stamps.give(station, blank, car, t('reason.numbered'), faults),
      );
    });
  }

  /** The line that undo() would be about: the one that is picked, else the one touched last. */
  undone() {
    const { log, station } = this.desk;
    return this.view.lines.pickedLine() || (station && log.latest(station.points));
  }

  undo(line, event) {
    const stamp = this.stamps.instant(event);
    this.#inTurn(() => this.#strike(line, stamp));
  }

  async #strike(line, stamp) {
    const struck = await this.stamps.strike(line, stamp, {
      struck: t('reason.struck'),
      restored: t('reason.restored'),
    });
    this.view.warn('');
    this.view.say(t(struck ? 'said.struck' : 'said.restored', { car: lineLabel(line) }));
    this.echo();
  }

  /** What is asked before a line's changes are saved. A number changed to that of a car which is still
   *  to come may as well be that car, there by now, typed in the wrong place: Enter once more corrects
   *  the line, + stamps the car as it was first entered. */
  asksOf(line, { car }, event) {
    if (!line.root || car === undefined) return '';
    const old = line.current.body.car;
    const known = this.coming?.line === line && this.coming.car === car;
    const comes = this.view.list.find((c) => c.car === car)?.state === 'expected';
    if (known || !comes || !this.desk.cars.has(old)) return '';
    this.coming = { line, car, stamp: this.stamps.instant(event) };
    return t('edit.which', { old, car });
  }

  /** A car that comes while a line is open: the one that was asked about, or a time alone. */
  beside(event) {
    const { station } = this.desk;
    const { coming } = this;
    this.coming = null;
    if (!coming || this.view.lines.editing !== coming.line) return this.blank(event);
    this.view.lines.leave();
    this.#stampCar(station, coming.car, coming.stamp, 'key');
  }

  /** What a line's own buttons and fields say of it: 'strike' or 'save', with its changes. */
  ofLine(what, line, changes, event) {
    const stamp = this.stamps.instant(event);
    if (what === 'strike') return void this.#inTurn(() => this.#strike(line, stamp));
    if (!line.root) return void this.#giveTo(this.desk.station, changes.car, line);
    const { reason, ...rest } = changes;
    const why =
      reason || t('reason.changed', { what: Object.keys(rest).map(changedWord).join(', ') });
    this.#inTurn(async () =>
      this.#sayKept('said.corrected', this.desk.station, {
        chain: await this.stamps.correct(line, rest, why, stamp),
      }),
    );
  }

  /** Stamps of a wrong clock: see Stamps.retime(). */
  retime(lines, reason, event) {
    const stamp = this.stamps.instant(event);
    return this.#inTurn(async () => {
      await this.stamps.retime(lines, reason, stamp);
      this.view.say(t('said.retimed', { n: lines.length }));
    });
  }

  /** All that was written down in rehearsals goes, from the server too. */
  throwAway(event) {
    const stamp = this.stamps.instant(event);
    return this.#inTurn(async () => {
      const n = await this.stamps.throwAway(stamp, t('reason.rehearsal'));
      this.view.say(t('said.thrown', { n }));
    });
  }

  /** The doubts about a reading of a device's file, in words. */
  checksOf(reading) {
    const stamp = { ...this.desk.clock.at(performance.now()) };
    return this.stamps
      .record({ ...reading, source: 'device' }, stamp)
      .doubts.map((d) => doubtText(reading.car, d));
  }

  takeFile(readings, event) {
    const stamp = this.stamps.instant(event);
    return this.#inTurn(async () => {
      await this.stamps.fromFile(readings, stamp);
      this.view.kept(t('said.file', { n: readings.length }), []);
    });
  }
}
