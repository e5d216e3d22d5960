// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';

globalThis.document = { addEventListener() {}, activeElement: null, body: null };
const { Field, digitOf } = await import('../../../web/desk/field.js');

/** The field on an input that is none: what its listeners do to the value, event by event. */
function fieldWith(value) {
  const heard = {};
  const input = {
    value,
    addEventListener(type, act) {
      heard[type] = act;
    },
    focus() {},
  };
  const does = { changed() {} };
  const tell = (type, event = {}) => heard[type]({ preventDefault() {}, ...event });
  return { input, tell, field: new Field(input, does) };
}

test('what was taken is gone before the browser writes the next digit', () => {
  const { input, tell, field } = fieldWith('117');
  field.take();
  assert.equal(field.text, '');
  tell('keydown', { key: '2' });
  assert.equal(input.value, '', 'the key finds an empty field');
  // WebKit writes nothing where the value changes from here on.
  Object.defineProperty(input, 'value', {
    get: () => '',
    set() {
      assert.fail('the value changes as the key is being written');
    },
  });
  tell('beforeinput');
});

test('a digit is told by the place of its key, unless Shift makes a sign of it', () => {
  const digit = (code, key, shiftKey = false) => digitOf({ code, key, shiftKey });
  assert.equal(digit('Digit6', '-'), '6'); // French
  assert.equal(digit('Digit1', '+'), '1'); // Czech
  assert.equal(digit('Digit2', '2', true), '2'); // French with Shift
  assert.equal(digit('Digit7', '/', true), null); // German with Shift
  assert.equal(digit('Numpad3', 'PageDown'), '3');
  assert.equal(digit('Numpad8', 'ArrowUp', true), '8');
  assert.equal(digit('NumpadDecimal', 'Delete'), '.');
  assert.equal(digit('PageDown', 'PageDown'), null);
  assert.equal(digit('Minus', '-'), null);
  assert.equal(digit('', '4'), '4');
  assert.equal(digitOf({ key: 'Unidentified' }), null);
});
