// SPDX-License-Identifier: MIT
// The control room: how each point stands, which desks are heard, where the cars are.

import { button, make } from '../shared/dom.js';
import { timeMs, timeOfDay } from '../shared/time.js';
import { decisionPlace, undoing } from './decision-form.js';
import { dayChoices, field, input, routeList, select } from './forms.js';
import { neverBusy, para, table } from './parts.js';

const CLOCKS = { good: 'good', doubtful: 'doubtful', unverified: 'not checked', wrong: 'wrong' };

/** How a desk's clock does. Far out it may be without harm: what it is out by is known and taken off. */
function clockWords({ clock, uncertainty_ms: out, offset_ms: offset, skew_ms: skew }) {
  const sure = clock === 'wrong' || (clock === 'unverified' && !out);
  const parts = [sure ? CLOCKS[clock] : `${CLOCKS[clock]}, ±${out} ms`];
  if (Math.abs(offset) >= 1000) parts.push(`computer out by ${(offset / 1000).toFixed(1)} s`);
  if (skew) parts.push(`keys’ clock by ${skew} ms`);
  return parts.join('; ');
}

const gapText = ([from, to]) => (from === to ? String(from) : `${from}–${to}`);

function ago(iso) {
  const seconds = Math.max(0, Math.round((Date.now() - Date.parse(iso)) / 1000));
  return seconds < 90 ? `${seconds} s ago` : `${Math.round(seconds / 60)} min ago`;
}

function deskWords(desk) {
  const report = desk.report;
  const parts = [];
  if (desk.gaps.length) parts.push('numbers not here: ' + desk.gaps.map(gapText).join(', '));
  if (report && report.unsent) parts.push(`${report.unsent} to send`);
  if (report && report.refused) parts.push(`${report.refused} refused`);
  if (report && report.blanks) parts.push(`${report.blanks} without a car`);
  if (desk.flagged) parts.push(`${desk.flagged} flagged`);
  return parts.join('; ') || 'nothing missing';
}

function desksTable(desks) {
  if (!desks.length) return para('No desk has been heard yet.');
  return table(
    'Desks',
    ['Desk', 'Who', 'Points', '#Readings', 'What waits or is missing', 'Clock', 'Heard'],
    desks.map((desk) => [
      desk.desk,
      desk.by || desk.label || '–',
      desk.points.join(', ') || '–',
      `${desk.taken} of ${desk.last}`,
      deskWords(desk),
      desk.report ? clockWords(desk.report) : 'not told',
      desk.report ? ago(desk.report.received) : '–',
    ]),
    { id: 'desks' },
  );
}

/** What to ask before a point is closed, or opened again by revoking what closed it. */
async function turning(office, point) {
  if (!point.closed) {
    return {
      title: `Close ${point.point}`,
      words: 'From now on a missing reading there is a missed point.',
      reason: 'No further cars are expected.',
      keep: 'Close it',
      next: `Open again ${point.point}`,
      row: () => ({ kind: 'close', point: point.point }),
    };
  }
  const log = await office.api.tagged('decisions');
  const named = log.decisions.find(
    (d) =>
      d.holds &&
      d.kind === 'close' &&
      [point.point, point.item, 'day:' + point.day].includes(d.point),
  );
  const whole = named && named.point !== point.point ? ` (with all of ${named.point})` : '';
  return {
    ...undoing(named || { id: '' }, `Open ${point.point} again${whole}`, `Close ${point.point}`),
    reason: 'Opened again.',
    keep: 'Open it',
  };
}

function pointsTable(office, points, day, decide) {
  const rows = points
    .filter((p) => p.day === day)
    .map((p) => [
      p.point,
      p.name,
      p.expected,
      p.seen,
      p.missing || '',
      p.doubtful || '',
      p.last || '–',
      p.closed ? 'closed' : 'open',
      button(p.closed ? 'Open again' : 'Close', async () => decide.open(await turning(office, p)), {
        'aria-label': `${p.closed ? 'Open again' : 'Close'} ${p.point}`,
      }),
    ]);
  return table(
    `Points of day ${day}`,
    ['Point', 'Name', '#Expected', '#Seen', '#Missing', '#Doubtful', '#Last read', 'Is', 'Do'],
    rows,
    { id: 'points' },
  );
}

/** Cars that are late at their next control by the clock, the latest first. On another day than
 * that of the control nothing can be said. */
function overdue(road, dates, now) {
  return road.cars
    .filter((car) => car.due && car.status === 'running')
    .map((car) => {
      const clock = timeOfDay(now, dates.get(car.next_day), road.timezone);
      return { ...car, late: clock.rehearsal ? 0 : clock.ms - timeMs(car.due) };
    })
    .filter((car) => car.late > 0)
    .sort((a, b) => b.late - a.late);
}

/** What to ask before a car is out. */
function retiring(office, car) {
  const point = input('point', { size: '12', value: car.last || '', list: 'points-of-room' });
  return {
    title: `Car ${car.car} retires`,
    keep: 'Keep the retirement',
    next: `Rejoin car ${car.car}`,
    words:
      'The car is out after this point: it costs what it missed only as the rules say for absent cars.',
    fields: [field('After which point', point, 'where it was seen last; empty: it never started')],
    row: () => ({ kind: 'retire', car: String(car.car), point: point.value.trim() }),
  };
}

/** What to ask before a car is back. */
function rejoining(office, car) {
  const days = office.event.days;
  const next = days.find((day) => day.day > (car.last_day || 0)) || days.at(-1);
  const day = select('day', dayChoices(office), String(next.day));
  return {
    title: `Car ${car.car} rejoins`,
    words: 'The car is back from the start of that day.',
    keep: 'Keep that it rejoins',
    next: `Retire car ${car.car}`,
    fields: [field('From which day', day)],
    row: () => ({ kind: 'rejoin', car: String(car.car), value: day.value }),
  };
}

/** How long ago a car was seen, by the event's clock on the day of that point; null where nothing
 * can be said. */
function unseenMs(car, dates, now, timezone) {
  if (!car.last_time) return null;
  const clock = timeOfDay(now, dates.get(car.last_day), timezone);
  return clock.rehearsal ? null : Math.max(0, clock.ms - timeMs(car.last_time));
}

const agoText = (ms) => (ms === null ? '–' : `${Math.floor(ms / 60000)} min ago`);

/** Cars that are out, with their way back. */
function outTable(office, road, decisions, decide) {
  const out = road.cars.filter((car) =>
    ['retired', 'not-started', 'disqualified'].includes(car.status),
  );
  if (!out.length) return para('No car is out of the event.');
  const kinds = { retired: 'retire', 'not-started': 'retire', disqualified: 'disqualify' };
  return table(
    `${out.length} ${out.length === 1 ? 'car is' : 'cars are'} out`,
    ['Car', 'Is', 'Since', 'Why', 'Do'],
    out.map((car) => {
      const ruling = decisions
        .filter((d) => d.holds && d.car === String(car.car) && d.kind === kinds[car.status])
        .at(-1);
      const word = ruling && ruling.kind === 'disqualify' ? 'disqualification' : 'retirement';
      const acts = [];
      if (car.status !== 'disqualified') {
        acts.push(
          button('Rejoin', () => decide.open(rejoining(office, car)), {
            'aria-label': `Rejoin car ${car.car}`,
          }),
        );
        acts.push(' ');
      }
      if (ruling) {
        acts.push(
          button(
            'Undo',
            () =>
              decide.open(
                undoing(ruling, `Undo the ${word} of car ${car.car}`, `Retire car ${car.car}`),
              ),
            { 'aria-label': `Undo the ${word} of car ${car.car}` },
          ),
        );
      }
      return [
        car.car,
        car.status === 'not-started' && ruling ? 'withdrawn' : car.status.replace('-', ' '),
        ruling ? ruling.point || 'before the start' : '–',
        ruling ? ruling.reason : '–',
        make('span', {}, ...acts),
      ];
    }),
    { id: 'out' },
  );
}

function roadTables(office, road, decisions, dates, now, decide) {
  const late = overdue(road, dates, now);
  const running = road.cars
    .filter((car) => car.status === 'running' || car.status === 'entered')
    .map((car) => ({ ...car, unseen: unseenMs(car, dates, now, road.timezone) }))
    .sort((a, b) => (b.unseen ?? -1) - (a.unseen ?? -1) || a.car - b.car);
  const under = running.filter((car) => car.status === 'running');
  const retire = (car, where) =>
    button('Retire', () => decide.open(retiring(office, car)), {
      'aria-label': `Retire car ${car.car}${where}`,
    });
  return [
    make('h2', {}, 'Late at the next control'),
    para(
      make('strong', {}, 'This list is no safety system. '),
      'It only tells which cars nobody has entered yet. Who looks for a missing car is the clerk of the ' +
        "course, by the event's safety plan.",
    ),
    late.length
      ? table(
          'Cars that are past their due time',
          ['Car', 'Last seen', '#At', 'Next', '#Due', '#Late by', 'Do'],
          late.map((car) => [
            car.car,
            car.last || 'not yet',
            car.last_time || '–',
            car.next,
            car.due,
            `${Math.floor(car.late / 60000)} min`,
            retire(car, ', which is late'),
          ]),
          { id: 'overdue' },
        )
      : para('No car is past its due time by this clock.'),
    make('h2', {}, 'On the road'),
    running.length
      ? table(
          `${under.length} cars under way, ${running.length - under.length} not seen yet; unseen for longest first`,
          ['Car', 'Last seen', '#At', '#Seen', 'Next', '#Due', 'Do'],
          running.map((car) => [
            car.car,
            car.last || 'not yet',
            car.last_time || '–',
            agoText(car.unseen),
            car.next || '–',
            car.due || '–',
            retire(car, ''),
          ]),
          { id: 'road' },
        )
      : para('No car is under way.'),
    make('h2', {}, 'Out of the event'),
    outTable(office, road, decisions, decide),
  ];
}

export async function showControlRoom(office, place) {
  const dates = new Map(office.event.days.map((day) => [day.day, day.date]));
  const days = select('day', dayChoices(office));
  const today = new Date().toISOString().slice(0, 10);
  const running = office.event.days.find((day) => day.date >= today) || office.event.days.at(-1);
  days.value = String(running.day);
  const body = make('div', {});
  const decide = decisionPlace(office, () => refresh());
  const offset = await office.api.get('clock').then(({ ms }) => ms - Date.now());
  const refresh = async (unless = neverBusy) => {
    const [points, desks, road, log] = await Promise.all(
      ['points', 'desks', 'road', 'decisions'].map((name) => office.api.get(name)),
    );
    if (unless()) return;
    const focus = document.activeElement && document.activeElement.getAttribute('aria-label');
    body.replaceChildren(
      pointsTable(office, points.points, Number(days.value), decide),
      make('h2', {}, 'Desks'),
      desksTable(desks.desks),
      ...roadTables(office, road, log.decisions, dates, Date.now() + offset, decide),
    );
    if (focus && body.querySelector(`[aria-label="${CSS.escape(focus)}"]`))
      body.querySelector(`[aria-label="${CSS.escape(focus)}"]`).focus();
  };
  days.addEventListener('change', () => refresh());
  place.append(decide.place, field('Day', days), body, routeList(office, 'points-of-room'));
  await refresh();
  return { refresh, busy: () => false };
}
