// SPDX-License-Identifier: MIT
// What each rule means, in words. The figures in examples come from the server.

const UNITS = [
  ['minute', 'minute'],
  ['second', 'second'],
  ['tenth', 'tenth of a second'],
  ['hundredth', 'hundredth of a second'],
  ['millisecond', 'thousandth of a second'],
  ['6', 'tenth of a minute'],
  ['0.6', 'hundredth of a minute'],
];
/** What a unit may be besides: any duration that divides a day. */
const LONG_UNITS = [['00:15:00', 'quarter of an hour']];

export const KINDS = {
  'time-control': {
    name: 'Time control',
    about:
      'A car is due at a time and is charged for each whole unit early or late. ' +
      'The units count from the time at which that car is due: due 10:42, card at 10:42:59, counted 10:42.',
  },
  'passage-control': {
    name: 'Passage control',
    about: 'Any reading will do; without one, “missed” is charged.',
  },
  regularity: {
    name: 'Regularity',
    about:
      'Checks at places that crews do not know, against the ideal time by the table of speeds. ' +
      'The ideal is summed exactly and rounded once.',
  },
  'set-time': { name: 'Set-time test', about: 'Pads, each against its target time.' },
  'special-test': {
    name: 'Driving test',
    about:
      'From start to finish against the clock, held between bogey and maximum; faults are added.',
  },
  consistency: {
    name: 'Consistency laps',
    about: 'Laps against the first, their mean or a nominated time.',
  },
};

export const TESTS = ['regularity', 'set-time', 'special-test', 'consistency'];

const clockSpecs = (none) => [
  {
    key: 'precision',
    label: 'Clock read to the',
    sort: 'choice',
    choices: UNITS,
    none: none || 'second (default)',
    hint: 'what is smaller is cut off before anything is charged',
  },
  {
    key: 'per',
    label: 'Charged for each',
    sort: 'choice',
    choices: [...UNITS, ...LONG_UNITS],
    none: none || 'the unit of the clock',
  },
  {
    key: 'part',
    label: 'A unit begun',
    sort: 'flag',
    none: none || 'is not charged (default)',
    yes: 'is charged as a whole one',
    no: 'is not charged',
  },
];

const CHARGE_HINT = 'points; “1 fail”; “100 once”; or steps, “2 up to 00:01:00, then 5”';

const EARLY = { key: 'early', label: 'Early, each', sort: 'charge', size: '28', hint: CHARGE_HINT };

const EARLY_LIMIT = {
  key: 'early_limit',
  label: 'Missed when earlier than',
  hint: 'as 00:15:00; empty: no limit',
};

const LATE_LIMIT = {
  key: 'late_limit',
  label: 'Missed when later than',
  hint: 'as 00:10:00; empty: no limit',
};

const MISSED = {
  key: 'missed',
  label: 'Missed',
  sort: 'cost',
  hint: 'points without a counted reading, or “1 fail”',
};

/** What lateness costs; `early`: earliness is charged too. */
const lateSpecs = (early, none) => [
  {
    key: 'late',
    label: early ? 'Late, each' : 'Each',
    sort: 'charge',
    size: '28',
    hint: CHARGE_HINT,
  },
  {
    key: 'grace',
    label: 'Grace',
    hint: 'a deviation up to this costs nothing, as 00:00:01',
  },
  {
    key: 'grace_deducted',
    label: 'Beyond the grace',
    sort: 'flag',
    none: none || 'the whole deviation is charged',
    yes: 'only the excess is charged',
    no: 'the whole deviation is charged',
  },
  {
    key: 'cap',
    label: 'At most',
    sort: 'cap',
    hint: early
      ? 'points at one point, or “early 90, late 60”'
      : 'points for time and faults together',
  },
];

/** The keys of a penalty rule, for a kind of item. */
export function penaltySpecs(kind, none) {
  if (kind === 'passage-control') return [MISSED];
  const early = kind !== 'special-test';
  return [
    ...clockSpecs(none),
    ...(early ? [EARLY] : []),
    ...lateSpecs(early, none),
    ...(early ? [EARLY_LIMIT, LATE_LIMIT] : []),
    early ? MISSED : { ...MISSED, hint: `${MISSED.hint}, or “maximum”` },
  ];
}

/** The keys of a check or pad that has a rule of its own. */
export const ownSpecs = (kind) =>
  penaltySpecs(kind, 'as for the item').map((spec) => ({ ...spec, key: `penalty.${spec.key}` }));

/** A rule in a sentence. */
export function ruleWords(rule, kind) {
  const unit = (word) =>
    ([...UNITS, ...LONG_UNITS].find(([name]) => name === String(word)) || ['', word])[1];
  const cost = (value) =>
    value === undefined ? '1' : value === 'maximum' ? 'as much as the maximum' : costShown(value);
  const missed = `Missed: ${rule.missed === undefined ? 'nothing' : cost(rule.missed)}.`;
  if (kind === 'passage-control') return missed;
  const per =
    unit(rule.per || rule.precision || 'second') + (rule.part === true ? ' or part of one' : '');
  const sides =
    kind === 'special-test'
      ? `${cost(rule.late)} a ${per}`
      : `early ${cost(rule.early)}, late ${cost(rule.late)} a ${per}`;
  const cap =
    rule.cap === undefined
      ? ''
      : typeof rule.cap === 'object'
        ? `, at most ${Object.entries(rule.cap)
            .map(([side, value]) => `${value} ${side}`)
            .join(' and ')}`
        : `, at most ${rule.cap}`;
  const grace = rule.grace === undefined ? '' : `, ${rule.grace} of grace`;
  return `${sides[0].toUpperCase()}${sides.slice(1)}${cap}${grace}. ${missed}`;
}

/** A cost as people write it: “5”, “1 fail”, “100 once”, “2 up to 00:01:00, then 5”. */
export function costShown(value) {
  if (Array.isArray(value))
    return value
      .map((step, i) => {
        const rate = `${step?.rate ?? ''}`;
        if (step?.to !== undefined) return `${rate} up to ${step.to}`;
        return i > 0 ? `then ${rate}` : rate;
      })
      .join(', ');
  if (!value || typeof value !== 'object') return String(value);
  if ('once' in value) return `${value.once} once`;
  return value.fails === 1 ? '1 fail' : `${value.fails} fails`;
}

const CASES = {
  'on-time': 'On time',
  late: 'Late',
  early: 'Early',
  'past-step': 'Past the first step',
  'too-early': 'Earlier than the limit',
  capped: 'At the cap',
  fault: 'With a fault',
  'too-soon': 'On time here, but late at the control before',
  beyond: 'On time here, but too late at the control before',
  missed: 'Not read',
};

/** The name of an example's case. */
export const caseWords = (name) => CASES[name] || name;
