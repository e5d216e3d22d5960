// SPDX-License-Identifier: MIT
// The control room: how each point stands, which desks are heard, where the cars are.

import { make } from './desk-dom.js';
import { timeMs, timeOfDay } from './desk-time.js';
import { button, field, para, select, table } from './office-parts.js';

const CLOCKS = { good: 'good', doubtful: 'doubtful', unverified: 'not checked' };

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
  return table('Desks', ['Desk', 'Who', 'Points', '#Readings', 'What waits or is missing', 'Clock', 'Heard'],
    desks.map((desk) => [desk.desk, desk.by || desk.label || '–', desk.points.join(', ') || '–',
      `${desk.taken} of ${desk.last}`, deskWords(desk),
      desk.report ? `${CLOCKS[desk.report.clock]}, ±${desk.report.uncertainty_ms} ms` : 'not told',
      desk.report ? ago(desk.report.received) : '–']), { id: 'desks' });
}

/** Closes a point, or opens it again by revoking what closed it. */
async function turn(office, point, redraw) {
  const log = await office.api.tagged('decisions');
  const closing = log.decisions.filter((d) => d.holds && d.kind === 'close');
  const named = closing.filter((d) => d.point === point.point || d.point === point.item ||
    d.point === 'day:' + point.day);
  const decision = !point.closed ?
    { kind: 'close', point: point.point, reason: 'No further cars are expected.' } :
    { kind: 'revoke', value: named.length ? named[0].id : '', reason: 'Opened again.' };
  const whole = named.length && named[0].point !== point.point ? ` (with all of ${named[0].point})` : '';
  const words = point.closed ? `Open ${point.point} again${whole}` : `Close ${point.point}`;
  const why = prompt(`${words}. Why?`, decision.reason);
  if (!why || !why.trim()) return;
  const told = await office.api.post('decisions', [{ ...decision, reason: why.trim(),
    at: new Date().toISOString(), by: office.by() }], log.tag);
  if (told.refused.length) office.warn(told.refused[0].reason);
  else office.say(`${words}: done.`);
  await redraw();
}

function pointsTable(office, points, day, redraw) {
  const rows = points.filter((p) => p.day === day).map((p) => [p.point, p.name, p.expected, p.seen,
    p.missing || '', p.doubtful || '', p.last || '–', p.closed ? 'closed' : 'open',
    button(p.closed ? 'Open again' : 'Close', () => turn(office, p, redraw),
      { 'aria-label': `${p.closed ? 'Open again' : 'Close'} ${p.point}` })]);
  return table(`Points of day ${day}`, ['Point', 'Name', '#Expected', '#Seen', '#Missing', '#Doubtful',
    '#Last read', 'Is', 'Do'], rows, { id: 'points' });
}

/** Cars that are late at their next control by the clock, the latest first. On another day than
 * that of the control nothing can be said. */
function overdue(road, dates, now) {
  return road.cars.filter((car) => car.due && car.status === 'running').map((car) => {
    const clock = timeOfDay(now, dates.get(car.next_day), road.timezone);
    return { ...car, late: clock.rehearsal ? 0 : clock.ms - timeMs(car.due) };
  }).filter((car) => car.late > 0).sort((a, b) => b.late - a.late);
}

function roadTables(road, dates, now) {
  const late = overdue(road, dates, now);
  const running = road.cars.filter((car) => car.status === 'running');
  return [
    make('h2', {}, 'Late at the next control'),
    para(make('strong', {}, 'This list is no safety system. '),
      'It only tells which cars nobody has entered yet. Who looks for a missing car is the clerk of the course, by the event\'s safety plan.'),
    late.length ? table('Cars that are past their due time', ['Car', 'Last seen', '#At', 'Next', '#Due', '#Late by'],
      late.map((car) => [car.car, car.last || 'not yet', car.last_time || '–', car.next, car.due,
        `${Math.floor(car.late / 60000)} min`]), { id: 'overdue' }) :
      para('No car is past its due time by this clock.'),
    make('h2', {}, 'On the road'),
    running.length ? table(`${running.length} cars under way`, ['Car', 'Last seen', '#At', 'Next', '#Due'],
      running.map((car) => [car.car, car.last || 'not yet', car.last_time || '–', car.next || '–',
        car.due || '–']), { id: 'road' }) : para('No car is under way.'),
  ];
}

export async function showRoom(office, place) {
  const dates = new Map(office.event.days.map((day) => [day.day, day.date]));
  const days = select('day', office.event.days.map((day) => [String(day.day), `Day ${day.day}, ${day.date}`]));
  const today = new Date().toISOString().slice(0, 10);
  const running = office.event.days.find((day) => day.date >= today) || office.event.days.at(-1);
  days.value = String(running.day);
  const body = make('div', {});
  const offset = await office.api.get('clock').then((told) => told.ms - Date.now());
  const refresh = async () => {
    const [points, desks, road] = await Promise.all(
      ['points', 'desks', 'road'].map((name) => office.api.get(name)));
    const focus = document.activeElement && document.activeElement.getAttribute('aria-label');
    body.replaceChildren(
      pointsTable(office, points.points, Number(days.value), refresh),
      make('h2', {}, 'Desks'), desksTable(desks.desks),
      ...roadTables(road, dates, Date.now() + offset));
    if (focus && body.querySelector(`[aria-label="${CSS.escape(focus)}"]`))
      body.querySelector(`[aria-label="${CSS.escape(focus)}"]`).focus();
  };
  days.addEventListener('change', refresh);
  place.append(field('Day', days), body);
  await refresh();
  return { refresh, busy: () => false };
}
