// SPDX-License-Identifier: MIT
// A rule in a sentence, and which fields a kind of item has.

import assert from 'node:assert/strict';
import test from 'node:test';
import { KINDS, penaltySpecs, ruleWords } from '../../../../web/office/rules/words.js';

test('a rule says what each side costs and what a missed point does', () => {
  for (const [rule, kind, words] of [
    [{}, 'time-control', 'Early 1, late 1 a second. Missed: nothing.'],
    [
      { early: 2, late: 1, per: 'minute', cap: 60, missed: 120 },
      'time-control',
      'Early 2, late 1 a minute, at most 60. Missed: 120.',
    ],
    [
      { early: { fails: 1 }, late: { fails: 2 }, grace: '00:00:01', missed: { fails: 1 } },
      'regularity',
      'Early 1 fail, late 2 fails a second, 00:00:01 of grace. Missed: 1 fail.',
    ],
    [
      { precision: 'hundredth', cap: { early: 90, late: 60 } },
      'set-time',
      'Early 1, late 1 a hundredth of a second, at most 90 early and 60 late. Missed: nothing.',
    ],
    [
      { late: 2, per: 'tenth', cap: 300 },
      'special-test',
      '2 a tenth of a second, at most 300. Missed: nothing.',
    ],
    [{ late: 1, missed: 'maximum' }, 'special-test', '1 a second. Missed: as much as the maximum.'],
    [{ missed: 600 }, 'passage-control', 'Missed: 600.'],
  ])
    assert.equal(ruleWords(rule, kind), words);
});

test('each kind has the fields that its rule knows', () => {
  const keys = (kind) => penaltySpecs(kind).map((spec) => spec.key);
  assert.deepEqual(keys('passage-control'), ['missed']);
  assert.ok(
    !keys('special-test').includes('early') && !keys('special-test').includes('late_limit'),
  );
  for (const kind of ['time-control', 'regularity', 'set-time', 'consistency'])
    for (const key of ['early', 'late', 'late_limit', 'cap', 'missed'])
      assert.ok(keys(kind).includes(key), `${kind}: ${key}`);
  for (const kind of Object.keys(KINDS)) assert.equal(new Set(keys(kind)).size, keys(kind).length);
});
