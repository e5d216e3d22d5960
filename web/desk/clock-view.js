// SPDX-License-Identifier: MIT
// What the page shows of the clock and of the day, and what a person may answer: which of two times is
// right after a jump, the time on a watch, that today is the point's day after all.

import { badge } from './badge.js';
import { goodEnough } from './clock.js';
import { pressButton } from './field.js';
import { isTrial } from './marks.js';
import { startsOf } from './stations.js';
import { byId, setText } from '../shared/dom.js';
import { instantOf, instantOnWatch, parseTimeOfDay, timeOfDay, timeText } from '../shared/time.js';
import { ageText } from './wording.js';
import { t } from './words.js';

const WATCH_MS = 1000; // how far a person and a watch may be out
const ASK_STEP_MS = 2000; // a smaller jump shows on no watch
const ASK_AFTER_MS = 3000; // with a line the clock is compared by then

export class ClockView {
  /** say(text), warn(text): aloud; back(): the field is to have the focus again. */
  constructor(desk, { say, warn, back }) {
    Object.assign(this, { desk, say, warn, back });
    for (const [id, slept] of [
      ['clock-ran', false],
      ['clock-slept', true],
    ])
      byId(id).addEventListener('click', () => this.#choose(slept));
    addEventListener('keydown', (event) => {
      if (byId('clock-which').hidden || !['F7', 'F8'].includes(event.key)) return;
      event.preventDefault();
      if (!event.repeat) this.#choose(event.key === 'F8');
    });
    const watch = byId('watch');
    watch.addEventListener('keydown', (event) => {
      if (event.key === 'Escape') this.back();
      if (event.key !== 'Enter' || event.repeat) return;
      event.preventDefault();
      this.#watch(event);
    });
    pressButton(byId('watch-set'), (event) => this.#watch(event));
    byId('day-is').addEventListener('click', () => this.#setDay());
  }

  /** Time of day at this station, as timeOfDay() gives it; that of today where no point is known. */
  now(ms = this.desk.clock.at(performance.now()).ms) {
    const { info, station } = this.desk;
    if (!info || !station)
      return { ms: (ms - new Date(ms).getTimezoneOffset() * 60000) % 86400000, rehearsal: false };
    return timeOfDay(ms, this.#date(), info.timezone);
  }

  #date() {
    const { info, station } = this.desk;
    return info.days.find((d) => d.day === station.day).date;
  }

  told(what, ms) {
    if (what === 'jump') this.warn(t('clock.banner.jumped'));
    if (what === 'moved') this.warn(t('clock.moved', { s: (Math.abs(ms) / 1000).toFixed(2) }));
  }

  /** Once a second, and when another station is shown. */
  show() {
    const { clock, station, info } = this.desk;
    if (!clock) return;
    const now = clock.at(performance.now());
    const precision = station ? station.precision : 'second';
    const quality = this.quality(now);
    const out = outText(now.uncertainty);
    const word =
      now.uncertainty === null
        ? 'unverified'
        : now.measured
          ? 'checked'
          : now.told
            ? 'watch'
            : 'kept';
    // Sure enough, as long as nobody has set the machine's clock while the page was closed.
    const kept = quality === 'doubtful' && !now.measured && goodEnough(precision, now.uncertainty);
    badge(
      'badge-clock',
      quality === 'good' ? 'good' : quality === 'wrong' ? 'bad' : 'doubt',
      ...clockWords(
        t(now.jumped ? 'flag.clock-jumped' : 'badge.clock.' + word, { out, age: ageText(now.age) }),
        t(kept ? 'clock.kept' : this.#finger(quality) ? 'clock.finger' : 'clock.' + quality),
      ),
    );
    document.documentElement.dataset.clock = quality;
    const banner = byId('banner-clock');
    banner.hidden = quality === 'good' || kept || !station || !info;
    banner.classList.toggle('bad', now.wrong);
    const asked = this.#ask(now);
    byId('watch-form').hidden = banner.hidden || now.measured || (now.jumped && !asked);
    setText(
      byId('banner-clock-text'),
      asked || t('clock.banner.' + (now.jumped ? 'jumped' : quality), { out }),
    );
  }

  /** As the clock tells it for this station; where what counts is the time between two stamps of this
   *  desk, it is good as soon as it is compared. */
  quality(now = this.desk.clock.at(performance.now())) {
    const { clock, station, info } = this.desk;
    const quality = clock.quality(station ? station.precision : 'second', now);
    const between = quality === 'doubtful' && now.measured && startsOf(info.points, station).length;
    return between ? clock.quality('second', now) : quality;
  }

  /** No finger is worth a hundredth, however good the clock. */
  #finger(quality) {
    const fine = ['hundredth', 'millisecond'].includes(this.desk.station?.precision);
    return quality === 'good' && fine;
  }

  /** After a jump that nothing has put right yet: which of both times is it? Returns the question, ''
   *  where there is none. */
  #ask(now) {
    const { clock, station } = this.desk;
    const asked =
      Boolean(station) &&
      now.jumped &&
      !clock.chosen &&
      Math.abs(clock.step) >= ASK_STEP_MS &&
      now.mono - clock.jumpedAt >= ASK_AFTER_MS;
    const first = byId('clock-which').hidden;
    byId('clock-which').hidden = !asked;
    if (!asked) return '';
    const shown = (ms) => timeText(this.now(ms).ms % 86400000, 0);
    const times = { ran: shown(now.ms), slept: shown(now.ms + clock.step) };
    setText(byId('clock-ran'), times.ran + ' [F7]');
    setText(byId('clock-slept'), times.slept + ' [F8]');
    const question = t('clock.banner.which', times);
    if (first) this.warn(question);
    return question;
  }

  #choose(slept) {
    this.desk.clock.choose(slept);
    this.#settled();
  }

  #watch(event) {
    const { clock, info, instants } = this.desk;
    const mono = instants.of(event);
    const read = parseTimeOfDay(byId('watch').value);
    if (!read) return this.warn(t('bad.time'));
    const { saved, wrong } = clock;
    const known = wrong && saved ? (saved.seen ?? saved.wall) + saved.offset : null;
    const now = clock.at(mono).ms;
    clock.set(
      instantOnWatch(read.ms, { now, known, date: this.#date(), zone: info.timezone }),
      mono,
      WATCH_MS,
    );
    byId('watch').value = '';
    this.#settled();
  }

  /** Only the date was wrong. */
  #setDay() {
    const { clock, info } = this.desk;
    const now = clock.at(performance.now());
    clock.set(instantOf(this.#date(), this.now(now.ms).ms, info.timezone), now.mono, null);
    this.#settled();
  }

  #settled() {
    this.warn('');
    this.say(t('clock.settled', { time: timeText(this.now().ms % 86400000, 0) }));
    this.show();
    this.showDay();
    this.back();
  }

  /** Whether today is another day than the point's, and what is left of rehearsals. */
  showDay() {
    const { log, station, clock } = this.desk;
    if (!station || !clock) return;
    const { measured, wrong } = clock.at(performance.now());
    const { rehearsal } = this.now();
    const n = log.chains.filter(isTrial).length;
    const word = rehearsal ? (measured ? 'day' : 'date') : 'tried';
    byId('banner-day').hidden = wrong || !(rehearsal || n);
    setText(byId('banner-day-text'), t('banner.' + word, { n, day: this.#date() }));
    byId('day-is').hidden = word !== 'date';
    setText(byId('day-is'), t('day.is', { day: this.#date() }));
    byId('throw-away').hidden = !n;
    setText(byId('throw-away'), t('day.throw', { n }));
  }
}

/** How far a clock may be out, in words. */
const outText = (ms) => (ms < 1000 ? Math.ceil(ms) + ' ms' : (ms / 1000).toFixed(1) + ' s');

/** What matters of the clock, and the rest. */
function clockWords(state, enough) {
  const [first, ...rest] = state.split(', ');
  return [first, rest.map((part) => ', ' + part).join('') + ' – ' + enough];
}
