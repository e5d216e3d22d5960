// SPDX-License-Identifier: MIT
// Start lists: made from the event as it stands, looked at, then kept.

import { make } from './desk-dom.js';
import { Refused } from './office-api.js';
import { button, clearFaults, field, input, para, select, showRefused, summary, table } from './office-parts.js';

const ORDERS = [
  ['number', 'By number'],
  ['reversed', 'By number, reversed'],
  ['standings', 'By the standings, the best first'],
  ['standings-reversed', 'By the standings reversed, the best last'],
  ['era', 'By era, the oldest first'],
];

/** "22=00:02:00, C=90" as an object; null where a part cannot be read. */
function pairs(text) {
  const found = {};
  for (const part of text.split(/[,;\n]+/).map((one) => one.trim()).filter(Boolean)) {
    const pair = /^([A-Za-z0-9-]+)\s*=\s*(\S+)$/.exec(part);
    if (!pair) return null;
    found[pair[1]] = pair[2];
  }
  return found;
}

export async function showStarts(office, place) {
  const days = select('day', office.event.days.map((day) => [String(day.day), `Day ${day.day}, ${day.date}`]));
  const order = select('order', ORDERS);
  const first = input('first', { size: '10' });
  const interval = input('interval', { size: '10' });
  const reverse = input('reverse_first', { size: '5', inputmode: 'numeric' });
  const intervals = input('intervals', { size: '40' });
  const gaps = input('gaps', { size: '40' });
  const late = input('late', { size: '40' });
  const reverseRow = field('How many are reversed', reverse, 'empty: all; those behind them follow by the standings');
  const made = make('div', { 'aria-live': 'polite' });
  const form = make('form', { class: 'sheet', novalidate: true },
    field('Day', days), field('Order', order), reverseRow,
    field('First start', first, 'as 08:01; empty: as in the rules'),
    field('Interval', interval, 'as 00:01:00; empty: as in the rules'),
    field('Other intervals', intervals, 'by class, category or era, such as C=00:02:00, D=00:01:30'),
    field('Gaps', gaps, 'so much more behind a car, such as 40=00:10:00'),
    field('Late starters', late, 'a time or “end” by number, such as 9=end, 12=09:40'),
    para(make('button', {}, 'Show the list')), made);

  const plan = () => {
    const faults = [];
    const body = { order: order.value };
    if (first.value.trim()) body.first = first.value.trim();
    if (interval.value.trim()) body.interval = interval.value.trim();
    if (order.value === 'standings-reversed' && reverse.value.trim()) {
      if (/^\d+$/.test(reverse.value.trim())) body.reverse_first = Number(reverse.value);
      else faults.push({ text: 'How many are reversed is a number.', control: reverse });
    }
    for (const [name, control] of [['intervals', intervals], ['gaps', gaps], ['late', late]]) {
      const found = pairs(control.value);
      if (!found) faults.push({ text: 'Write it as in the example below the label.', control });
      else if (Object.keys(found).length) body[name] = found;
    }
    return { body, faults };
  };
  const shown = (told, body) => [
    table(`Start list of day ${told.day}, ${told.date}`, ['#Time', '#Car', 'Crew', 'Vehicle', '#Year', 'Class', 'Remarks'],
      told.starts.map((start) => [start.time, start.car, start.crew.join(' / '), start.vehicle, start.year, start.class, '']),
      { id: 'list' }),
    ...told.doubts.map((doubt) => para(doubt)),
    para(told.saved ? make('strong', {}, 'It is kept, and holds for all due times of that day.') :
      button('Keep this list', () => send({ ...body, save: true }), { class: 'strong' }), ' ',
    button('Print it', () => print())),
  ];
  const send = async (body) => {
    clearFaults(form);
    try {
      const told = await office.api.post('starts/' + days.value, body);
      made.replaceChildren(...shown(told, body));
      if (told.saved) office.say('The start list is kept.');
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      showRefused(form, error);
    }
  };
  const change = () => {
    reverseRow.hidden = order.value !== 'standings-reversed';
    made.replaceChildren();
  };
  form.addEventListener('input', change);
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    clearFaults(form);
    const { body, faults } = plan();
    if (!faults.length) {
      send(body);
      return;
    }
    const box = summary(faults);
    form.prepend(box);
    box.focus();
  });
  change();
  place.append(form);
  return { refresh: async () => {}, busy: () => true };
}
