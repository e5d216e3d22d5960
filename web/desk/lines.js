// SPDX-License-Identifier: MIT
// The sheet on the page: a row for each line, newest first, and the row in which one is corrected.

import { faultsText, parseFaults } from './command.js';
import { button, cell, keepRows, make } from '../shared/dom.js';
import { isRefused } from './log.js';
import {
  durationShown,
  nearerToNow,
  parseDuration,
  parseTimeOfDay,
  timeMs,
  timeShown,
  timeText,
} from '../shared/time.js';
import { t } from './words.js';

const WORDS = {
  car: 'log.car',
  time: 'log.time',
  elapsed: 'log.elapsed',
  note: 'edit.note',
  reason: 'edit.reason',
};
const SHOWN = 20; // more lines than the sheet's box holds; the others come as it is scrolled
const DECIMALS = { tenth: 1, hundredth: 2, millisecond: 3 };

/** A line's time or elapsed time as it is shown, cut to the point's precision. */
export function valueShown(body, precision) {
  if (body.elapsed) return durationShown(body.elapsed);
  if (!body.time) return t('line.sighting');
  const [whole, fraction] = body.time.split('.');
  const decimals = DECIMALS[precision] || 0;
  return timeShown(whole) + (fraction && decimals ? '.' + fraction.slice(0, decimals) : '');
}

export const lineState = (line) => {
  if (!line.root && line.last?.state !== 'refused') return line.state === 'open' ? 'blank' : 'void';
  if (isRefused(line)) return 'refused';
  return line.voided ? 'void' : line.last.state;
};

export const lineLabel = (line) =>
  line.root ? String(line.current.body.car ?? '–') : '(' + line.no + ')';

/** The doubts of a line in words, short. */
export function doubtWords(line) {
  const flags = line.root ? (line.current.body.flags || '').split(' ').filter(Boolean) : line.flags;
  return flags.filter((f) => f !== 'note').map((f) => t('flag.' + f));
}

export function faultWords(text) {
  return Object.entries(parseFaults(text || '') || {}).map(
    ([fault, n]) => n + ' × ' + faultName(fault),
  );
}

export const faultName = (fault) => {
  const known = t('fault.' + fault);
  return known.startsWith('fault.') ? fault : known;
};

export class Lines {
  #rows = new Map();
  #form = null; // the row in which a line is corrected
  #laps = new Map(); // by car and number, where the lines are laps
  #shown = SHOWN;
  #newest = null; // the line that stood first

  /** act(what, line, changes, event): 'edit', 'save', 'strike', 'again', 'leave'; 'asks' returns what is
   *  asked before changes are saved, 'beside' is a car that comes meanwhile. pointOf(id) → point;
   *  isHeld(point): its readings wait for a link. mixed: the lines are of several points, which each
   *  row says. */
  constructor(body, { act, pointOf, isHeld, mixed = false }) {
    Object.assign(this, { body, act, pointOf, isHeld, mixed, picked: null, editing: null });
    this.box = body.closest('.scroll');
    this.box.addEventListener('scroll', () => {
      this.#show(this.box.scrollTop ? this.#shown + SHOWN : SHOWN);
    });
  }

  render(lines) {
    this.lines = lines;
    this.#findLaps();
    this.#return();
    keepRows(this.body, this.#rows, lines, {
      keyOf: (line) => line.id,
      signOf: (line) => this.#sign(line),
      draw: (line, row) => this.#draw(line, row),
      extra: this.editing ? { key: this.editing.id, row: this.#form } : null,
    });
    this.#show(this.#shown);
  }

  /** Which lap a body is, 0 for the start; null where there are none. */
  #lapNo(body) {
    const point = this.pointOf(body.point);
    if (point?.kind !== 'consistency') return null;
    return point.part === 'lap' ? point.number : 0;
  }

  #findLaps() {
    this.#laps.clear();
    for (const line of this.lines) {
      const body = line.root && !line.voided ? line.current.body : null;
      const number = body && this.#lapNo(body);
      if (number !== null) this.#laps.set(body.car + ':' + number, body);
    }
  }

  /** The number of a lap, and its time. */
  #lapWords(body) {
    const number = this.#lapNo(body);
    if (number === null || !body.car) return '';
    if (number === 0) return t('part.start');
    const before = this.#laps.get(body.car + ':' + (number - 1));
    const ms = body.time && before?.time ? timeMs(body.time) - timeMs(before.time) : -1;
    const decimals = DECIMALS[this.pointOf(body.point).precision] || 0;
    const time = ms < 0 ? '' : ' ' + durationShown(timeText(ms, decimals));
    return t('part.lap', { n: number }) + time;
  }

  /** Back to the newest line with each that is new, wherever somebody has looked meanwhile. */
  #return() {
    const newest = this.lines[0]?.id;
    if (newest === this.#newest) return;
    const fresh = !this.#rows.has(newest);
    this.#newest = newest;
    if (!fresh || this.editing) return;
    this.#shown = SHOWN;
    this.box.scrollTop = 0;
  }

  /** Lets the newest `count` lines be seen, and what is at hand: a browser lays out and paints even
   *  those far out of sight, and a day has hundreds. */
  #show(count) {
    this.#shown = count;
    this.lines.forEach((line, i) => {
      const far = i >= count && this.picked !== line.id && this.editing !== line;
      const { row } = this.#rows.get(line.id);
      if (row.hidden !== far) row.hidden = far; // setting it again would have it styled anew
    });
  }

  #sign(line) {
    const { body } = line.root ? line.current : { body: line };
    return [
      lineState(line),
      line.last?.state,
      line.last?.refusal,
      this.isHeld(body.point),
      body.id,
      body.car,
      body.time,
      body.flags,
      this.#lapWords(body),
      this.picked === line.id,
      this.editing === line,
      t('line.edit'),
    ].join();
  }

  #draw(line, row) {
    const blank = !line.root;
    const body = blank ? line : line.current.body;
    const state = lineState(line);
    Object.assign(row.dataset, {
      id: blank ? line.id : body.id,
      seq: blank ? '' : line.last.seq,
      state,
      flags: blank ? line.flags.join(' ') : body.flags || '',
      picked: this.picked === line.id,
    });
    const said = [
      this.#lapWords(body),
      this.mixed ? body.point : '',
      ...doubtWords(line),
      ...faultWords(body.faults),
      body.note || line.typed,
      state === 'refused' ? t('line.refused', { why: line.last.refusal }) : '',
    ]
      .filter(Boolean)
      .join('; ');
    // A struck line that is not yet sent has both marks.
    const kept = this.isHeld(body.point) ? 'mark.held' : 'mark.kept';
    const marks = [t(state === 'kept' ? kept : 'mark.' + state)];
    if (state === 'void' && line.last?.state === 'kept') marks.push(t(kept));
    if (state === 'blank' && line.last) {
      marks.push(t(line.last.state === 'kept' ? kept : 'mark.' + line.last.state));
    }
    const label = lineLabel(line);
    row.append(
      make('th', { scope: 'row', class: 'figure' }, label),
      cell(
        make('div', { class: 'figure' }, valueShown(body, this.pointOf(body.point)?.precision)),
        make('span', { class: 'mark' }, marks.join(', ')),
        ' ',
        make('span', { class: 'said' }, said && '· ' + said),
      ),
      make(
        'td',
        { class: 'acts' },
        button(t('line.edit'), () => this.edit(line), {
          'aria-label': t('line.editOne', { car: label }),
          'aria-expanded': String(this.editing === line),
        }),
      ),
    );
  }

  /** Moves the pick by `step` rows; returns the line picked, or null above the first. */
  pick(step) {
    const at = this.lines.findIndex((line) => line.id === this.picked);
    const to =
      at < 0 ? Math.min(0, this.lines.length - 1) : Math.min(this.lines.length - 1, at + step);
    this.picked = to < 0 ? null : this.lines[to].id;
    this.render(this.lines);
    if (to >= 0) this.#rows.get(this.picked).row.scrollIntoView({ block: 'nearest' });
    return this.pickedLine();
  }

  pickedLine() {
    return this.lines.find((line) => line.id === this.picked) || null;
  }

  /** Opens the row for corrections below a line; `part` is the field to begin with. */
  edit(line, part = 'car') {
    if (this.editing === line) return this.leave();
    this.editing = line;
    this.#form = this.#makeForm(line);
    this.render(this.lines);
    this.#form.scrollIntoView({ block: 'nearest' });
    const input =
      this.#form.querySelector('[name=' + part + ']') || this.#form.querySelector('input');
    input.focus();
    input.select();
    this.act('edit', line);
  }

  leave() {
    if (this.#form) this.#form.remove();
    this.editing = this.#form = this.picked = null;
    this.render(this.lines);
    this.act('leave');
  }

  #makeForm(line) {
    const blank = !line.root;
    const body = blank ? line : line.current.body;
    const point = this.pointOf(body.point) || { faults: [], takes: [] };
    const { inputs, fields } = makeFields(blank, body, point);
    const trouble = make('p', { class: 'trouble', role: 'alert' });
    const state = lineState(line);
    let entered = null; // when Enter went down
    const form = make(
      'form',
      {
        class: 'edit',
        novalidate: true,
        submit: (event) => {
          event.preventDefault();
          const { changes, wrong } = readForm(inputs, body, point);
          if (wrong) {
            trouble.textContent = t(wrong === 'car' ? 'edit.wrong.car' : 'bad.' + wrong);
            inputs[wrong].setAttribute('aria-invalid', 'true');
            inputs[wrong].focus();
            return;
          }
          const question = changes && this.act('asks', line, changes, entered || event);
          if (question) {
            trouble.textContent = question;
            return;
          }
          this.leave();
          if (changes) this.act('save', line, changes, event);
        },
        keydown: (event) => {
          if (event.key === 'Enter' && !event.repeat) entered = event;
          if (event.key === 'Escape') {
            event.stopPropagation();
            this.leave();
          }
          // A car comes while another's line is open. In words a plus is one.
          const words = [inputs.note, inputs.reason].includes(event.target);
          if (event.key === '+' && !event.repeat && (!words || event.code === 'NumpadAdd')) {
            event.preventDefault();
            this.act('beside', line, null, event);
          }
        },
      },
      ...fields,
      trouble,
      make(
        'div',
        { class: 'row' },
        make('button', {}, t('edit.save')),
        button(t(state === 'void' ? 'edit.restore' : 'edit.strike'), (event) => {
          this.leave();
          this.act('strike', line, null, event);
        }),
        ...(state === 'refused'
          ? [
              button(t('edit.again'), (event) => {
                this.leave();
                this.act('again', line, null, event);
              }),
            ]
          : []),
        button(t('edit.leave'), () => this.leave()),
      ),
    );
    return make('tr', { class: 'editing' }, make('td', { colspan: 3 }, form));
  }
}

/** The fields of a line's form, {inputs: by name, fields: their labels}. */
function makeFields(blank, body, point) {
  const inputs = {};
  const field = (name, value, attributes = {}) => {
    inputs[name] = make('input', {
      name,
      value: value || '',
      autocomplete: 'off',
      ...attributes,
    });
    return make('label', {}, t(WORDS[name]), inputs[name]);
  };
  const fields = [field('car', blank ? '' : String(body.car), { inputmode: 'numeric', size: 5 })];
  if (!blank) {
    fields.push(
      body.elapsed
        ? field('elapsed', durationShown(body.elapsed), { size: 11 })
        : field('time', body.time, { size: 13 }),
    );
    const faults = parseFaults(body.faults || '') || {};
    for (const fault of point.faults) {
      inputs['fault:' + fault] = make('input', {
        inputmode: 'numeric',
        size: 3,
        value: faults[fault] || 0,
      });
      fields.push(make('label', {}, faultName(fault), inputs['fault:' + fault]));
    }
    fields.push(
      field('note', body.note, { maxlength: 200 }),
      field('reason', '', { maxlength: 200, placeholder: t('edit.reasonHint') }),
    );
  }
  return { inputs, fields };
}

/** A time as typed, of the day on which it is nearest to the one that it corrects. */
function timeNear(typed, old) {
  const read = parseTimeOfDay(typed);
  return read && old ? nearerToNow(read, timeMs(old)) : read;
}

/** {changes, null where there are none; wrong: the field that cannot be read}. */
function readForm(inputs, body, point) {
  const car = Number(inputs.car.value.trim());
  if (!/^\d+$/.test(inputs.car.value.trim()) || car < 1 || car > 9999) return { wrong: 'car' };
  if (!inputs.note) return { changes: { car } };
  const changes = {};
  if (car !== body.car) changes.car = car;
  const value = inputs.time || inputs.elapsed;
  const name = inputs.time ? 'time' : 'elapsed';
  const shown = inputs.time ? timeShown(body.time || '') : durationShown(body.elapsed);
  if (value.value.trim() !== shown) {
    const read = inputs.time ? timeNear(value.value, body.time) : parseDuration(value.value);
    if (!read && (value.value.trim() || !point.takes.includes('sighting'))) return { wrong: name };
    changes[name] = read ? read.text : '';
  }
  const counts = {};
  for (const fault of point.faults)
    counts[fault] = Math.floor(Number(inputs['fault:' + fault].value)) || 0;
  if (
    point.faults.length &&
    faultsText(counts) !== faultsText(parseFaults(body.faults || '') || {})
  ) {
    changes.faults = faultsText(counts);
  }
  const note = plain(inputs.note.value);
  if (note !== (body.note || '')) changes.note = note;
  if (Object.keys(changes).length === 0) return { changes: null };
  return { changes: { ...changes, reason: plain(inputs.reason.value) } };
}

/** A remark without what a spreadsheet would take for a formula. */
function plain(text) {
  return text
    .trim()
    .replace(/^[=+\-@\s]+/, '')
    .replace(/\s+/g, ' ');
}
