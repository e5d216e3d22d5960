// SPDX-License-Identifier: MIT
// The event itself, its days, its classes and its prizes.

import { make } from '../../shared/dom.js';
import { para } from '../parts.js';
import { fields, ruleList } from './form.js';

/** The day after a date, where it is one. */
function dayAfter(date) {
  const ms = Date.parse(date + 'T00:00:00Z');
  return Number.isNaN(ms) ? '' : new Date(ms + 86400000).toISOString().slice(0, 10);
}

export function eventPage(draft, redraw) {
  return [
    fields(draft, '', [
      { key: 'name', label: 'Name', size: '40' },
      {
        key: 'slug',
        label: 'Address',
        size: '24',
        hint: 'a-z 0-9 -; stays as it is once the event is served',
      },
      { key: 'timezone', label: 'Time zone', size: '24', hint: 'such as Atlantic/Azores' },
      {
        key: 'unit',
        label: 'Distances and speeds',
        sort: 'choice',
        choices: [
          ['km', 'kilometres, km/h'],
          ['mi', 'miles, mph'],
        ],
      },
    ]),
    make('h3', {}, 'Days'),
    para(
      'A car starts at the first start and one interval for each number before it. ' +
        'Start times that were set in the start lists go before this.',
    ),
    ruleList(
      draft,
      'days',
      {
        one: 'day',
        least: 1,
        name: (day, i) => `Day ${i + 1}`,
        specs: [
          { key: 'date', label: 'Date', hint: 'as 2027-05-20' },
          { key: 'first_start', label: 'First start', hint: 'as 08:01' },
          { key: 'interval', label: 'Between two cars', hint: 'as 00:01:00' },
          {
            key: 'order',
            label: 'Order',
            sort: 'choice',
            none: 'by number, gaps kept',
            choices: [
              ['number', 'by number, gaps kept'],
              ['sequence', 'by number, no gaps'],
            ],
          },
        ],
        blank: (list) => ({ ...list.at(-1), date: list.length ? dayAfter(list.at(-1).date) : '' }),
      },
      redraw,
    ),
  ];
}

/** Whether cars count overall. */
const OVERALL = {
  key: 'overall',
  label: 'Overall',
  sort: 'flag',
  none: 'its cars count (default)',
  yes: 'its cars count',
  no: 'not overall nor in teams',
};

const periodsPart = (draft, redraw) => [
  make('h3', {}, 'Periods'),
  para(
    'Years are inclusive; the first may leave out “from”, the last “to”. A car outside every period is refused.',
  ),
  ruleList(
    draft,
    'classes.periods',
    {
      one: 'period',
      // Of a scheme that has periods of its own, all can be taken out again.
      least: draft.get('classes.scheme') === 'custom' ? 1 : 0,
      name: (period) => `Period ${period.id || 'without an id'}`,
      specs: [
        { key: 'id', label: 'Id', size: '6' },
        { key: 'name', label: 'Name', size: '24' },
        { key: 'from', label: 'From', sort: 'number', size: '6' },
        { key: 'to', label: 'To', sort: 'number', size: '6' },
        OVERALL,
      ],
      blank: () => ({ id: '' }),
    },
    redraw,
  ),
];

const capacityPart = (draft, redraw) => [
  make('h3', {}, 'Capacity classes'),
  para('Upper bounds in cc, inclusive; the last one is open.'),
  ruleList(
    draft,
    'classes.capacity',
    {
      one: 'capacity class',
      name: (one) => `Capacity ${one.id || 'without an id'}`,
      specs: [
        { key: 'id', label: 'Id', size: '6' },
        { key: 'to', label: 'Up to, cc', sort: 'number', size: '8' },
      ],
      blank: (list) => ({ id: String(list.length + 1) }),
    },
    redraw,
  ),
];

const categoriesPart = (draft, redraw) => [
  make('h3', {}, 'Categories'),
  para('Entries name one of these in the column “category”.'),
  ruleList(
    draft,
    'classes.categories',
    {
      one: 'category',
      name: (one) => `Category ${one.id || 'without an id'}`,
      specs: [
        { key: 'id', label: 'Id', size: '12' },
        { key: 'name', label: 'Name', size: '24' },
        OVERALL,
        {
          key: 'classes',
          label: 'Classes',
          sort: 'flag',
          none: 'its cars count (default)',
          yes: 'its cars count',
          no: 'no place in a class, no prize of one',
        },
      ],
      blank: () => ({ id: '' }),
    },
    redraw,
  ),
];

const groupsPart = (draft, redraw) => [
  make('h3', {}, 'Groups'),
  para(
    'Such as ladies, novices, or who drives the lower averages. A car may be in several: entries ' +
      'name them in the column “groups”, parted by “;”.',
  ),
  ruleList(
    draft,
    'classes.groups',
    {
      one: 'group',
      name: (one) => `Group ${one.id || 'without an id'}`,
      specs: [
        { key: 'id', label: 'Id', size: '12' },
        { key: 'name', label: 'Name', size: '24' },
      ],
      blank: () => ({ id: '' }),
    },
    redraw,
  ),
];

export function classesPage(draft, redraw) {
  const scheme = draft.get('classes.scheme');
  return [
    para(
      'A car’s class is the period of its year of build, and the capacity class where there are any: D, or D-1.',
    ),
    fields(
      draft,
      'classes',
      [
        {
          key: 'scheme',
          label: 'Classes by age',
          sort: 'choice',
          again: true,
          choices: [
            ['fiva', 'FIVA: A to 1904, B 1918, C 1930, D 1945, E 1960, F 1970, G later'],
            ['appendix-k', 'Appendix K: A to 1904 … J2 to 1990'],
            ['custom', 'our own periods'],
          ],
        },
        ...(scheme === 'appendix-k' || draft.get('classes.edition') !== undefined
          ? [
              {
                key: 'edition',
                label: 'Edition',
                sort: 'number',
                hint: '2025: J1 to 1987, J2 to 1992; empty: the older table',
              },
            ]
          : []),
        {
          key: 'supercharged_factor',
          label: 'Supercharged engines count',
          sort: 'number',
          hint: 'times their capacity, such as 1.4; empty: as they are',
        },
      ],
      redraw,
    ),
    ...(scheme === 'custom' || draft.get('classes.periods') !== undefined
      ? periodsPart(draft, redraw)
      : []),
    ...capacityPart(draft, redraw),
    ...categoriesPart(draft, redraw),
    ...groupsPart(draft, redraw),
  ];
}

export function awardsPage(draft, redraw) {
  return [
    para('The first prize is the greatest. They are read out from the last to the first.'),
    ruleList(
      draft,
      'awards',
      {
        one: 'prize',
        name: (one) => one.name || `Prize ${one.id || 'without an id'}`,
        specs: [
          { key: 'id', label: 'Id', size: '10' },
          { key: 'name', label: 'Name', size: '24' },
          {
            key: 'by',
            label: 'By the standings',
            sort: 'choice',
            choices: [
              ['overall', 'overall'],
              ['class', 'of a class'],
              ['category', 'of a category'],
              ['group', 'of a group'],
              ['day', 'of a day'],
              ['test', 'of a test'],
              ['team', 'of teams'],
              ['country', 'of those from a country'],
              ['club', 'of a club’s cars'],
              ['make', 'of a make’s cars'],
            ],
          },
          {
            key: 'of',
            label: 'Of which',
            sort: 'number',
            hint: 'class, category, group, test, day, country …; empty: one for each',
          },
          {
            key: 'among',
            label: 'Among',
            sort: 'cars',
            hint: 'such as group ladies, or category touring, sport; empty: all',
          },
          { key: 'places', label: 'Places', sort: 'number', size: '4', hint: 'empty: 1' },
          {
            key: 'within',
            label: 'Or all within',
            sort: 'number',
            size: '6',
            hint: 'a penalty: who is placed with at most that and no fails takes it',
          },
          {
            key: 'once',
            label: 'Who took an earlier one',
            sort: 'flag',
            none: 'may take it too (default)',
            yes: 'is passed over',
            no: 'may take it too',
          },
        ],
        blank: (list) => ({ id: `prize-${list.length + 1}`, name: '', by: 'overall' }),
      },
      redraw,
    ),
  ];
}
