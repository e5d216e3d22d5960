// SPDX-License-Identifier: MIT
// The office's tables, on a page of this test's own.

import assert from 'node:assert/strict';
import test from 'node:test';

class Element {
  constructor(tag) {
    Object.assign(this, { tag, attributes: {}, children: [] });
  }
  setAttribute(name, value) {
    this.attributes[name] = value;
  }
  append(...children) {
    this.children.push(...children);
  }
  all(tag) {
    return this.children.flatMap((child) =>
      child instanceof Element ? [...(child.tag === tag ? [child] : []), ...child.all(tag)] : [],
    );
  }
}
globalThis.Node = Element;
globalThis.document = { createElement: (tag) => new Element(tag) };
const { table } = await import('../../../web/office/parts.js');

test('cells have the class of their column, and a head its words alone', () => {
  const made = table(
    'Cars',
    ['No.', '#Penalty', { words: 'How', class: 'working' }],
    [
      [7, 1.5, null],
      [8, 2, new Element('em')],
    ],
  );
  const [head, ...rows] = made.all('tr');
  const classes = (row) => row.children.map((cell) => cell.attributes.class ?? '');
  assert.deepEqual(
    head.children.map((th) => th.children[0]),
    ['No.', 'Penalty', 'How'],
  );
  for (const row of [head, ...rows]) assert.deepEqual(classes(row), ['', 'n', 'working']);
  assert.deepEqual(
    rows.map((row) => row.children.map((cell) => cell.children[0].tag ?? cell.children[0])),
    [
      ['7', '1.5', ''],
      ['8', '2', 'em'],
    ],
  );
  assert.deepEqual(
    rows.map((row) => row.children.map((cell) => cell.tag).join()),
    ['th,td,td', 'th,td,td'],
  );
});
