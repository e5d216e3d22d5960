// SPDX-License-Identifier: MIT
// Other values of an item for some cars: the lines of its “for”.

import { make } from '../../shared/dom.js';
import { para } from '../parts.js';
import { fields, ruleList } from './form.js';
import { penaltySpecs } from './words.js';

/** What is the same for all cars, since it makes points or tells what the item is. */
const FIXED = [
  'day',
  'id',
  'name',
  'reveal',
  'laps',
  'attempts',
  'reference',
  'measured',
  'counts',
  'finish',
  'method',
  'scope',
  'best',
];

/** One id, or several: what one was written as stays one. */
const IDS = {
  show: (value) => (Array.isArray(value) ? value.join(', ') : String(value)),
  read(text) {
    const ids = text
      .split(',')
      .map((id) => id.trim())
      .filter(Boolean);
    return ids.length === 1 ? ids[0] : ids;
  },
};

const CARS = [
  { key: 'group', label: 'Groups' },
  { key: 'category', label: 'Categories' },
  { key: 'period', label: 'Periods' },
  { key: 'class', label: 'Classes' },
].map((spec) => ({ ...spec, sort: IDS, size: '16' }));

const OFF = {
  key: 'off',
  label: 'On their route',
  sort: 'flag',
  again: true,
  none: 'yes (default)',
  yes: 'no: not driven, and nothing is missing',
  no: 'yes',
};

/** Members of a list that are not on these cars' route, by their numbers: they stand there as null.
 *   whole  the item's own list, from which the others come */
const notThere = (key, label, whole) => ({
  key,
  label,
  hint: 'their numbers, as 2, 3; empty: all are',
  sort: {
    show: (list) =>
      list
        .map((one, i) => (one === null ? i + 1 : 0))
        .filter(Boolean)
        .join(', '),
    read(text, before) {
      const off = new Set(text.split(',').map((number) => Number(number.trim())));
      return whole.map((one, i) => (off.has(i + 1) ? null : (before?.[i] ?? one)));
    },
  },
});

/** Who a line is for. */
function nameOf(line, i) {
  const { key, label } = CARS.find((spec) => line[spec.key] !== undefined) || {};
  return key
    ? `For ${label.toLowerCase()} ${IDS.show(line[key])}`
    : `Line ${i + 1}, for nobody yet`;
}

function valuesOf(draft, base, item, specs, redraw) {
  const unit = draft.get('unit') === 'mi' ? 'miles' : 'km';
  const speed = draft.get('unit') === 'mi' ? 'mph' : 'km/h';
  const own = specs
    .filter(({ key }) => !FIXED.includes(key) && key !== 'targets')
    .map((spec) => ({ ...spec, none: spec.none === undefined ? undefined : 'as for the item' }));
  const lists = { regularity: ['checks', 'Checks'], 'set-time': ['targets', 'Pads'] };
  const [key, label] = lists[item.kind] || [];
  return [
    fields(
      draft,
      base,
      [...own, ...(key ? [notThere(key, `${label} that they do not pass`, item[key] || [])] : [])],
      redraw,
    ),
    ...(item.kind === 'regularity'
      ? [
          make('h4', {}, 'Their speeds, where other than the item’s'),
          ruleList(
            draft,
            `${base}.speeds`,
            {
              one: 'speed',
              name: (one) => `From ${one.from ?? '?'} ${unit}`,
              specs: [
                { key: 'from', label: `From, ${unit}`, sort: 'number', size: '8' },
                { key: 'speed', label: `Speed, ${speed}`, sort: 'number', size: '8' },
              ],
              blank: (list) => ({ from: list.length ? '' : 0, speed: list.at(-1)?.speed ?? '' }),
            },
            redraw,
          ),
        ]
      : []),
    make(
      'details',
      { open: draft.get(`${base}.penalty`) !== undefined },
      make('summary', {}, 'What they are charged otherwise'),
      fields(draft, `${base}.penalty`, penaltySpecs(item.kind, 'as for the item'), redraw),
    ),
  ];
}

/** The lines of an item's “for”.
 *   base   the item's path;  specs  the fields of its kind, as they apply */
export function variantsPart(draft, base, item, specs, redraw) {
  const lines = item.for || [];
  return make(
    'details',
    { open: lines.length > 0 },
    make('summary', {}, 'Other values for some cars'),
    para(
      'For a car the first line that fits holds; what a line leaves empty is as for the item. ' +
        'Such as: the group low drives other speeds; touring cars do not drive this test.',
    ),
    ruleList(
      draft,
      `${base}.for`,
      {
        one: 'line',
        name: nameOf,
        specs: [...CARS, OFF],
        more: (line, i) =>
          line.off ? [] : valuesOf(draft, `${base}.for[${i}]`, item, specs, redraw),
        blank: () => ({}),
      },
      redraw,
    ),
  );
}
