// SPDX-License-Identifier: MIT
// The lines of "for" follow what the item itself has.

import assert from 'node:assert/strict';
import test from 'node:test';
import { Draft } from '../../../../web/office/rules/form.js';
import { withLines } from '../../../../web/office/rules/variants.js';

function draftOf(item) {
  let changes = 0;
  const draft = new Draft({ route: [item] }, { touched() {}, changed: () => changes++ });
  return { draft, own: withLines(draft, 'route[0]'), changes: () => changes };
}

const moor = () => ({
  checks: [{ at: 5 }, { at: 9 }],
  for: [
    { category: 'tour', checks: [{ at: 5 }, null] },
    { group: 'low', checks: [{ at: 5, ideal: '00:08:00' }, { at: 9 }] },
    { group: 'slow', speeds: [{ from: 0, speed: 30 }] },
  ],
});

test('a check that is corrected is corrected for the cars that had the same', () => {
  const { draft, own } = draftOf(moor());
  own.set('route[0].checks[0].at', 5.4);
  const [tour, low, slow] = draft.get('route[0].for');
  assert.deepEqual(tour.checks, [{ at: 5.4 }, null]);
  assert.deepEqual(low.checks, [{ at: 5, ideal: '00:08:00' }, { at: 9 }], 'their own stays');
  assert.equal(slow.checks, undefined);
  tour.checks[0].at = 1;
  assert.equal(draft.get('route[0].checks[0].at'), 5.4, 'a copy');
});

test('a check that is added or removed is so in each line', () => {
  const { draft, own, changes } = draftOf(moor());
  own.set('route[0].checks', [...draft.get('route[0].checks'), { at: 12 }]);
  assert.deepEqual(draft.get('route[0].for[0].checks'), [{ at: 5 }, null, { at: 12 }]);
  own.set('route[0].checks', draft.get('route[0].checks').slice(1));
  assert.deepEqual(draft.get('route[0].for[0].checks'), [null, { at: 12 }]);
  assert.equal(changes(), 4, 'told once for the item, once for its lines');
});

test('pads follow too, and one that is off stays off', () => {
  const { draft, own } = draftOf({
    targets: ['11.70', '9.00'],
    for: [{ group: 'low', targets: [null, '10.25'] }],
  });
  own.set('route[0].targets[0]', { target: '11.70', penalty: { late: 2 } });
  assert.deepEqual(draft.get('route[0].for[0].targets'), [null, '10.25']);
  own.set('route[0].targets', ['11.70', '9.50', '8.00']);
  assert.deepEqual(draft.get('route[0].for[0].targets'), [null, '10.25', '8.00']);
});
