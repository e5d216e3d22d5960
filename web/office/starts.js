// SPDX-License-Identifier: MIT
// Start lists: made from the event as it stands, looked at, then kept.

import { make } from '../shared/dom.js';
import { Refused } from './api.js';
import { confirmed } from './confirm.js';
import {
  button,
  clearFaults,
  field,
  input,
  para,
  select,
  showRefused,
  summary,
  table,
} from './parts.js';

const ORDERS = [
  ['number', 'By number'],
  ['reversed', 'By number, reversed'],
  ['standings', 'By the standings, the best first'],
  ['standings-reversed', 'By the standings reversed, the best last'],
  ['era', 'By era, the oldest first'],
];

const FEW = 5;

/** "22=00:02:00, C=90" as an object; null where a part cannot be read. */
function pairs(text) {
  const found = {};
  for (const part of text
    .split(/[,;\n]+/)
    .map((one) => one.trim())
    .filter(Boolean)) {
    const pair = /^([A-Za-z0-9-]+)\s*=\s*(\S+)$/.exec(part);
    if (!pair) return null;
    found[pair[1]] = pair[2];
  }
  return found;
}

/** A kept list as the text of a notice, a line for each car. */
const noticeText = (told) =>
  told.starts
    .map((start) => `${start.time}  car ${start.car}  ${start.crew.join(' / ')}, ${start.vehicle}`)
    .join('\n');

export async function showStarts(office, place) {
  const days = select(
    'day',
    office.event.days.map((day) => [String(day.day), `Day ${day.day}, ${day.date}`]),
  );
  const order = select('order', ORDERS);
  const first = input('first', { size: '10' });
  const interval = input('interval', { size: '10' });
  const reverse = input('reverse_first', { size: '5', inputmode: 'numeric' });
  const intervals = input('intervals', { size: '40' });
  const gaps = input('gaps', { size: '40' });
  const late = input('late', { size: '40' });
  const reverseRow = field(
    'How many are reversed',
    reverse,
    'empty: all; those behind them follow by the standings',
  );
  const made = make('div', { 'aria-live': 'polite' });
  const form = make(
    'form',
    { class: 'sheet', novalidate: true },
    field('Day', days),
    field('Order', order),
    reverseRow,
    field('First start', first, 'as 08:01; empty: as in the rules'),
    field('Interval', interval, 'as 00:01:00; empty: as in the rules'),
    field(
      'Other intervals',
      intervals,
      'by class, category or era, such as C=00:02:00, D=00:01:30',
    ),
    field('Gaps', gaps, 'so much more behind a car, such as 40=00:10:00'),
    field('Late starters', late, 'a time or “end” by number, such as 9=end, 12=09:40'),
    para(make('button', {}, 'Show the list')),
  );

  const plan = () => {
    const faults = [];
    const body = { order: order.value };
    if (first.value.trim()) body.first = first.value.trim();
    if (interval.value.trim()) body.interval = interval.value.trim();
    if (order.value === 'standings-reversed' && reverse.value.trim()) {
      if (/^\d+$/.test(reverse.value.trim())) body.reverse_first = Number(reverse.value);
      else faults.push({ text: 'How many are reversed is a number.', control: reverse });
    }
    for (const [name, control] of [
      ['intervals', intervals],
      ['gaps', gaps],
      ['late', late],
    ]) {
      const found = pairs(control.value);
      if (!found) faults.push({ text: 'Write it as in the example below the label.', control });
      else if (Object.keys(found).length) body[name] = found;
    }
    return { body, faults };
  };
  const publish = async (told) => {
    const title = `Start list of day ${told.day}`;
    const text = noticeText(told);
    clearFaults(made);
    if (
      !(await confirmed(
        `Publish it as a notice: ${title}?`,
        [
          make('p', { class: 'typed' }, text),
          para('A notice is sealed and stays as it is; a later list is a further notice.'),
        ],
        'Publish it',
        'Not yet',
      ))
    )
      return;
    try {
      await office.api.post('notices', { kind: 'bulletin', title, text });
      office.say('The start list is published as a notice.');
      made
        .querySelector('#publish')
        .replaceWith(
          make('a', { href: '#notices', id: 'published' }, 'It is published as a notice'),
        );
      made.querySelector('#published').focus();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      showRefused(made, error);
    }
  };
  // What to do stands above the list, which may be long.
  const shown = (told, body) => [
    told.doubts.length
      ? make(
          'details',
          { open: told.doubts.length <= FEW },
          make('summary', {}, `To look at: ${told.doubts.length}`),
          make('ul', {}, ...told.doubts.map((doubt) => make('li', {}, doubt))),
        )
      : '',
    ...(told.saved
      ? [
          para(
            make('strong', {}, 'It is kept, and holds for all due times of that day.'),
            ' ',
            make('a', { href: `/${office.slug}/starts/${told.day}` }, 'Page'),
            ' ',
            make(
              'a',
              { href: `${office.api.base}/paper/starts/${told.day}` },
              'PDF with room for remarks',
            ),
          ),
        ]
      : []),
    make(
      'p',
      { class: 'acts' },
      told.saved
        ? button('Publish it as a notice', () => void publish(told), {
            class: 'strong',
            id: 'publish',
          })
        : button('Keep this list', () => void send({ ...body, save: true }, told.tag), {
            class: 'strong',
            id: 'keep',
          }),
      button('Print it', () => print()),
    ),
    table(
      `Start list of day ${told.day}, ${told.date}`,
      ['#Time', '#Car', 'Crew', 'Vehicle', '#Year', 'Class', 'Remarks'],
      told.starts.map((start) => [
        start.time,
        start.car,
        start.crew.join(' / '),
        start.vehicle,
        start.year,
        start.class,
        '',
      ]),
      { id: 'list' },
    ),
  ];
  // What is kept is what was shown, or nothing: the tag names the list and those that it replaces.
  const send = async (body, tag = null) => {
    clearFaults(form);
    try {
      const told = await office.api.post('starts/' + days.value, body, tag && `"${tag}"`);
      made.replaceChildren(...shown(told, body));
      if (told.saved) office.say('The start list is kept.');
      made.querySelector(told.saved ? '#publish' : '#keep').focus();
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
  place.append(form, made);
  return { refresh: async () => {}, busy: () => true };
}
