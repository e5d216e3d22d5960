// SPDX-License-Identifier: MIT
// Keys and buttons of the page, and the station that it is at. What they write down is recorder.js's.

import { byId, button, setText } from '../shared/dom.js';
import { showStart } from './countdown.js';
import { echoText } from './echo.js';
import { Recorder } from './recorder.js';
import { Faults } from './faults.js';
import { Field, pressButton } from './field.js';
import { lineLabel, lineState, valueShown } from './lines.js';
import { chooseMeasure, hasChoice, isChosen, showMeasures } from './measures.js';
import { atHand, later } from './later.js';
import { saveCopy } from './readings-csv.js';
import { instantText } from '../shared/time.js';
import { stationName } from './view.js';
import { t } from './words.js';

const ASKED_MS = 10000; // so long a question stands

export class Actions {
  #asked = null; // {what, at, loud}: a question, which the same key answers

  /** parts: kept, trouble, mended (see Stamps), again(line), placed(), remember(name, value), recall(name),
   *  night(). */
  constructor(desk, view, parts) {
    Object.assign(this, { desk, view, parts });
    this.faults = new Faults((words) => {
      view.say(words);
      this.field.focus();
    });
    const { faults } = this;
    this.field = new Field(byId('field'), {
      enter: (event) => this.recorder.enter(event),
      blank: (event) => this.recorder.blank(event),
      give: () => this.recorder.give(),
      undo: (event) => this.#undo(event),
      sighting: (event) => this.recorder.sighting(event),
      station: (step) => this.#step(step),
      pick: (step) => this.#pick(step),
      note: () => this.#note(),
      measures: () => this.#choose(),
      help: () => this.#help(),
      fault: (letter, step) => {
        this.#asked = null;
        faults.press(letter, step);
      },
      escape: () => this.#escape(),
      changed: () => {
        if (this.#asked?.loud) view.warn('');
        this.#asked = null;
        this.#echo();
      },
    });
    this.recorder = new Recorder(desk, view, this.field, {
      faults,
      parts,
      echo: () => this.#echo(),
      sure: (what, words, loud) => this.#sure(what, words, loud),
    });
    view.startLines((what, line, changes, event) => {
      if (what === 'asks') return this.recorder.asksOf(line, changes, event);
      if (what === 'leave') this.field.focus();
      if (what === 'leave' || what === 'edit') this.#echo();
      else if (what === 'beside') this.recorder.beside(event);
      else if (what === 'again') parts.again(line);
      else this.recorder.ofLine(what, line, changes, event);
    });
    this.#buttons();
  }

  /** Keys that do the same wherever the focus is. */
  #everywhere(event) {
    const act = { F1: () => this.#help(), F9: () => this.parts.night() }[event.key];
    if (!act || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    if (event.repeat) return;
    act();
    this.back();
  }

  #buttons() {
    addEventListener('keydown', (event) => this.#everywhere(event));
    const pressed = (id, act) =>
      pressButton(byId(id), (event) => {
        act(event);
        this.field.focus();
      });
    pressed('stamp', (event) => this.recorder.enter(event, 'pad'));
    pressed('blank', (event) => this.recorder.blank(event));
    pressed('give', () => this.recorder.give());
    pressed('undo', (event) => this.#undo(event));
    pressed('throw-away', (event) => this.recorder.throwAway(event));
    pressed('help-button', () => this.#help());
    pressed('save-copy', () => this.#copy());
    pressed('print-sheet', () =>
      this.#withLater(() => {
        this.sheet();
        print();
      }),
    );
    byId('files').addEventListener('toggle', () => this.#openFiles());
    byId('points').addEventListener('change', (event) => {
      const station = this.desk.stations.find((p) => p.id === event.target.value);
      // Choosing from the list is no slip of a key; but nobody sees there what was counted.
      if (!this.faults.any() || this.#sure(station.id, this.#stepWords(station))) this.go(station);
      else event.target.value = this.desk.station.id;
      this.field.focus();
    });
    // A telephone has 1 above, a keyboard 7.
    const touch = matchMedia('(pointer: coarse)').matches;
    const [high, low] = touch ? ['123⌫', '789.'] : ['789⌫', '123.'];
    byId('digits').append(
      ...[...high, ...'456:', ...low, ...'␣0/'].map((key) => {
        const made = button(key, null, { class: key === '0' && 'zero' });
        pressButton(made, (event) => this.#padKey(key, event));
        return made;
      }),
    );
    // On a touch screen the pad is the keyboard.
    if (touch) byId('field').setAttribute('inputmode', 'none');
  }

  #padKey(key, event) {
    const { text } = this.field;
    if (key === '⌫') this.field.text = text.slice(0, -1);
    else if (key === '␣') this.field.text = text.trim() ? text + ' ' : text;
    else if (key === '/') text.trim() ? this.recorder.sighting(event) : this.#step(1);
    else this.field.text = text + key;
    this.field.focus();
  }

  /** Asks, and is true where the same was asked just before and nothing was done since. */
  #sure(what, words, loud = false) {
    const at = performance.now();
    const sure = this.#asked?.what === what && at - this.#asked.at < ASKED_MS;
    this.#asked = sure ? null : { what, at, loud };
    if (!sure && loud) this.view.warn(words);
    else if (!sure) this.view.say(words);
    return sure;
  }

  #undo(event) {
    if (this.field.text.trim()) return this.#escape();
    const line = this.recorder.undone();
    if (!line) return this.view.say(t('said.nothing'));
    const struck = lineState(line) === 'void';
    const words = t(struck ? 'ask.restore' : 'ask.strike', {
      car: lineLabel(line),
      time: this.#timeOf(line),
    });
    if (this.#sure(line.id + struck, words)) this.recorder.undo(line, event);
  }

  #timeOf(line) {
    const body = line.root ? line.current.body : line;
    return valueShown(body, this.view.pointOf(body.point)?.precision);
  }

  #note() {
    const { desk, view } = this;
    const picked = view.lines.pickedLine();
    const line = picked || (desk.station && desk.log.latest(desk.station.points, (l) => l.root));
    if (line) view.lines.edit(line, 'note');
  }

  #pick(step) {
    const line = this.view.lines.lines ? this.view.lines.pick(step) : null;
    if (!line) return;
    this.view.say(
      t('said.picked', {
        car: lineLabel(line),
        state: t('mark.' + lineState(line)),
        time: this.#timeOf(line),
      }),
    );
  }

  /** The line that is changed is left, or the number goes, or the faults that were counted. */
  #escape() {
    const { lines } = this.view;
    if (this.#closeHelp()) return;
    if (lines.editing) lines.leave();
    else if (this.field.text.trim() || lines.picked !== null) this.field.text = '';
    else if (this.faults.any()) {
      const faults = this.faults.words();
      this.faults.take();
      this.view.say(t('said.faultsCleared', { faults }));
    }
    lines.picked = null;
    this.view.render();
    this.field.focus();
  }

  /** Does what needs the second script, at once where it is here; says so where it cannot be had. */
  async #withLater(act) {
    let seldom = atHand();
    try {
      seldom ||= await later();
    } catch {
      return this.view.warn(t('later.failed'));
    }
    return act(seldom);
  }

  #openFiles() {
    if (this.files) return;
    return this.#withLater(({ Files }) => {
      this.files ||= new Files(this.desk, {
        checks: (reading) => this.recorder.checksOf(reading),
        take: (readings, event) => this.recorder.takeFile(readings, event),
      });
    });
  }

  /** Opens the help, or closes it. */
  #help() {
    if (this.#closeHelp()) return;
    return this.#withLater(() => {
      byId('keys-help').hidden = false;
      byId('help-button').setAttribute('aria-expanded', 'true');
      this.#drawHelp();
      scrollTo(0, 0);
    });
  }

  #drawHelp() {
    const { station, stations } = this.desk;
    const help = byId('keys-help');
    if (!help.hidden)
      atHand().drawHelp(help, station, stations.length > 1, () => {
        this.#closeHelp();
        this.back();
      });
  }

  /** Whether it was open. */
  #closeHelp() {
    const help = byId('keys-help');
    const open = !help.hidden;
    help.hidden = true;
    byId('help-button').setAttribute('aria-expanded', 'false');
    return open;
  }

  /** To the number, and what stands about it in sight. */
  back() {
    this.field.focus();
    byId('field').scrollIntoView({ block: 'nearest' });
  }

  #step(by) {
    const { stations, station } = this.desk;
    if (stations.length < 2) return;
    const next = stations[(stations.indexOf(station) + by + stations.length) % stations.length];
    // Where something was written down, a slip of the key would put the next car elsewhere.
    const safe = !this.faults.any() && this.desk.log.lines(station.points).length === 0;
    if (safe || this.#sure(next.id, this.#stepWords(next))) this.go(next);
  }

  #stepWords(next) {
    const words = t('ask.station', { station: stationName(next) });
    return this.faults.any()
      ? t('ask.faults', { faults: this.faults.words() }) + ' ' + words
      : words;
  }

  /** Another station. `aloud`: somebody asked for it. */
  go(station, aloud = true) {
    const { desk, view } = this;
    if (!station) return;
    desk.station = station;
    this.#asked = null;
    this.recorder.lapCar = null;
    view.lines.picked = null;
    this.showStation();
    if (!aloud) return;
    view.warn('');
    view.say(stationName(station));
    this.parts.placed();
    this.field.focus();
  }

  showStation() {
    const { station } = this.desk;
    if (!station) return;
    this.view.showStation();
    this.#showMeasures();
    this.#showStart();
    // Faults are made on the way, and counted at its end.
    this.faults.offer(station.part === 'start' ? { ...station, faults: [] } : station);
    this.files?.showStation();
    this.#drawHelp();
    this.#echo();
  }

  #measureName({ item }) {
    return 'measure-' + this.desk.slug + '-' + item;
  }

  #showMeasures() {
    const { station } = this.desk;
    const kept = isChosen(station) ? null : this.parts.recall(this.#measureName(station));
    if (kept) chooseMeasure(station, kept);
    showMeasures(this.desk.station, (measure) => this.#choose(measure));
  }

  /** What is written down from now on; the other of both where none is named. */
  #choose(measure = this.recorder.measure === 'time' ? 'elapsed' : 'time') {
    const { station } = this.desk;
    if (!hasChoice(station)) return;
    chooseMeasure(station, measure);
    this.parts.remember(this.#measureName(station), measure);
    this.view.warn('');
    this.#asked = null;
    this.#showMeasures();
    this.#echo();
    this.view.say(t('measures.' + measure));
    this.field.focus();
  }

  /** Once a second: what depends on the time of day. */
  second() {
    this.#showStart();
    if (this.field.text.trim()) this.#echo();
  }

  #showStart() {
    const { desk, view } = this;
    if (desk.clock) showStart(desk.station, view.list, view.now());
  }

  #echo() {
    const line = this.view.lines?.editing;
    byId('field').toggleAttribute('data-away', Boolean(line));
    if (line) return setText(byId('echo'), t('edit.open', { car: lineLabel(line) }));
    setText(byId('echo'), this.desk.station ? echoText(this.recorder, this.view.list) : '');
  }

  #copy() {
    const { desk } = this;
    saveCopy(desk.log.all(), 'readings-' + desk.slug + '-' + desk.id + '.csv');
    this.view.say(t('copy.saved', { n: desk.log.records.size }));
  }

  /** Makes readings of blanks that have none yet. */
  async keepBlanks() {
    const { stamps } = this.recorder;
    for (const blank of this.desk.log.openBlanks()) if (!blank.last) await stamps.keepBlank(blank);
  }

  /** Before the browser prints. */
  sheet() {
    const { desk, view } = this;
    if (!desk.station || !atHand()) return;
    const now = desk.clock.at(performance.now()).ms;
    atHand().drawSheet({
      event: desk.info.name,
      station: stationName(desk.station),
      lines: desk.log.lines(desk.station.points),
      earlier: (line) => (line.root ? desk.log.earlier(line) : []),
      desk: desk.id,
      by: desk.by(),
      when: instantText(now, desk.info.timezone).slice(0, 16).replace('T', ' '),
      summary: byId(view.counts.through ? 'summary' : 'count').textContent,
      pointOf: (id) => view.pointOf(id),
    });
    byId('sheet').hidden = false;
  }
}
