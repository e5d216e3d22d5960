// SPDX-License-Identifier: MIT
// Which steps to the final classification are done.

import assert from 'node:assert/strict';
import test from 'node:test';
import { steps } from '../../../web/office/final-steps.js';

const office = { event: { timezone: 'UTC' } };
const done = (obstacles, notices = []) =>
  steps(office, { obstacles, doubts: 0 }, notices)
    .map((step) => (step.done ? '+' : '-'))
    .join('');

test('without obstacles every step is done', () => {
  assert.equal(done([]), '++++++');
});

test('each obstacle leaves its own step', () => {
  assert.equal(done([{ kind: 'open-point', point: 'TC1' }]), '-+++++');
  assert.equal(done([{ kind: 'hidden', point: 'R1' }]), '+-++++');
  assert.equal(done([{ kind: 'doubt', car: 3, point: 'TC1' }]), '++-+++');
  assert.equal(done([{ kind: 'protest-period' }]), '++++-+');
  assert.equal(done([{ kind: 'case', number: 1, car: 3 }]), '+++++-');
});

test('a protest period does not begin before there is a provisional classification', () => {
  assert.equal(done([{ kind: 'no-provisional' }]), '+++--+');
  const step = steps(office, { obstacles: [{ kind: 'no-provisional' }], doubts: 0 }, []).at(4);
  assert.deepEqual(step.left(), ['It begins when the provisional classification is posted.']);
});
