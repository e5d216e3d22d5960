// SPDX-License-Identifier: MIT
// Other values of an item for some cars: the lines of its “for”.

import { button, make } from '../../shared/dom.js';
import { para } from '../parts.js';
import { fields, ruleList } from './form.js';
import { commaWrong, parts } from './sorts.js';
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
  'place',
  'places',
  'clock',
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

const DEFINED = {
  group: 'classes.groups',
  category: 'classes.categories',
  period: 'classes.periods',
};

/** Which ids there are to choose from. */
function idsHint(draft, key) {
  const list = DEFINED[key] ? draft.get(DEFINED[key]) : null;
  const ids = (Array.isArray(list) ? list : []).map((one) => one?.id).filter(Boolean);
  if (ids.length) return `of ${ids.join(', ')}`;
  return key === 'group' || key === 'category' ? 'there are none yet; see Classes' : null;
}

const OFF = {
  key: 'off',
  label: 'On their route',
  sort: 'flag',
  again: true,
  none: 'yes (default)',
  yes: 'no: not driven, and nothing is missing',
  no: 'yes',
};

/** Checks that are not on these cars' route, by their numbers: they stand there as null.
 *   whole  the item's own list, from which the others come */
const notThere = (whole) => ({
  key: 'checks',
  label: 'Checks that they do not pass',
  hint: 'their numbers, as 2, 3; empty: all are',
  sort: {
    show: (list) =>
      Array.isArray(list)
        ? list
            .map((one, i) => (one === null ? i + 1 : 0))
            .filter(Boolean)
            .join(', ')
        : String(list),
    read(text, before) {
      const off = new Set(text.split(/[,;\s]+/).map(Number));
      return whole.map((one, i) =>
        off.has(i + 1) ? null : ((Array.isArray(before) ? before[i] : null) ?? one),
      );
    },
    wrong: (text) =>
      text
        .split(/[,;\s]+/)
        .every((one) => /^\d+$/.test(one) && Number(one) >= 1 && Number(one) <= whole.length)
        ? null
        : `“${text}”: write numbers of checks, from 1 to ${whole.length}, with commas`,
  },
});

const OFF_PAD = '–';

/** The targets of pads for these cars, a dash for one that is not on their route.
 *   whole  the item's own list, whose rules for single pads stay */
const theirTargets = (whole) => ({
  key: 'targets',
  label: 'Their targets',
  size: '40',
  hint: `one for each pad, as 13.00, 10.25; – for one that they do not pass; empty: as for the item`,
  sort: {
    show: (list) =>
      Array.isArray(list)
        ? list.map((pad) => (pad === null ? OFF_PAD : (pad?.target ?? pad))).join(', ')
        : String(list),
    read: (text) =>
      parts(text).map((target, i) => {
        if (/^[–-]$/.test(target)) return null;
        return whole[i] && typeof whole[i] === 'object' ? { ...whole[i], target } : target;
      }),
    wrong: (text) =>
      commaWrong(text) ??
      (parts(text).length === whole.length
        ? null
        : `the test has ${whole.length} pads: write so many targets, – for one that they do not pass`),
  },
});

const listOf = (item, key) => (Array.isArray(item?.[key]) ? item[key] : []);

/** A draft in which the lines of an item's "for" follow its own checks and pads: what a line has as
 * the item had it, it has as the item has it now.
 *   base  the item's path */
export function withLines(draft, base) {
  const follow = (key, before) => {
    const item = draft.get(base);
    const now = listOf(item, key);
    let moved = false;
    for (const line of Array.isArray(item?.for) ? item.for : []) {
      const own = line?.[key];
      if (!Array.isArray(own) || own.length !== before.parts.length) continue;
      line[key] = now.map((part, n) => {
        // One that was added or taken out moves the others; each is an object of its own.
        const at =
          now.length === before.parts.length || typeof part !== 'object'
            ? n
            : before.parts.indexOf(part);
        const was = own[at];
        return was === undefined || (was !== null && JSON.stringify(was) === before.texts[at])
          ? structuredClone(part)
          : was;
      });
      moved ||= JSON.stringify(line[key]) !== JSON.stringify(own);
    }
    return moved;
  };
  return Object.create(draft, {
    set: {
      value(path, value) {
        const before = ['checks', 'targets'].map((key) => {
          const list = [...listOf(draft.get(base), key)];
          return [key, { parts: list, texts: list.map((part) => JSON.stringify(part)) }];
        });
        draft.set(path, value);
        if (before.map(([key, was]) => follow(key, was)).includes(true)) draft.changed();
      },
    },
  });
}

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
  const lists = {
    regularity: () => [notThere(listOf(item, 'checks'))],
    'set-time': () => [theirTargets(listOf(item, 'targets'))],
  };
  return [
    fields(draft, base, [...own, ...(lists[item.kind]?.() ?? [])], redraw),
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

/** What a line says besides whom it is for, where the item is off: the server takes one of both. */
function leftOver(draft, base, redraw) {
  const line = draft.get(base);
  const rest = Object.keys(line).filter(
    (key) => key !== 'off' && !CARS.some((spec) => spec.key === key),
  );
  if (!rest.length) return [];
  return [
    para(
      'It is not on their route, so that nothing else can be said for them: ',
      button('Leave their other values out', () => {
        for (const key of rest) draft.set(`${base}.${key}`, undefined);
        redraw(`${base}.off`);
      }),
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
        specs: [...CARS.map((spec) => ({ ...spec, hint: idsHint(draft, spec.key) })), OFF],
        more: (line, i) =>
          line.off
            ? leftOver(draft, `${base}.for[${i}]`, redraw)
            : valuesOf(draft, `${base}.for[${i}]`, item, specs, redraw),
        blank: () => ({}),
      },
      redraw,
    ),
  );
}
