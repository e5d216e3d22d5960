// SPDX-License-Identifier: MIT
// The route: its items in order, and one of them in a form that shows what applies to its kind.

import { button, make } from '../../shared/dom.js';
import { field, select } from '../forms.js';
import { para, table } from '../parts.js';
import { exampleBox } from './example.js';
import { fields, ruleList } from './form.js';
import { ownRules } from './own-rules.js';
import { SORTS } from './sorts.js';
import { KINDS, penaltySpecs, ruleWords } from './words.js';
import { variantsPart, withLines } from './variants.js';

const REVEAL = {
  key: 'reveal',
  label: 'Shown to the public',
  sort: 'choice',
  choices: [
    ['at-once', 'at once'],
    ['closed', 'once it is closed'],
  ],
};
const MEASURED = {
  key: 'measured',
  label: 'Measured from',
  sort: 'choice',
  choices: [
    ['start', 'the start'],
    ['previous', 'the point before'],
  ],
};
const START = [
  {
    key: 'start',
    label: 'Its start',
    sort: 'choice',
    none: 'is read (default)',
    again: true,
    choices: [
      ['reading', 'is read'],
      ['control', 'follows from the control before'],
    ],
  },
  {
    key: 'start_after',
    label: 'Start after the control',
    hint: 'as 00:05:00; with a start that follows from the control',
  },
];
const FINISH = [
  {
    key: 'finish',
    label: 'Its end on the road',
    sort: 'choice',
    none: 'no control (default)',
    again: true,
    choices: [['control', 'a control: lateness is carried on']],
  },
  {
    key: 'target',
    label: 'Time allowed to its end',
    hint: 'since the control before, as 00:40:00; with an end that is a control',
  },
];
const TEST_CAP = {
  key: 'test_cap',
  label: 'The whole test, at most',
  sort: 'number',
  hint: 'points; empty: no limit',
};
const COUNTS_OF_ATTEMPTS = {
  key: 'counts',
  label: 'Of the attempts',
  sort: 'choice',
  none: 'the best counts (default)',
  choices: [
    ['best', 'the best counts'],
    ['last', 'the last that was completed counts'],
    ['sum', 'all are added up'],
    ['ties', 'the best counts, for ties only'],
  ],
};
const COUNTS = {
  key: 'counts',
  label: 'Counts',
  sort: 'choice',
  none: 'in the totals (default)',
  choices: [['ties', 'for ties only']],
};
const FAULTS = {
  key: 'faults',
  label: 'Faults',
  sort: 'table',
  size: '40',
  hint: 'name and worth, as cone 5, board 1 fail, wrong-way missed; beside every cap',
};

/** What an item has besides what all have. */
const SPECS = {
  'time-control': [
    {
      key: 'target',
      label: 'Time allowed',
      hint: 'since the control before, or the start, as 00:45:00',
    },
    { key: 'halt', label: 'Halt', hint: 'a rest here, as 01:00:00' },
    {
      key: 'main',
      label: 'Main control',
      sort: 'flag',
      none: 'no (default)',
      yes: 'yes: lateness is cleared after it',
      no: 'no',
    },
    {
      key: 'shortest',
      label: 'Shortest time',
      hint: 'since leaving the control before; less is early, as 00:06:00',
    },
    {
      key: 'early_from',
      label: 'Early against',
      sort: 'choice',
      none: 'the schedule (default)',
      choices: [['due', 'the due time: no time may be made up']],
    },
    FAULTS,
  ],
  'passage-control': [FAULTS, { ...REVEAL, none: 'at once (default)' }],
  regularity: [
    { ...MEASURED, none: 'the start (default)' },
    ...START,
    {
      key: 'ideals',
      label: 'Ideal times',
      sort: 'choice',
      none: 'rounded, half up (default)',
      choices: [['down', 'taken down']],
    },
    FAULTS,
    ...FINISH,
    TEST_CAP,
    COUNTS,
    { ...REVEAL, none: 'once it is closed (default)' },
  ],
  'set-time': [
    {
      key: 'targets',
      label: 'Target of each pad',
      sort: 'pads',
      size: '40',
      again: true,
      hint: 'with commas, as 11.70, 9.00',
    },
    { ...MEASURED, none: 'the pad before (default)', again: true },
    ...START,
    {
      key: 'lost',
      label: 'A pad that was not read',
      sort: 'choice',
      none: 'is missed alone (default)',
      choices: [['next-too', 'loses the next one too']],
    },
    FAULTS,
    ...FINISH,
    TEST_CAP,
    COUNTS,
    { ...REVEAL, none: 'at once (default)' },
  ],
  'special-test': [
    {
      key: 'method',
      label: 'Charged',
      sort: 'choice',
      none: 'the whole time (default)',
      again: true,
      choices: [
        ['elapsed', 'the whole time'],
        ['over-bogey', 'the time over the bogey'],
        ['behind-best', 'the time behind the best'],
      ],
    },
    {
      key: 'scope',
      label: 'The best of',
      sort: 'choice',
      none: 'all (default)',
      choices: [
        ['overall', 'all'],
        ['class', 'the class'],
      ],
    },
    { key: 'bogey', label: 'Bogey', hint: 'a faster time counts as this, as 00:01:10' },
    {
      key: 'maximum',
      label: 'Maximum',
      sort: 'maximum',
      again: true,
      size: '24',
      hint: 'a slower time counts as this; or “best of class + 00:00:30”, of overall, class or category',
    },
    {
      key: 'best',
      label: 'The best is the best',
      sort: 'choice',
      none: 'time (default)',
      choices: [
        ['time', 'time'],
        ['faultless', 'time without faults'],
        ['result', 'of time and faults together'],
      ],
    },
    {
      key: 'attempts',
      label: 'Attempts',
      sort: 'number',
      size: '4',
      again: true,
      hint: 'from 2 to 5; empty: one',
    },
    COUNTS_OF_ATTEMPTS,
    {
      ...FAULTS,
      hint: 'name and worth, as cone 5, board 1 fail, wrong-way missed, wrong-route maximum',
    },
    ...FINISH,
    TEST_CAP,
    { ...REVEAL, none: 'at once (default)' },
  ],
  consistency: [
    { key: 'laps', label: 'Laps', sort: 'number', size: '4' },
    {
      key: 'reference',
      label: 'Against',
      sort: 'choice',
      none: 'the first lap (default)',
      choices: [
        ['first', 'the first lap'],
        ['mean', 'the mean of the laps'],
        ['nominated', 'a nominated time'],
      ],
    },
    FAULTS,
    TEST_CAP,
    COUNTS,
    { ...REVEAL, none: 'at once (default)' },
  ],
};

const BLANKS = {
  'time-control': { target: '00:30:00' },
  'passage-control': {},
  regularity: { speeds: [{ from: 0, speed: 40 }], checks: [{ at: 5 }] },
  'set-time': { targets: ['12.00'] },
  'special-test': {},
  consistency: { laps: 3 },
};
const LETTERS = {
  'time-control': 'TC',
  'passage-control': 'PC',
  regularity: 'R',
  'set-time': 'T',
  'special-test': 'S',
  consistency: 'L',
};

function freeId(route, letters) {
  const taken = new Set(route.map((item) => item.id));
  let n = 1;
  while (taken.has(letters + n)) n++;
  return letters + n;
}

const maximumWords = (maximum) =>
  maximum.best ? `best of ${maximum.best} + ${maximum.plus}` : maximum;

/** What an item asks, in a few words for the list. */
function inShort(item, unit) {
  const speed = unit === 'mi' ? 'mph' : 'km/h';
  switch (item.kind) {
    case 'time-control':
      return `${item.target ?? '?'} allowed${item.halt ? `, halt ${item.halt}` : ''}${item.main ? ', main' : ''}`;
    case 'regularity':
      return `${(item.checks || []).length} checks at ${(item.speeds || []).map((one) => one.speed).join(', ') || '?'} ${speed}`;
    case 'set-time':
      return SORTS.pads.show(item.targets || []) + ' s';
    case 'special-test':
      return [
        item.attempts && `${item.attempts} attempts`,
        item.bogey && `bogey ${item.bogey}`,
        item.maximum && `maximum ${maximumWords(item.maximum)}`,
      ]
        .filter(Boolean)
        .join(', ');
    case 'consistency':
      return `${item.laps ?? '?'} laps`;
    default:
      return '';
  }
}

const seeksBest = (item) => item.method === 'behind-best' || item.maximum?.best !== undefined;

/** The kind's own fields, as far as they apply as the item stands. */
const applying = (item) =>
  (SPECS[item.kind] || []).filter(
    ({ key }) =>
      (key !== 'start_after' || item.start === 'control' || item.start_after !== undefined) &&
      (key !== 'target' ||
        item.kind === 'time-control' ||
        item.finish === 'control' ||
        item.target !== undefined) &&
      (key !== 'lost' || item.measured !== 'start' || item.lost !== undefined) &&
      (key !== 'scope' || item.method === 'behind-best' || item.scope !== undefined) &&
      (key !== 'best' || seeksBest(item) || item.best !== undefined) &&
      (item.kind !== 'special-test' ||
        key !== 'counts' ||
        item.attempts !== undefined ||
        item.counts !== undefined),
  );

function itemForm(whole, i, redraw, office, boxes) {
  const base = `route[${i}]`;
  const draft = withLines(whole, base);
  const item = draft.get(base);
  const kind = KINDS[item.kind];
  const example = exampleBox(office, boxes.textOf, () => draft.get(`${base}.id`));
  boxes.watch(example);
  example.draw();
  const unit = draft.get('unit') === 'mi' ? 'miles' : 'km';
  const speed = draft.get('unit') === 'mi' ? 'mph' : 'km/h';
  const part = (key, options) => ruleList(draft, `${base}.${key}`, options, redraw);
  const penalty = make(
    'details',
    { open: item.penalty !== undefined },
    make('summary', {}, 'What this item charges otherwise than its kind'),
    para(
      `Empty: as for every ${kind ? kind.name.toLowerCase() : 'item'}: ` +
        ruleWords(draft.get(`scoring.defaults.${item.kind}`) || {}, item.kind),
    ),
    fields(draft, `${base}.penalty`, penaltySpecs(item.kind, 'as for its kind'), redraw),
  );
  return make(
    'fieldset',
    { id: 'item', 'data-path': base },
    make(
      'legend',
      { tabindex: '-1' },
      `${kind ? kind.name : item.kind} ${item.id || 'without an id'}`,
    ),
    para(kind ? kind.about : ''),
    fields(
      draft,
      base,
      [
        { key: 'id', label: 'Id', size: '8', hint: 'A-Z a-z 0-9 -' },
        { key: 'name', label: 'Name', size: '28' },
        { key: 'day', label: 'Day', sort: 'number', size: '4' },
        {
          key: 'distance',
          label: `Distance, ${unit}`,
          sort: 'number',
          size: '8',
          hint: 'from the time control before; speeds are checked by it',
        },
        ...applying(item),
      ],
      redraw,
    ),
    ...(item.kind === 'regularity'
      ? [
          make('h4', {}, 'Speeds'),
          part('speeds', {
            one: 'speed',
            name: (one) => `From ${one.from ?? '?'} ${unit}`,
            specs: [
              { key: 'from', label: `From, ${unit}`, sort: 'number', size: '8' },
              { key: 'speed', label: `Speed, ${speed}`, sort: 'number', size: '8' },
            ],
            blank: (list) => ({ from: '', speed: list.at(-1)?.speed ?? '' }),
          }),
          make('h4', {}, 'Checks'),
          part('checks', {
            one: 'check',
            least: 1,
            name: (one, n) => `Check ${n + 1}`,
            specs: [
              { key: 'at', label: `At, ${unit}`, sort: 'number', size: '8' },
              { key: 'ideal', label: 'Ideal time', hint: 'from the start, in place of the speeds' },
            ],
            blank: () => ({ at: '' }),
          }),
        ]
      : []),
    penalty,
    ...ownRules(draft, base, item, redraw),
    variantsPart(whole, base, item, applying(item), redraw),
    make('h4', {}, 'What it costs'),
    example.box,
  );
}

/** All items; acts: {open(i), move(i, by), remove(i)}. */
const routeTable = (draft, route, acts) =>
  table(
    `${route.length} items, in the order in which they are driven`,
    ['Id', 'Kind', 'Name', '#Day', '#Distance', 'Asks', 'Do'],
    route.map((item, i) => [
      item.id,
      KINDS[item.kind]?.name ?? String(item.kind),
      item.name ?? '',
      item.day,
      item.distance ?? '',
      inShort(item, draft.get('unit')),
      make(
        'span',
        { class: 'acts' },
        button('Change', () => acts.open(i), {
          'aria-label': `Change ${item.id}`,
          'data-path': `route[${i}]`,
        }),
        i > 0 ? button('Up', () => acts.move(i, -1), { 'aria-label': `Up with ${item.id}` }) : '',
        i < route.length - 1
          ? button('Down', () => acts.move(i, 1), { 'aria-label': `Down with ${item.id}` })
          : '',
        route.length > 1
          ? button('Remove', () => acts.remove(i), { 'aria-label': `Remove ${item.id}` })
          : '',
      ),
    ]),
    { id: 'route' },
  );

export function routePage(draft, redraw, office, boxes, shown) {
  const route = draft.get('route') || [];
  const put = (next, focus) => {
    draft.set('route', next);
    redraw(focus);
  };
  const move = (i, by) => {
    const next = [...route];
    next.splice(i + by, 0, ...next.splice(i, 1));
    shown.item = shown.item === i ? i + by : null;
    put(next, `route[${i + by}]`);
  };
  const acts = {
    move,
    open(i) {
      shown.item = i;
      redraw(`route[${i}]`);
    },
    remove(i) {
      shown.item = null;
      put(
        route.filter((_, at) => at !== i),
        'route',
      );
    },
  };
  const kind = select(
    'kind',
    Object.entries(KINDS).map(([key, { name }]) => [key, name]),
    'time-control',
  );
  const add = () => {
    // Behind the item that is open, else at the end.
    const at = shown.item === null ? route.length : shown.item + 1;
    const item = {
      day: route[at - 1]?.day ?? 1,
      id: freeId(route, LETTERS[kind.value]),
      kind: kind.value,
      ...structuredClone(BLANKS[kind.value]),
    };
    shown.item = at;
    put([...route.slice(0, at), item, ...route.slice(at)], `route[${at}]`);
  };
  const open = shown.item !== null && route[shown.item];
  return [
    ...(open
      ? [
          itemForm(draft, shown.item, redraw, office, boxes),
          para(
            button('Back to the route', () => {
              const i = shown.item;
              shown.item = null;
              redraw(`route[${i}]`);
            }),
          ),
        ]
      : [make('div', { 'data-path': 'route' }, routeTable(draft, route, acts))]),
    field('A further item', kind, open ? `behind ${route[shown.item].id}` : 'at the end'),
    para(button('Add it', add)),
  ];
}
