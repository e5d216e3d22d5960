// SPDX-License-Identifier: MIT
// The fields of timing, totals and ranking: what `fields` takes for each part.

import { TESTS } from './words.js';

const KINDS_HINT = `of ${TESTS.join(', ')}, with commas; empty: all`;

const COEFFICIENT_KINDS_HINT =
  `of time-control, passage-control, ${TESTS.join(', ')}, with commas; ` +
  'or all: these and absence; empty: all tests';

export const TIMING = [
  {
    key: 'timing',
    label: 'Timing',
    sort: 'choice',
    none: 'target (default)',
    choices: [
      ['target', 'target: from the control before'],
      ['scheduled', 'scheduled: by the schedule, lateness carried'],
    ],
  },
  {
    key: 'max_lateness',
    label: 'Greatest lateness',
    hint: 'as 00:30:00: later than scheduled by more is missed; empty: no limit',
  },
  {
    key: 'max_lateness_holds',
    label: 'Beyond it',
    sort: 'flag',
    none: 'that control is missed (default)',
    yes: 'all is missed until the car is within it again',
    no: 'that control is missed',
  },
  {
    key: 'lateness',
    label: 'Lateness',
    sort: 'choice',
    none: 'against the schedule (default)',
    choices: [['cumulative', 'adds up in target timing; making up time does not reduce it']],
  },
  {
    key: 'shown',
    label: 'Penalties are shown',
    sort: 'choice',
    none: 'as points (default)',
    choices: [
      ['points', 'as points: 131.000'],
      ['time', 'as time, a point a second: 0:02:11'],
    ],
  },
  {
    key: 'protest_period',
    label: 'Protest period',
    hint: 'after the provisional classification, as 00:30:00',
  },
  {
    key: 'absent_day_cap',
    label: 'Absence, at most a day',
    sort: 'number',
    hint: 'points for all missed points of a day; empty: no limit',
  },
  {
    key: 'day_cap',
    label: 'A day, at most',
    sort: 'number',
    hint: 'points for all items and absence of a day, before any coefficient; empty: no limit',
  },
];

/** Of a coefficient as it stands; undefined: there is none, and nothing more to ask. */
export const coefficientSpecs = (coefficient) => [
  {
    key: 'by',
    label: 'By',
    sort: 'choice',
    again: true,
    whole: true,
    none: 'no coefficient',
    choices: [
      ['year', 'year of build'],
      ['class', 'class'],
      ['category', 'category'],
      ['entry', 'the car: column coefficient of the entry list'],
    ],
  },
  ...(coefficient === undefined
    ? []
    : [
        ...(coefficient.by === 'class' ||
        coefficient.by === 'category' ||
        coefficient.table !== undefined
          ? [
              {
                key: 'table',
                label: 'Figures',
                sort: 'table',
                size: '32',
                hint:
                  coefficient.by === 'class'
                    ? 'period and figure, as D 1.05, E 1.10; not named: 1'
                    : 'category and figure, as sports 1.15; not named: 1',
              },
            ]
          : []),
        {
          key: 'apply',
          label: 'On',
          sort: 'choice',
          none: 'the total (default)',
          choices: [
            ['total', 'the total'],
            ['test', 'each test'],
          ],
        },
        { key: 'kinds', label: 'Kinds', sort: 'kinds', size: '32', hint: COEFFICIENT_KINDS_HINT },
        {
          key: 'round',
          label: 'Rounded to',
          sort: 'choice',
          none: 'the thousandth (default)',
          choices: [
            ['none', 'the thousandth'],
            ['whole', 'a whole point'],
          ],
        },
        {
          key: 'standings',
          label: 'In',
          sort: 'choice',
          none: 'all standings (default)',
          choices: [
            ['all', 'all standings'],
            ['overall', 'the overall standings only'],
          ],
        },
      ]),
];

/** Of the tests that are dropped; undefined: none are. */
export const dropSpecs = (drop) => [
  {
    key: 'count',
    label: 'How many',
    sort: 'number',
    size: '4',
    again: true,
    whole: true,
    hint: 'empty: none',
  },
  ...(drop === undefined
    ? []
    : [
        { key: 'kinds', label: 'Kinds of test', sort: 'words', size: '32', hint: KINDS_HINT },
        {
          key: 'when',
          label: 'Dropped',
          sort: 'choice',
          none: 'at the end (default)',
          choices: [
            ['end', 'once all of them are closed'],
            ['always', 'always'],
          ],
        },
        {
          key: 'each',
          label: 'Of',
          sort: 'choice',
          none: 'the event (default)',
          choices: [
            ['event', 'the event'],
            ['day', 'each day: so many of it'],
          ],
        },
      ]),
];

export const TIES = [
  {
    key: 'ties',
    label: 'Ties',
    sort: 'words',
    size: '60',
    hint:
      'of most-clean, furthest-clean, older-car, smaller-engine, first-difference, count-back, ' +
      'older-driver, younger-driver, test:ID, time:ID, with commas',
  },
];

export const FINISHER = [
  { key: 'share', label: 'Share to be read', hint: 'as 2/3; empty: none' },
  {
    key: 'of',
    label: 'Of',
    sort: 'choice',
    none: 'time and passage controls (default)',
    choices: [
      ['controls', 'time and passage controls'],
      ['tests', 'the scored points of tests'],
      ['all', 'both'],
    ],
  },
  {
    key: 'last_point',
    label: 'The last time control',
    sort: 'flag',
    none: 'need not be read (default)',
    yes: 'must be read',
    no: 'need not be read',
  },
];

export const TEAMS = [
  {
    key: 'count',
    label: 'Cars that count',
    sort: 'number',
    size: '4',
    whole: true,
    hint: 'empty: no teams',
  },
  {
    key: 'by',
    label: 'A team is',
    sort: 'choice',
    none: 'who names the same team (default)',
    choices: [
      ['team', 'who names the same team'],
      ['club', 'the cars of a club'],
    ],
  },
];
