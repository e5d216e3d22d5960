// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { clockErrors, errorText } from '../../../web/desk/clock-errors.js';

const WALL = 1800000000000;

/** A line stamped at `made` on a clock that nobody had compared. */
const line = (id, made, { stretch = 'now.0', mono = 5000, ...more } = {}) => {
  const body = {
    id,
    source: 'key',
    flags: 'far-from-due clock-unverified',
    mono_ms: mono,
    wall_ms: WALL + mono,
    ...more,
  };
  const root = { id, made, stretch, body };
  return { id, root, current: root, last: root, voided: false };
};
const found = (chains, { bases = {}, left = [], offset = 0 } = {}) =>
  clockErrors(chains, new Set(left), bases, { wall: WALL + 60000, offset, visit: 'now' }).map(
    ({ by, sure, lines }) => [by, sure, lines.map(({ chain, ms }) => [chain.id, ms])],
  );

test('stamps of a stretch that was compared since are out by its error', () => {
  const bases = { 'now.0': { base: WALL - 47000, sure: true } };
  const lines = [line('a', WALL + 5000), line('b', WALL + 6000, { mono: 6000 })];
  assert.deepEqual(found(lines, { bases }), [
    [
      -47000,
      true,
      [
        ['a', WALL - 42000],
        ['b', WALL - 41000],
      ],
    ],
  ]);
});

test('each error is a group of its own', () => {
  const bases = {
    'now.0': { base: WALL - 47000, sure: true },
    'now.1': { base: WALL + 1200000, sure: false },
  };
  const lines = [line('a', WALL + 5000), line('b', WALL + 5000, { stretch: 'now.1' })];
  assert.deepEqual(
    found(lines, { bases }).map(([by, sure]) => [by, sure]),
    [
      [-47000, true],
      [1200000, false],
    ],
  );
});

test('of another visit only the machine’s own clock tells, and that is not sure', () => {
  const lines = [line('a', WALL + 5000, { stretch: 'old.0' })];
  assert.deepEqual(found(lines, { offset: -47000 }), [[-47000, false, [['a', WALL - 42000]]]]);
  // A clock that went backwards meanwhile tells nothing.
  const later = [line('a', WALL + 5000, { stretch: 'old.0', wall_ms: WALL + 60001 })];
  assert.deepEqual(found(later, { offset: -47000 }), []);
});

test('what is right, struck out, typed, left or was compared is offered nothing', () => {
  const bases = { 'now.0': { base: WALL - 47000, sure: true } };
  const right = { 'now.0': { base: WALL + 49, sure: true } };
  assert.deepEqual(found([line('a', WALL + 5000)], { bases: right }), []);
  assert.deepEqual(found([{ ...line('a', WALL + 5000), voided: true }], { bases }), []);
  assert.deepEqual(found([line('a', WALL + 5000, { source: 'typed' })], { bases }), []);
  assert.deepEqual(found([line('a', WALL + 5000, { flags: 'note' })], { bases }), []);
  assert.deepEqual(found([line('a', WALL + 5000, { stretch: null })], { bases }), []);
  assert.deepEqual(found([line('a', WALL + 5000)], { bases, left: ['a'] }), []);
  // Of this visit, but not known yet: another comparison may tell.
  assert.deepEqual(found([line('a', WALL + 5000)]), []);
});

test('an error in words', () => {
  assert.equal(errorText(-46998), '−47.0 s');
  assert.equal(errorText(1200000), '+1200.0 s');
  assert.equal(errorText(280), '+0.28 s');
});
