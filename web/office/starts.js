// SPDX-License-Identifier: MIT
// Start lists: made from the event as it stands, looked at, then kept.

import { button, make } from '../shared/dom.js';
import { confirmed } from './confirm.js';
import {
  clearFaults,
  dayChoices,
  field,
  input,
  onSubmit,
  select,
  showFaults,
  tryAct,
} from './forms.js';
import { para, table } from './parts.js';
import { noticeText, planOf } from './start-plan.js';

const ORDERS = [
  ['number', 'By number'],
  ['reversed', 'By number, reversed'],
  ['standings', 'By the standings, the best first'],
  ['standings-reversed', 'By the standings reversed, the best last'],
  ['era', 'By era, the oldest first'],
];

const FEW = 5;

/** Posts a kept list as a notice, after it was seen; `made` is where the list stands. */
async function publish(office, made, list) {
  const title = `Start list of day ${list.day}`;
  const text = noticeText(list);
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
  await tryAct(made, async () => {
    await office.api.post('notices', { kind: 'bulletin', title, text });
    office.say('The start list is published as a notice.');
    made
      .querySelector('#publish')
      .replaceWith(make('a', { href: '#notices', id: 'published' }, 'It is published as a notice'));
    made.querySelector('#published').focus();
  });
}

const listTable = (list) =>
  table(
    `Start list of day ${list.day}, ${list.date}`,
    ['#Time', '#Car', 'Crew', 'Vehicle', '#Year', 'Class', 'Remarks'],
    list.starts.map((start) => [
      start.time,
      start.car,
      start.crew.join(' / '),
      start.vehicle,
      start.year,
      start.class,
      '',
    ]),
    { id: 'list' },
  );

/** A list and what to do with it, which stands above, for a list may be long.
 *   acts  {publish, keep}: what the buttons do */
const listParts = (office, list, { publish: post, keep }) => [
  list.doubts.length
    ? make(
        'details',
        { open: list.doubts.length <= FEW },
        make('summary', {}, `To look at: ${list.doubts.length}`),
        make('ul', {}, ...list.doubts.map((doubt) => make('li', {}, doubt))),
      )
    : '',
  ...(list.saved
    ? [
        para(
          make('strong', {}, 'It is kept, and holds for all due times of that day.'),
          ' ',
          make('a', { href: `/${office.slug}/starts/${list.day}` }, 'Page'),
          ' ',
          make(
            'a',
            { href: `${office.api.base}/paper/starts/${list.day}` },
            'PDF with room for remarks',
          ),
        ),
      ]
    : []),
  make(
    'p',
    { class: 'acts' },
    list.saved
      ? button('Publish it as a notice', post, {
          class: 'strong',
          id: 'publish',
        })
      : button('Keep this list', keep, {
          class: 'strong',
          id: 'keep',
        }),
    button('Print it', () => print()),
  ),
  listTable(list),
];

/** The fields of the form, by their names in the plan, and its rows. */
function planFields(office) {
  const fields = {
    days: select('day', dayChoices(office)),
    order: select('order', ORDERS),
    first: input('first', { size: '10' }),
    interval: input('interval', { size: '10' }),
    reverse: input('reverse_first', { size: '5', inputmode: 'numeric' }),
    intervals: input('intervals', { size: '40' }),
    gaps: input('gaps', { size: '40' }),
    late: input('late', { size: '40' }),
  };
  const reverseRow = field(
    'How many are reversed',
    fields.reverse,
    'empty: all; those behind them follow by the standings',
  );
  const rows = [
    field('Day', fields.days),
    field('Order', fields.order),
    reverseRow,
    field('First start', fields.first, 'as 08:01; empty: as in the rules'),
    field('Interval', fields.interval, 'as 00:01:00; empty: as in the rules'),
    field(
      'Other intervals',
      fields.intervals,
      'by class, category or era, such as C=00:02:00, D=00:01:30',
    ),
    field('Gaps', fields.gaps, 'so much more behind a car, such as 40=00:10:00'),
    field('Late starters', fields.late, 'a time or “end” by number, such as 9=end, 12=09:40'),
  ];
  return { fields, rows, reverseRow };
}

export async function showStarts(office, place) {
  const { fields, rows, reverseRow } = planFields(office);
  const made = make('div', { 'aria-live': 'polite' });
  const form = make(
    'form',
    { class: 'sheet', novalidate: true },
    ...rows,
    para(make('button', {}, 'Show the list')),
  );
  // What is kept is what was shown, or nothing: the tag names the list and those that it replaces.
  const send = async (body, tag = null) => {
    clearFaults(form);
    await tryAct(form, async () => {
      const list = await office.api.post('starts/' + fields.days.value, body, tag && `"${tag}"`);
      const acts = {
        publish: () => void publish(office, made, list),
        keep: () => void send({ ...body, save: true }, list.tag),
      };
      made.replaceChildren(...listParts(office, list, acts));
      if (list.saved) office.say('The start list is kept.');
      made.querySelector(list.saved ? '#publish' : '#keep').focus();
    });
  };
  const change = () => {
    reverseRow.hidden = fields.order.value !== 'standings-reversed';
    made.replaceChildren();
  };
  form.addEventListener('input', change);
  onSubmit(form, async () => {
    const { body, faults } = planOf(fields);
    if (!showFaults(form, faults)) await send(body);
  });
  change();
  place.append(form, made);
  return { refresh: async () => {}, busy: () => true };
}
