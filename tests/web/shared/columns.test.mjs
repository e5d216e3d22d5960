// SPDX-License-Identifier: MIT
// A column of a table is found by a name, on every surface: a style or script that counts cells would
// take another column for its own once one is put before it.

import assert from 'node:assert/strict';
import { readFileSync, readdirSync } from 'node:fs';
import test from 'node:test';

const web = new URL('../../../web/', import.meta.url);
const SURFACES = ['shared', 'board', 'desk', 'office'];

const COUNTED_BY_STYLES = /:(nth-(last-)?(child|of-type)|(first|last|only)-(child|of-type))\b/;
const COUNTED_BY_SCRIPTS =
  /\bcells(\[\d|\.length|\.at\()|\b(first|last)ElementChild\b.*textContent|-child\b/;

/** The names and texts, without their comments, of what a surface has with that ending. */
const files = (surface, ending) =>
  readdirSync(new URL(surface + '/', web), { recursive: true })
    .filter((name) => name.endsWith(ending))
    .map((name) => [
      `web/${surface}/${name}`,
      readFileSync(new URL(`${surface}/${name}`, web), 'utf8').replace(/\/\*[^]*?\*\/|\/\/.*/g, ''),
    ]);

for (const surface of SURFACES) {
  test(`no style of ${surface} counts cells`, () => {
    const styles = files(surface, '.css');
    assert.ok(styles.length > 0);
    for (const [name, text] of styles) assert.doesNotMatch(text, COUNTED_BY_STYLES, name);
  });

  test(`no script of ${surface} counts cells`, () => {
    const scripts = files(surface, '.js');
    assert.ok(scripts.length > 0);
    for (const [name, text] of scripts) assert.doesNotMatch(text, COUNTED_BY_SCRIPTS, name);
  });
}

test('counting is seen where it stands', () => {
  for (const style of ['td:nth-child(3) {', '.log th:first-child {', 'td:last-of-type {'])
    assert.match(style, COUNTED_BY_STYLES);
  for (const script of ['row.cells[2]', 'tr.cells.length - 1', "query('td:last-child')"])
    assert.match(script, COUNTED_BY_SCRIPTS);
});
