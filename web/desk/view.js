// SPDX-License-Identifier: MIT
// What the page shows, and what it reads aloud. Aloud: what was done, doubts, storage that fails,
// the link lost and back. Never the clock, never digits while they are typed.

import { ClockView } from './clock-view.js';
import { badge } from './badge.js';
import { byId, make, setText } from '../shared/dom.js';
import { countExpected, mergeExpected } from './expected.js';
import { Lines } from './lines.js';
import { ExpectedTable } from './expected-table.js';
import { idle } from './idle.js';
import { soundStored, soundWarning } from './sound.js';
import { timeShown, timeText } from '../shared/time.js';
import { ageText } from './wording.js';
import { t } from './words.js';

const REDRAW_MS = 20000; // of the list of expected cars, by the clock alone
const NAMED = 12; // cars that are missing; of more the rest is counted
const HINTS = 3; // how often a stamp is announced together with the key that undoes it

export class View {
  #hints = 0; // given so far
  #back = false; // the link came back, and not all is sent yet
  #sent = 0; // since then
  #refused = 0;
  #said = ''; // what was said last, without the network's state
  #summary = ''; // as it was shown last
  #turn = -1; // in which the list was drawn last, in REDRAW_MS
  #later = null; // a drawing of the list that waits for idle()

  constructor(desk) {
    this.desk = desk;
    this.expected = new ExpectedTable(byId('expected'));
    this.list = [];
    this.counts = null;
    this.clock = new ClockView(desk, {
      say: (text) => this.say(text),
      warn: (text) => this.warn(text),
      back: () => byId('field').focus({ preventScroll: true }),
    });
    this.#watchBanners();
  }

  /** What the notices say stands in one line too, where they are out of sight. */
  #watchBanners() {
    const show = () => {
      const all = [...byId('banners').children].filter((banner) => !banner.hidden);
      const text = all.map((banner) => (banner.querySelector('p, span') || banner).textContent);
      setText(byId('notice'), text.length ? '▼ ' + text.join(' · ') : '');
    };
    const how = { subtree: true, childList: true, attributeFilter: ['hidden'] };
    new MutationObserver(show).observe(byId('banners'), how);
    show();
  }

  /** act: see Lines. */
  startLines(act) {
    const { isHeld } = this.desk;
    const parts = { act, pointOf: (id) => this.pointOf(id), isHeld };
    this.lines = new Lines(byId('log'), parts);
    this.others = new Lines(byId('log-others'), { ...parts, mixed: true });
  }

  /** A point of this tab's link, or of an earlier one. */
  pointOf(id) {
    return this.desk.places.get(id);
  }

  say(text) {
    this.#said = text;
    setText(byId('say'), text);
  }

  /** What has become of the network stands behind what was said, which may be of a car just stamped. */
  #sayOf(network) {
    setText(byId('say'), [this.#said, network].filter(Boolean).join('. '));
  }

  warn(text) {
    setText(byId('warn'), text);
  }

  /** After a reading was kept: the words, and the doubts if there are any. */
  kept(text, doubts) {
    this.say(this.#hints++ < HINTS ? text + ', ' + t('said.undoHint') : text);
    this.warn(doubts.join('. '));
    if (doubts.length) soundWarning();
    else soundStored();
  }

  linkLost(before) {
    if (before) this.#sayOf(t('link.lostSaid'));
  }

  linkBack(before, unsent) {
    if (before !== false) return;
    this.#back = unsent > 0;
    if (!unsent) this.#sayOf(t('link.backSaid'));
  }

  sent(n, refused) {
    if (!this.#back) return;
    this.#sent += n;
    this.#refused += refused;
    if (this.desk.log.tally().unsent > 0) return;
    const word = this.#refused ? 'link.backRefused' : 'link.backSent';
    this.#sayOf(t(word, { n: this.#sent, refused: this.#refused }));
    this.#back = false;
    this.#sent = this.#refused = 0;
  }

  /** Time of day at this station: see ClockView. */
  now() {
    return this.clock.now();
  }

  /** Shows the time; returns its milliseconds, so that the next second comes when it is due. */
  showTime() {
    const { ms } = this.now();
    setText(byId('clock'), timeShown(timeText(ms, 0)));
    return ms;
  }

  /** Once a second. */
  tick() {
    this.clock.show();
    const turn = Math.floor(performance.now() / REDRAW_MS);
    if (turn === this.#turn) return;
    this.#turn = turn;
    this.clock.showDay();
    this.#renderExpected();
  }

  /** Everything that readings and the server's answers change. */
  render() {
    const { desk } = this;
    this.#badges();
    this.clock.showDay();
    if (!desk.station) return;
    this.lines.render(desk.log.lines(desk.station.points));
    byId('log-none').hidden = this.lines.lines.length > 0;
    const waits = (point) => desk.isHeld(point) || desk.linkGood() === false;
    this.others.render(desk.log.elsewhere(desk.station.points, waits));
    byId('others').hidden = this.others.lines.length === 0;
    this.#renderExpected();
  }

  #badges() {
    const { desk } = this;
    const { unsent, refused } = desk.log.tally();
    const blanks = desk.log.openBlanks().length;
    const good = desk.linkGood();
    const parts = [];
    if (unsent) parts.push(t('badge.unsent', { n: unsent }));
    else if (!refused) parts.push(t('badge.sent'));
    if (refused) parts.push(t('badge.refused', { n: refused }));
    if (blanks) parts.push(t('badge.blanks', { n: blanks }));
    badge('badge-outbox', refused ? 'bad' : unsent || blanks ? 'doubt' : 'good', parts.join(', '));
    if (desk.keyGone) badge('badge-link', 'bad', t('badge.key'));
    else if (good === null) badge('badge-link', 'doubt', t('badge.trying'));
    else badge('badge-link', good ? 'good' : 'doubt', t(good ? 'badge.link' : 'badge.nolink'));
  }

  #renderExpected() {
    const { desk } = this;
    if (!desk.station || !desk.clock) return;
    const copy = (this.copy = desk.copies.get(desk.station.points.at(-1)) || null);
    const first = desk.copies.get(desk.station.points[0]);
    // The list is known at once, for the echo of the next number; its table can wait.
    this.list = mergeExpected(copy, desk.log, desk.station.points);
    if (first && first !== copy) {
      const dues = new Map(first.cars.map((car) => [car.car, car.due]));
      this.list = this.list.map((car) => ({ ...car, due: dues.get(car.car) ?? car.due }));
    }
    if (this.#later) return;
    this.#later = idle().then(() => {
      this.#later = null;
      this.#showExpected();
    });
  }

  #showExpected() {
    const { copy } = this;
    const now = this.now();
    this.expected.render(this.list, this.desk.cars, now.rehearsal ? null : now.ms);
    const counts = (this.counts = countExpected(this.list));
    setText(
      byId('count'),
      copy
        ? t('next.count', { seen: counts.seen, total: counts.total - counts.out, out: counts.out })
        : t('next.nolist'),
    );
    const summary = byId('summary');
    summary.hidden = !counts.through;
    summary.toggleAttribute('data-missing', counts.missing.length > 0);
    const text = counts.through ? this.#summaryText() : '';
    setText(summary, text);
    if (text && text !== this.#summary && !this.#summary) this.say(text);
    this.#summary = text;
    setText(
      byId('next-age'),
      copy
        ? t('next.age', {
            age: ageText(Math.max(0, Math.round((Date.now() - copy.fetched) / 1000))),
          })
        : '',
    );
  }

  #summaryText() {
    const { seen, total, out, missing, sent } = this.counts;
    return t(missing.length ? 'summary.missing' : 'summary.all', {
      seen,
      total: total - out,
      out,
      sent,
      missing:
        missing.slice(0, NAMED).join(', ') +
        (missing.length > NAMED ? ' ' + t('summary.more', { n: missing.length - NAMED }) : ''),
    });
  }

  /** The switcher and what goes with the station. */
  offerStations() {
    const { desk } = this;
    const choice = desk.stations.length > 1;
    byId('switch').hidden = !choice;
    byId('place-name').classList.toggle('quiet', choice);
    byId('points').replaceChildren(
      ...desk.stations.map((station) =>
        make(
          'option',
          { value: station.id },
          stationName(station) + (station.open === false ? ' – ' + t('closed') : ''),
        ),
      ),
    );
  }

  showStation() {
    const { desk } = this;
    const { station, info } = desk;
    if (!station) return;
    byId('points').value = station.id;
    setText(byId('place-name'), stationName(station));
    document.title = stationName(station) + ' – ' + info.name;
    this.#summary = '';
    this.showTime();
    this.clock.show();
    this.render();
    if (this.desk.clock) this.#showExpected();
  }

  /** Everything again, in a new language. */
  words() {
    if (this.desk.info) this.offerStations();
  }
}

export function stationName(station) {
  const plain = station.part === 'arrival' || station.part === 'passage';
  const part = plain
    ? ''
    : t(station.laps ? 'part.laps' : 'part.' + station.part, { n: station.number });
  const attempt = station.kind === 'special-test' && station.number > 0;
  const named = attempt ? t('part.attempt', { part, n: station.number }) : part;
  return [station.id, station.name, named].filter(Boolean).join(' · ');
}
