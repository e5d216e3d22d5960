// SPDX-License-Identifier: MIT
// How the event is scored: timing, totals and ranking; and what each kind of item charges.

import { make } from '../../shared/dom.js';
import { para } from '../parts.js';
import { exampleBox } from './example.js';
import { fields } from './form.js';
import { KINDS, TESTS, penaltySpecs, ruleWords } from './words.js';

const KINDS_HINT = `of ${TESTS.join(', ')}, with commas; empty: all`;

export function scoringPage(draft, redraw) {
  const coefficient = draft.get('scoring.coefficient');
  const drop = draft.get('scoring.drop_worst');
  const part = (title, words, base, specs) => [
    make('h3', {}, title),
    para(words),
    fields(draft, base, specs, redraw),
  ];
  return [
    ...part(
      'Time controls',
      'In target timing a car is due its allowed time after it left the control before. In scheduled timing it is due by the ' +
        'schedule and the lateness that it carries; early against the schedule, late against the due time.',
      'scoring',
      [
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
      ],
    ),
    ...part(
      'Coefficient',
      'Multiplies the tests of a car by its age: 1 and a hundredth for each year after 1900 (1934: 1.34), or a figure of its class.',
      'scoring.coefficient',
      [
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
          ],
        },
        ...(coefficient === undefined
          ? []
          : [
              ...(coefficient.by === 'class'
                ? [
                    {
                      key: 'table',
                      label: 'Figures',
                      sort: 'table',
                      size: '32',
                      hint: 'period and figure, as D 1.05, E 1.10; not named: 1',
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
              { key: 'kinds', label: 'Kinds of test', sort: 'words', size: '32', hint: KINDS_HINT },
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
      ],
    ),
    ...part(
      'Worst tests dropped',
      'The costliest tests of each car do not count; of equal ones the earlier is dropped. A test with fails is kept.',
      'scoring.drop_worst',
      [
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
      ],
    ),
    ...part(
      'Ties and finishers',
      'Equal cars are told apart by these, one after the other; still equal, they share the place.',
      'scoring',
      [
        {
          key: 'ties',
          label: 'Ties',
          sort: 'words',
          size: '60',
          hint: 'of most-clean, furthest-clean, older-car, smaller-engine, first-difference, test:ID, with commas',
        },
      ],
    ),
    fields(
      draft,
      'scoring.finisher',
      [
        { key: 'share', label: 'Share of controls to be read', hint: 'as 2/3; empty: none' },
        {
          key: 'last_point',
          label: 'The last time control',
          sort: 'flag',
          none: 'need not be read (default)',
          yes: 'must be read',
          no: 'need not be read',
        },
      ],
      redraw,
    ),
    ...part('Teams', 'The sum of a team’s best placed cars.', 'scoring.teams', [
      {
        key: 'count',
        label: 'Cars that count',
        sort: 'number',
        size: '4',
        whole: true,
        hint: 'empty: no teams',
      },
    ]),
  ];
}

/** What each kind charges, with an example of the first item that follows it. */
export function penaltiesPage(draft, redraw, office, boxes) {
  return [
    para('These hold for all items of a kind; an item may differ in single ones.'),
    ...Object.entries(KINDS).map(([kind, { name, about }]) => {
      const base = `scoring.defaults.${kind}`;
      const words = make('p', {}, make('strong', {}, ruleWords(draft.get(base) || {}, kind)));
      const follows = () =>
        (draft.get('route') || []).find((item) => item.kind === kind && !item.penalty);
      const example = exampleBox(office, boxes.textOf, () => follows()?.id);
      boxes.watch({
        later() {
          words.firstChild.textContent = ruleWords(draft.get(base) || {}, kind);
          if (details.open) example.later();
        },
      });
      const details = make(
        'details',
        {},
        make('summary', {}, `Worked example for ${name.toLowerCase()}`),
        example.box,
      );
      details.addEventListener('toggle', () => {
        if (details.open) example.draw();
      });
      return make(
        'fieldset',
        { 'data-path': base },
        make('legend', { tabindex: '-1' }, name),
        para(about),
        words,
        fields(draft, base, penaltySpecs(kind), redraw),
        details,
      );
    }),
  ];
}
