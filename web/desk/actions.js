// SPDX-License-Identifier: MIT
// What keys and buttons do. The instant is taken when the key went down; what follows waits its
// turn, so that each sees what the one before has kept.

import { doubts } from './checks.js';
import { faultLetters, parseCommand } from './command.js';
import { byId, make, setText } from '../shared/dom.js';
import { Field, pressButton } from './field.js';
import { Files } from './files.js';
import { faultName, lineLabel, lineState, valueShown } from './lines.js';
import { drawSheet, saveCopy } from './control-sheet.js';
import { Stamps } from './stamps.js';
import { durationShown, instantText, nearerToNow } from '../shared/time.js';
import { placeName } from './view.js';
import { t } from './words.js';

const BOUNCE_MS = 1000; // no lap is shorter than this, but a finger is
const QUIET = ['typed-time', 'note', 'clock-unverified', 'clock-jumped']; // on the row, not aloud

export class Actions {
  /** parts: kept, trouble (see Stamps), again(line), placed(), remember(name, value). */
  constructor(desk, view, parts) {
    Object.assign(this, {
      desk,
      view,
      parts,
      counts: {},
      letters: {},
      lapCar: null,
      lapAt: -Infinity,
    });
    this.turn = Promise.resolve();
    this.stamps = new Stamps(desk, parts);
    view.startLines((what, line, changes, event) => this.onLine(what, line, changes, event));
    this.field = new Field(byId('field'), {
      enter: (event) => this.enter(event),
      blank: (event) => this.blank(event),
      give: (event) => this.give(event),
      undo: (event) => this.undo(event),
      sighting: (event) => this.sighting(event),
      place: (step) => this.step(step),
      pick: (step) => this.pick(step),
      note: () => this.note(),
      measures: () => this.switchMeasures(),
      help: () => this.help(),
      fault: (letter, step) => this.fault(this.letters[letter], step),
      escape: () => this.escape(),
      changed: () => this.echo(),
    });
    this.files = new Files(desk, {
      checks: (reading) => this.checksOf(reading),
      take: (readings, event) => this.takeFile(readings, event),
    });
    this.buttons();
  }

  buttons() {
    const pressed = (id, act) =>
      pressButton(byId(id), (event) => {
        act(event);
        this.field.focus();
      });
    pressed('stamp', (event) => this.enter(event, 'pad'));
    pressed('blank', (event) => this.blank(event));
    pressed('give', (event) => this.give(event));
    pressed('undo', (event) => this.undo(event));
    pressed('help-button', () => this.help());
    pressed('save-copy', () => this.copy());
    pressed('print-sheet', () => {
      this.sheet();
      print();
    });
    byId('points').addEventListener('change', (event) => {
      this.go(this.desk.places.find((p) => p.id === event.target.value));
    });
    const keys = ['7', '8', '9', '4', '5', '6', '1', '2', '3', '␣', '0', '⌫', ':', '.', '/'];
    byId('digits').append(
      ...keys.map((key) => {
        const button = make('button', { type: 'button' }, key);
        pressButton(button, (event) => this.padKey(key, event));
        return button;
      }),
    );
    // On glass the pad is the keyboard.
    if (matchMedia('(pointer: coarse)').matches) byId('field').setAttribute('inputmode', 'none');
  }

  padKey(key, event) {
    const { text } = this.field;
    if (key === '⌫') this.field.text = text.slice(0, -1);
    else if (key === '␣') this.field.text = text.trim() ? text + ' ' : text;
    else if (key === '/') text.trim() ? this.sighting(event) : this.step(1);
    else this.field.text = text + key;
    this.field.focus();
  }

  /** Does one after the other; a failure is shown and holds up nothing. */
  inTurn(act) {
    this.turn = this.turn
      .then(act)
      .catch((error) => this.view.warn(t('failed', { why: String(error) })));
    return this.turn;
  }

  /** The field is free for the next number at once, and the faults belong to this one. `stamped`:
   *  a line follows. */
  takeField(stamped = false) {
    const faults = this.counts;
    this.counts = {};
    if (stamped) this.field.take();
    else this.field.text = '';
    this.showFaults();
    return faults;
  }

  get measures() {
    const { place } = this.desk;
    if (!place || place.takes.includes('sighting') || !place.takes.includes('elapsed'))
      return 'time';
    return !place.takes.includes('time') || place.measures === 'elapsed' ? 'elapsed' : 'time';
  }

  /** Whether there is a choice of what is written down. Where a sighting will do there is no need. */
  get choice() {
    const takes = this.desk.place ? this.desk.place.takes : [];
    return takes.includes('time') && takes.includes('elapsed') && !takes.includes('sighting');
  }

  enter(event, source = 'key') {
    const { desk, view } = this;
    const { place } = desk;
    if (!place) return;
    const stamp = this.stamps.instant(event);
    const picked = view.lines.pickedLine();
    const command = parseCommand(this.field.text, this.measures);
    if (picked && command.kind === 'empty') return view.lines.edit(picked);
    switch (command.kind) {
      case 'empty':
        if (place.laps && this.lapCar !== null) this.nextLap(place, stamp, source);
        return;
      case 'open':
      case 'car':
        if (this.measures === 'elapsed') {
          this.field.text = command.car + ' ';
          return;
        }
        return void this.stampCar(place, command.car, stamp, source);
      case 'value':
        return void this.noteCar(place, command, stamp);
      case 'give':
        return void this.giveTo(place, command.car, this.blankNo(command.blank));
      default:
        if (command.why === 'number')
          return void this.leaveBlank(place, stamp, this.field.text.trim());
        return view.warn(t('bad.' + command.why));
    }
  }

  stampCar(place, car, stamp, source) {
    const faults = this.takeField(true);
    this.lapCar = place.laps ? car : null;
    this.lapAt = stamp.mono;
    return this.inTurn(async () =>
      this.told(
        'said.stamped',
        place,
        await this.stamps.stamp(place, car, stamp, { source, faults }),
      ),
    );
  }

  nextLap(place, stamp, source) {
    if (stamp.mono - this.lapAt < BOUNCE_MS) return this.view.say(t('said.bounce'));
    return this.stampCar(place, this.lapCar, stamp, source);
  }

  noteCar(place, { car, value }, stamp) {
    const faults = this.takeField();
    const fields =
      this.measures === 'elapsed' ? { elapsed: value.text } : { time: this.meant(value).text };
    return this.inTurn(async () =>
      this.told(
        'said.noted',
        place,
        await this.stamps.note(place, car, fields, stamp, { source: 'typed', faults }),
      ),
    );
  }

  /** In the small hours 0110 is meant as 25:10 of the rally's day. */
  meant(value) {
    const now = this.view.now();
    return now.rehearsal ? value : nearerToNow(value, now.ms);
  }

  sighting(event) {
    const { place } = this.desk;
    const command = parseCommand(this.field.text);
    if (!place || command.kind !== 'car') return;
    if (!place.takes.includes('sighting')) return this.view.warn(t('bad.sighting'));
    const stamp = this.stamps.instant(event);
    this.takeField();
    this.inTurn(async () =>
      this.told(
        'said.sighted',
        place,
        await this.stamps.note(place, command.car, {}, stamp, { source: 'sighting' }),
      ),
    );
  }

  /** Says what was kept, with its doubts. */
  told(word, place, { chain, next }) {
    const { body, doubts: found } = chain.last;
    const point = this.view.pointOf(body.point);
    const lap = place.laps && next ? lapText(next) : '';
    if (place.laps && next && next.index === next.of) this.lapCar = null;
    this.view.kept(
      [t(word, { car: body.car, time: valueShown(body, point && point.precision) }), lap]
        .filter(Boolean)
        .join(', '),
      found.filter((d) => !QUIET.includes(d.flag)).map((d) => doubtText(body.car, d)),
    );
    this.field.clear();
    this.echo();
  }

  blank(event) {
    if (this.desk.place) this.leaveBlank(this.desk.place, this.stamps.instant(event), '');
  }

  leaveBlank(place, stamp, typed) {
    if (typed) this.takeField();
    const blank = this.stamps.blank(place, stamp, typed);
    return this.inTurn(async () => {
      await this.stamps.keepBlank(blank);
      const time = valueShown(blank, place.precision);
      this.view.kept(
        t('said.blank', { no: blank.no, time }),
        typed ? [t('bad.number', { typed, no: blank.no })] : [],
      );
    });
  }

  /** The open blank of that number; 0: the oldest of this place. */
  blankNo(no) {
    const open = this.desk.log.openBlanks().sort((a, b) => a.made - b.made);
    if (no) return open.find((b) => b.no === no);
    return open.find((b) => this.desk.place.points.includes(b.point)) || open[0];
  }

  /** `*`: with one blank open it is that one; with more the field waits for which, or for Enter. */
  give() {
    const { desk, view } = this;
    const command = parseCommand(this.field.text);
    const open = desk.log.openBlanks();
    const picked = view.lines.pickedLine();
    if (command.kind === 'give')
      return void this.giveTo(desk.place, command.car, this.blankNo(command.blank));
    if (command.kind !== 'car') return view.say(t(open.length ? 'give.number' : 'give.none'));
    if (picked && !picked.root && picked.state === 'open')
      return void this.giveTo(desk.place, command.car, picked);
    if (open.length === 0) return view.warn(t('give.none'));
    if (open.length === 1) return void this.giveTo(desk.place, command.car, open[0]);
    this.field.text = command.car + '*';
  }

  giveTo(place, car, blank) {
    if (!blank) return this.view.warn(t('give.unknown'));
    this.takeField();
    this.view.lines.picked = null;
    return this.inTurn(async () => {
      if (blank.state !== 'open') return;
      this.told('said.given', place, await this.stamps.give(place, blank, car));
    });
  }

  undo(event) {
    if (this.field.text.trim()) return this.escape();
    const { desk, view } = this;
    if (!desk.place) return;
    const stamp = this.stamps.instant(event);
    const picked = view.lines.pickedLine();
    this.inTurn(() => {
      const line = picked || desk.log.latest(desk.place.points);
      return line ? this.strike(line, stamp) : view.say(t('said.nothing'));
    });
  }

  async strike(line, stamp) {
    const struck = await this.stamps.strike(line, stamp, {
      struck: t('reason.struck'),
      restored: t('reason.restored'),
    });
    this.view.warn('');
    this.view.say(t(struck ? 'said.struck' : 'said.restored', { car: lineLabel(line) }));
    this.echo();
  }

  onLine(what, line, changes, event) {
    if (what === 'leave') return this.field.focus();
    if (what === 'again') return this.parts.again(line);
    const stamp = this.stamps.instant(event);
    if (what === 'strike') return void this.inTurn(() => this.strike(line, stamp));
    if (!line.root) return void this.giveTo(this.desk.place, changes.car, line);
    const { reason, ...rest } = changes;
    const why =
      reason || t('reason.changed', { what: Object.keys(rest).map(changedWord).join(', ') });
    this.inTurn(async () =>
      this.told('said.corrected', this.desk.place, {
        chain: await this.stamps.correct(line, rest, why, stamp),
      }),
    );
  }

  note() {
    const { desk, view } = this;
    const picked = view.lines.pickedLine();
    const line = picked || (desk.place && desk.log.latest(desk.place.points, (l) => l.root));
    if (line) view.lines.edit(line, 'note');
  }

  pick(step) {
    const line = this.view.lines.lines ? this.view.lines.pick(step) : null;
    if (!line) return;
    const body = line.root ? line.current.body : line;
    this.view.say(
      t('said.picked', {
        car: lineLabel(line),
        state: t('mark.' + lineState(line)),
        time: valueShown(body, (this.view.pointOf(body.point) || {}).precision),
      }),
    );
  }

  escape() {
    const { lines } = this.view;
    if (lines.editing) lines.leave();
    lines.picked = null;
    this.takeField();
    this.view.render();
    this.field.focus();
  }

  help() {
    const help = byId('keys-help');
    help.hidden = !help.hidden;
    byId('help-button').setAttribute('aria-expanded', String(!help.hidden));
    if (!help.hidden) help.scrollIntoView({ block: 'nearest' });
  }

  step(by) {
    const { places, place } = this.desk;
    if (places.length > 1)
      this.go(places[(places.indexOf(place) + by + places.length) % places.length]);
  }

  /** Another place. `aloud`: somebody asked for it. */
  go(place, aloud = true) {
    const { desk, view } = this;
    if (!place) return;
    desk.place = place;
    this.lapCar = null;
    this.counts = {};
    view.lines.picked = null;
    this.showPlace();
    if (!aloud) return;
    this.parts.remember('place', place.id);
    view.warn('');
    view.say(placeName(place));
    this.parts.placed();
    this.field.focus();
  }

  showPlace() {
    if (!this.desk.place) return;
    this.letters = faultLetters(this.desk.place.faults);
    this.view.showPlace();
    this.showMeasures();
    this.showFaults();
    this.files.offerPoints();
    this.files.preview();
    this.echo();
  }

  showMeasures() {
    byId('measures').hidden = !this.choice;
    byId('measures').replaceChildren(
      ...['time', 'elapsed'].map((what) =>
        make(
          'button',
          {
            type: 'button',
            'aria-pressed': String(this.measures === what),
            click: () => this.switchMeasures(what),
          },
          t('measures.' + what),
        ),
      ),
    );
  }

  switchMeasures(what = this.measures === 'time' ? 'elapsed' : 'time') {
    if (!this.choice) return;
    this.desk.place.measures = what;
    this.showMeasures();
    this.echo();
    this.view.say(t('measures.' + what));
    this.field.focus();
  }

  showFaults() {
    const { place } = this.desk;
    if (!place) return;
    byId('faults').hidden = place.faults.length === 0;
    byId('faults').replaceChildren(
      ...Object.entries(this.letters).map(([letter, fault]) => {
        const name = faultName(fault);
        const n = this.counts[fault] || 0;
        const step = (by, label) =>
          make(
            'button',
            {
              type: 'button',
              'aria-label': t(label, { fault: name }),
              click: () => {
                this.fault(fault, by);
                this.field.focus();
              },
            },
            by < 0 ? '−' : '+',
          );
        return make(
          'div',
          { class: 'fault', 'data-fault': fault, 'data-count': n },
          step(-1, 'faults.fewer'),
          make(
            'span',
            {},
            make('b', {}, String(n)),
            ' ' + name + ' ',
            make('kbd', {}, letter.toUpperCase()),
          ),
          step(1, 'faults.more'),
        );
      }),
    );
  }

  fault(fault, by) {
    if (!fault) return;
    this.counts[fault] = Math.max(0, Math.min(99, (this.counts[fault] || 0) + by));
    this.showFaults();
    this.view.say(this.counts[fault] + ' × ' + faultName(fault));
  }

  /** What the number in the field means, before Enter: a slip shows while it can be mended. */
  echo() {
    setText(byId('echo'), this.desk.place ? this.echoText() : '');
  }

  echoText() {
    const { desk } = this;
    const { place } = desk;
    const command = parseCommand(this.field.text, this.measures);
    if (command.kind === 'empty') {
      return place.laps && this.lapCar !== null
        ? t('echo.lap', { car: this.lapCar, lap: this.lapOf(this.lapCar) })
        : '';
    }
    if (command.kind === 'bad')
      return t(command.car ? 'echo.bad' : 'echo.bad.number', { car: command.car });
    const parts = [this.carText(command.car)];
    if (command.kind === 'give') {
      const blank = this.blankNo(command.blank);
      parts.push(
        blank
          ? t('echo.give', { no: blank.no, time: valueShown(blank, place.precision) })
          : t('give.unknown'),
      );
      if (!command.blank) parts.push(t('echo.which'));
    }
    if (command.kind === 'value') {
      parts.push(
        this.measures === 'elapsed'
          ? t('echo.elapsed', { time: durationShown(command.value.text) })
          : t('echo.typed', { time: this.meant(command.value).text }),
      );
    }
    if (this.measures === 'elapsed' && command.kind !== 'value') parts.push(t('echo.open'));
    if (place.laps && command.kind === 'car')
      parts.push(t('echo.next', { lap: this.lapOf(command.car) }));
    return parts.join(', ');
  }

  lapOf(car) {
    return lapText(this.stamps.nextAt(this.desk.place, car));
  }

  carText(car) {
    const { desk, view } = this;
    const entry = desk.cars.get(car);
    if (!entry) {
      const [found] = doubts(
        { car },
        { cars: desk.cars, rows: [], earlier: [], expected: new Map(), clock: [] },
      );
      return doubtText(car, found);
    }
    const here = view.list.find((c) => c.car === car);
    const parts = [car, entry.vehicle];
    if (here && here.due) parts.push(t('echo.due', { due: here.due.replace(/:00$/, '') }));
    if (here) {
      parts.push(
        here.state === 'seen'
          ? t('echo.seen', { time: (here.time || here.elapsed || '').split('.')[0] })
          : t(here.state === 'out' ? 'flag.retired' : 'echo.unseen'),
      );
    }
    return parts.join(', ');
  }

  checksOf(reading) {
    const stamp = { ...this.desk.clock.at(performance.now()) };
    return this.stamps
      .record({ ...reading, source: 'device' }, stamp)
      .doubts.map((d) => doubtText(reading.car, d));
  }

  takeFile(readings, event) {
    const stamp = this.stamps.instant(event);
    return this.inTurn(async () => {
      await this.stamps.fromFile(readings, stamp);
      this.view.kept(t('said.file', { n: readings.length }), []);
    });
  }

  copy() {
    const { desk } = this;
    saveCopy(desk.log.all(), 'readings-' + desk.slug + '-' + desk.id + '.csv');
    this.view.say(t('copy.saved', { n: desk.log.records.size }));
  }

  sheet() {
    const { desk, view } = this;
    if (!desk.place) return;
    const now = desk.clock.at(performance.now()).ms;
    drawSheet({
      event: desk.info.name,
      place: placeName(desk.place),
      lines: desk.log.lines(desk.place.points),
      desk: desk.id,
      by: desk.by(),
      when: instantText(now, desk.info.timezone),
      summary: byId(view.counts.through ? 'summary' : 'count').textContent,
      pointOf: (id) => view.pointOf(id),
    });
    byId('sheet').hidden = false;
  }
}

const lapText = ({ index, of }) =>
  index === 0 ? t('part.start') : t('said.lap', { n: index, of });

const changedWord = (name) =>
  t({ note: 'edit.note', faults: 'files.faults' }[name] || 'log.' + name);

function doubtText(car, doubt) {
  const { flag, near = [], at = '' } = doubt;
  const text = t('doubt.' + flag, { ...doubt, car, at: at.split('.')[0] });
  if (!text.startsWith('doubt.')) return text;
  return (
    car +
    ': ' +
    t('flag.' + flag) +
    (near.length ? ', ' + t('doubt.near', { near: near.join(', ') }) : '')
  );
}
