// SPDX-License-Identifier: MIT
// What each rule means, in words. The figures in examples come from the server.

const UNITS = [
  ['minute', 'minute'],
  ['second', 'second'],
  ['tenth', 'tenth of a second'],
  ['hundredth', 'hundredth of a second'],
  ['millisecond', 'thousandth of a second'],
];

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
    label: 'Charged for each whole',
    sort: 'choice',
    choices: UNITS,
    none: none || 'the unit of the clock',
  },
];

const EARLY = {
  key: 'early',
  label: 'Early, each',
  sort: 'cost',
  hint: 'points, or “1 fail”, which goes before all points',
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
    sort: 'cost',
    hint: 'points, or “1 fail”',
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
    ...(early ? [LATE_LIMIT] : []),
    early ? MISSED : { ...MISSED, hint: `${MISSED.hint}, or “maximum”` },
  ];
}

/** A rule in a sentence. */
export function ruleWords(rule, kind) {
  const unit = (word) => (UNITS.find(([name]) => name === word) || ['', word])[1];
  const cost = (value) =>
    value && typeof value === 'object'
      ? `${value.fails} fail${value.fails === 1 ? '' : 's'}`
      : value === 'maximum'
        ? 'as much as the maximum'
        : `${value ?? 1}`;
  const missed = `Missed: ${rule.missed === undefined ? 'nothing' : cost(rule.missed)}.`;
  if (kind === 'passage-control') return missed;
  const per = unit(rule.per || rule.precision || 'second');
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

const CASES = {
  'on-time': 'On time',
  late: 'Late',
  early: 'Early',
  capped: 'At the cap',
  fault: 'With a fault',
  'too-soon': 'On time here, but late at the control before',
  beyond: 'On time here, but too late at the control before',
  missed: 'Not read',
};

/** The name of an example's case. */
export const caseWords = (name) => CASES[name] || name;
