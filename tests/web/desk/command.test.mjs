// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import {
  bothFaults,
  faultLetters,
  faultsText,
  parseCommand,
  parseFaults,
} from '../../../web/desk/command.js';

test('a number alone is a car', () => {
  assert.deepEqual(parseCommand('117'), { kind: 'car', car: 117 });
  assert.deepEqual(parseCommand(' 007'), { kind: 'car', car: 7 });
  assert.deepEqual(parseCommand('  '), { kind: 'empty' });
});

test('what is no car number says so', () => {
  for (const text of ['0', '10000', ':5', '*2', '.']) {
    assert.deepEqual(parseCommand(text), { kind: 'bad', why: 'number' }, text);
  }
});

test('a time behind the number is the time of day', () => {
  const command = parseCommand('117 104207');
  assert.equal(command.kind, 'value');
  assert.equal(command.car, 117);
  assert.equal(command.value.text, '10:42:07');
  assert.equal(command.typed, '104207');
  const bad = { kind: 'bad', car: 117, why: 'time', typed: '10:4' };
  assert.deepEqual(parseCommand('117 10:4'), bad);
});

test('where elapsed times are written down it is one', () => {
  assert.equal(parseCommand('22 1:23.4', 'elapsed').value.text, '00:01:23.4');
  assert.equal(parseCommand('22 83,45', 'elapsed').value.text, '83.45');
  const bad = { kind: 'bad', car: 22, why: 'elapsed', typed: '1:99' };
  assert.deepEqual(parseCommand('22 1:99', 'elapsed'), bad);
  assert.deepEqual(parseCommand('22 ', 'elapsed'), { kind: 'open', car: 22 });
});

test('a star gives the number to a blank', () => {
  assert.deepEqual(parseCommand('117*'), { kind: 'give', car: 117, blank: 0 });
  assert.deepEqual(parseCommand('117 * 2'), { kind: 'give', car: 117, blank: 2 });
});

test('each fault has a letter of its own, and none is a key of the desk', () => {
  assert.deepEqual(faultLetters(['cone', 'line', 'wrong-route']), {
    c: 'cone',
    l: 'line',
    w: 'wrong-route',
  });
  const letters = faultLetters(['bug', 'gub', 'cone', 'co', 'c']);
  assert.equal(new Set(Object.keys(letters)).size, 5);
  assert.ok(Object.keys(letters).every((letter) => !'bgu'.includes(letter)));
});

test('faults are written as the files write them', () => {
  assert.equal(faultsText({ cone: 2, line: 0, 'wrong-route': 1 }), 'cone=2;wrong-route=1');
  assert.equal(faultsText({}), '');
  assert.deepEqual(parseFaults('cone=2; line=1'), { cone: 2, line: 1 });
  assert.deepEqual(parseFaults('no_board=1;left-early=2'), { no_board: 1, 'left-early': 2 });
  assert.deepEqual(parseFaults(''), {});
  assert.equal(parseFaults('cone'), null);
  assert.equal(parseFaults('cone=-1'), null);
});

test('faults of a blank and of its number go together', () => {
  assert.equal(bothFaults('cone=2', { cone: 1, line: 1 }), 'cone=3;line=1');
  assert.equal(bothFaults('', { cone: 1, line: 0 }), 'cone=1');
  assert.equal(bothFaults('cone=2', {}), 'cone=2');
});
