// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { readFileSync, readdirSync } from 'node:fs';
import test from 'node:test';

const web = new URL('../../../web/', import.meta.url);
const read = (name) => readFileSync(new URL(name, web), 'utf8');
const CATALOGUES = ['desk', 'seldom']; // of the first script and of the second
const catalogue = (name, language) => JSON.parse(read(`words/${name}.${language}.json`));
const slots = (text) => (text.match(/\{\w+\}/g) || []).sort();

const languages = readdirSync(new URL('words/', web))
  .map((name) => /^desk\.(\w+)\.json$/.exec(name)?.[1])
  .filter((language) => language && language !== 'en');

test('there are others than English, and the page names each of them', () => {
  assert.ok(languages.length >= 3);
  const script = read('desk/words.js');
  const made = read('../Makefile');
  const shell = read('desk/desk.html');
  for (const language of languages) {
    assert.match(made, new RegExp(`desk/words-%.js,.*\\b${language}\\b`), language);
    assert.match(script, new RegExp(`LANGUAGES = {.*\\b${language}: '`), language);
    assert.ok(shell.includes(`<p lang="${language}">`), language);
  }
});

for (const language of languages) {
  test(`the ${language} catalogues say everything that the English ones say`, () => {
    for (const book of CATALOGUES) {
      const english = catalogue(book, 'en');
      const other = catalogue(book, language);
      // In the same order, too: the scripts have the names once.
      assert.deepEqual(Object.keys(other), Object.keys(english));
      for (const name of Object.keys(english)) {
        assert.deepEqual(slots(other[name]), slots(english[name]), name);
        assert.ok(other[name].trim() !== '', name);
      }
    }
  });
}

/** The files of which a script is made, from `name` on; first.js is the door to another. */
function filesFrom(name, found = new Set()) {
  if (found.has(name)) return found;
  found.add(name);
  const folder = name.slice(0, name.lastIndexOf('/') + 1);
  for (const [, path] of read(name).matchAll(/from '([^']+\.js)'/g)) {
    if (name !== 'desk/desk.js' && path.endsWith('/first.js')) continue;
    filesFrom(new URL(folder + path, 'file:///').pathname.slice(1), found);
  }
  return found;
}

/** The texts that scripts and a page ask for: {named, stems of names that are put together}. */
function asked(sources, known) {
  const named = new Set();
  for (const [, name] of sources.matchAll(/'([a-zA-Z]+(?:\.[a-zA-Z-]+)*)'/g))
    if (known.has(name)) named.add(name);
  for (const [, name] of sources.matchAll(/data-t(?:-label)?="([^"]+)"/g)) named.add(name);
  for (const [, name] of sources.matchAll(/\bt\('([^']+)'[,)]/g)) named.add(name);
  const stems = [...sources.matchAll(/'([a-zA-Z.]+\.)' \+/g)].map((m) => m[1]);
  return { named, stems };
}

test('every text that the page asks for is there, and none lies idle', () => {
  const [first, second] = CATALOGUES.map((book) => Object.keys(catalogue(book, 'en')));
  const all = new Set([...first, ...second]);
  assert.equal(all.size, first.length + second.length, 'a text stands in both');
  const start = filesFrom('desk/desk.js');
  const seldom = filesFrom('desk/seldom.js');
  assert.ok(start.size > 20 && seldom.size > 4);
  const textOf = (files) => [...files].map(read).join('\n');
  const early = asked(textOf(start) + read('desk/desk.html'), all);
  const late = asked(textOf(seldom), all);
  // Before the second script is here its texts are not, either.
  for (const name of early.named) assert.ok(first.includes(name), 'no text at the start: ' + name);
  for (const name of late.named) assert.ok(all.has(name), 'no text of that name: ' + name);
  const idle = (names, ...askers) =>
    names.filter(
      (name) =>
        !askers.some(
          ({ named, stems }) => named.has(name) || stems.some((stem) => name.startsWith(stem)),
        ),
    );
  assert.deepEqual(idle(first, early), []);
  assert.deepEqual(idle(second, late), []);
});
