// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { readFileSync, readdirSync } from 'node:fs';
import test from 'node:test';

const web = new URL('../../../web/', import.meta.url);
const read = (name) => readFileSync(new URL(name, web), 'utf8');
const catalogue = (language) => JSON.parse(read('words/desk.' + language + '.json'));
const english = catalogue('en');
const slots = (text) => (text.match(/\{\w+\}/g) || []).sort();

const languages = readdirSync(new URL('words/', web))
  .map((name) => /^desk\.(\w+)\.json$/.exec(name)?.[1])
  .filter((language) => language && language !== 'en');

test('there are others than English, and the page names each of them', () => {
  assert.ok(languages.length >= 3);
  const script = read('desk/words.js');
  const shell = read('desk/desk.html');
  for (const language of languages) {
    assert.match(script, new RegExp(`TEXTS = {.*\\b${language}\\b`), language);
    assert.match(script, new RegExp(`LANGUAGES = {.*\\b${language}: '`), language);
    assert.ok(shell.includes(`<p lang="${language}">`), language);
  }
});

for (const language of languages) {
  test(`the ${language} catalogue says everything that the English one says`, () => {
    const other = catalogue(language);
    // In the same order, too: the desk's file has the names once.
    assert.deepEqual(Object.keys(other), Object.keys(english));
    for (const name of Object.keys(english)) {
      assert.deepEqual(slots(other[name]), slots(english[name]), name);
      assert.ok(other[name].trim() !== '', name);
    }
  });
}

test('every text that the page asks for is there, and none lies idle', () => {
  const scripts = (folder) =>
    readdirSync(new URL(folder, web))
      .filter((name) => name.endsWith('.js'))
      .map((name) => read(folder + name));
  const sources = [...scripts('desk/'), ...scripts('shared/')].join('\n');
  const html = read('desk/desk.html');
  const named = new Set([...html.matchAll(/data-t(?:-label)?="([^"]+)"/g)].map((m) => m[1]));
  for (const [, name] of sources.matchAll(/'([a-zA-Z]+(?:\.[a-zA-Z-]+)*)'/g))
    if (name in english) named.add(name);
  // Names that are put together: 'flag.' + flag.
  const stems = [...sources.matchAll(/'([a-zA-Z.]+\.)' \+/g)].map((m) => m[1]);
  for (const name of [...named].filter((n) => !(n in english)))
    assert.fail('no text of that name: ' + name);
  const idle = Object.keys(english).filter(
    (name) => !named.has(name) && !stems.some((stem) => name.startsWith(stem)),
  );
  assert.deepEqual(idle, []);
  for (const [, name] of sources.matchAll(/\bt\('([^']+)'[,)]/g)) assert.ok(name in english, name);
});
