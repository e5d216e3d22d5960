// SPDX-License-Identifier: MIT
// Each fault that the server finds in rules leads to the field that it is about.

import assert from 'node:assert/strict';
import test from 'node:test';
import { faultsOf } from '../../../../web/office/rules/try.js';

test('a remark leads to its field, to its line, or to the rules as a whole', () => {
  const found = faultsOf([
    'event.json: route[3].penalty.late: is no number',
    { place: 'event.json: scoring.defaults.set-time.cap', text: 'at most 99999' },
    'event.json:12: expected a comma',
    { place: 'event.json', text: 'too large' },
    'readings.csv:3: car 9 is not in the entry list',
  ]);
  assert.deepEqual(
    found.map(({ path, line }) => [path, line]),
    [
      ['route[3].penalty.late', 0],
      ['scoring.defaults.set-time.cap', 0],
      ['', 12],
      ['', 0],
      ['', 0],
    ],
  );
  assert.equal(found[0].text, 'route[3].penalty.late: is no number');
  assert.equal(found[4].text, 'readings.csv:3: car 9 is not in the entry list');
});
