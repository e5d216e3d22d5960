// SPDX-License-Identifier: MIT
// Colours and sizes have names, the same in all three surfaces, and only tokens.css gives them
// values: all other files use the names.

import assert from 'node:assert/strict';
import { readFileSync, readdirSync } from 'node:fs';
import test from 'node:test';

const web = new URL('../../../web/', import.meta.url);
const read = (name) => readFileSync(new URL(name, web), 'utf8').replace(/\/\*[^]*?\*\//g, '');
const SURFACES = { board: 'style', desk: 'desk', office: 'office' };

/** The files of a surface's style, as its first one names them. */
function stylesOf(surface) {
  const first = `${surface}/${SURFACES[surface]}.css`;
  const imports = [...read(first).matchAll(/@import '([^']+)';/g)].map(([, address]) =>
    new URL(address, new URL(first, web)).pathname.slice(web.pathname.length),
  );
  return [...imports, first];
}

// Declarations without custom properties; names of properties and of elements are no colours.
const declarations = (css) => [...css.matchAll(/(?<=[{;]\s*)([a-z-]+):([^;{}]*)(?=[;}])/g)];
const NAMED = new RegExp(
  '\\b(aqua|black|blue|brown|cyan|fuchsia|gold|gr[ae]y|green|indigo|lime|magenta|maroon|navy|' +
    'olive|orange|pink|purple|red|silver|teal|violet|white|yellow|canvas|canvastext|linktext)\\b',
  'i',
);
const COLOUR = /#[0-9a-f]{3,8}\b|\b(rgba?|hsla?|hwb|lab|lch|oklab|oklch|color|light-dark)\(/i;

for (const surface of Object.keys(SURFACES)) {
  const files = stylesOf(surface);
  const tokens = files.filter((name) => name.endsWith('/tokens.css'));
  const styles = files.filter((name) => !tokens.includes(name));

  test(`${surface}: every style is brought in, the shared names before the surface's own`, () => {
    assert.deepEqual(tokens, ['shared/tokens.css', `${surface}/tokens.css`]);
    const there = readdirSync(new URL(surface, web)).filter((name) => name.endsWith('.css'));
    assert.deepEqual(
      files.filter((name) => name.startsWith(surface)).sort(),
      there.map((name) => `${surface}/${name}`).sort(),
    );
  });

  test(`${surface}: no colour but by its name`, () => {
    for (const name of styles) {
      const found = declarations(read(name));
      for (const [, property, value] of found) {
        assert.ok(!COLOUR.test(value) && !NAMED.test(value), `${name}: ${property}:${value}`);
      }
      assert.ok(found.length > 0 || /@import/.test(read(name)), `${name}: nothing was read`);
      assert.doesNotMatch(read(name), /--[a-z-]+:/, `${name}: a value of its own`);
    }
  });

  // WebKit takes style and thickness of a line by their own names only, and drops the rest whole.
  test(`${surface}: a line through or under words is told by its place alone`, () => {
    for (const name of styles) {
      for (const [, property, value] of declarations(read(name))) {
        if (property === 'text-decoration') {
          assert.match(value.trim(), /^(none|underline|line-through)$/, name);
        }
      }
    }
  });

  test(`${surface}: every name that is used has a value, and every one of its own is used`, () => {
    const given = (list) =>
      new Set(list.flatMap((name) => [...read(name).matchAll(/(--[a-z-]+):/g)].map((m) => m[1])));
    const used = new Set(
      files.flatMap((name) => [...read(name).matchAll(/var\((--[a-z-]+)/g)].map((m) => m[1])),
    );
    const set = given(tokens);
    // A script counts the pins.
    assert.deepEqual(
      [...used].filter((name) => !set.has(name) && name !== '--pins'),
      [],
    );
    const own = given([`${surface}/tokens.css`]);
    assert.deepEqual(
      [...own].filter((name) => !used.has(name)),
      [],
    );
  });

  test(`${surface}: text has 4.5:1 or more on its ground by day and by night, on the desk 7:1`, () => {
    for (const time of ['day', 'night']) {
      const colours = coloursOf(tokens, time);
      const least = surface === 'desk' ? 7 : 4.5;
      for (const ground of ['--ground', '--surface']) {
        for (const [name, ratio] of [
          ['--ink', 7],
          ['--muted', Math.max(least, 7)],
          ['--accent', least],
          ['--bad', least],
          ['--edge', 3],
        ]) {
          const found = contrast(colours.get(name), colours.get(ground));
          assert.ok(found >= ratio, `${name} on ${ground} by ${time}: ${found.toFixed(2)}:1`);
        }
      }
      for (const [name, ground] of [
        ['--on-accent', '--accent'],
        ['--on-band', '--band'],
        ['--doubt', '--doubt-ground'],
        ['--bad', '--bad-ground'],
        ['--good', '--surface'],
        ['--ink', '--mine'],
      ]) {
        if (!colours.has(name) || !colours.has(ground)) continue;
        const found = contrast(colours.get(name), colours.get(ground));
        assert.ok(found >= least, `${name} on ${ground} by ${time}: ${found.toFixed(2)}:1`);
      }
    }
  });
}

/** The colours of a surface on its screen, by day or by night. */
function coloursOf(tokens, time) {
  const colours = new Map();
  for (const name of tokens) {
    const [screen] = read(name).split('@media');
    for (const [, token, day, night] of screen.matchAll(
      /(--[a-z-]+): var\(--day, (#[0-9a-f]+)\) var\(--night, (#[0-9a-f]+)\);/g,
    )) {
      colours.set(token, time === 'day' ? day : night);
    }
  }
  assert.ok(colours.size >= 7, `${tokens}: ${colours.size} colours`);
  return colours;
}

/** WCAG 2.2, contrast ratio of two sRGB colours. */
function contrast(one, other) {
  const [dark, light] = [one, other].map(luminance).sort((a, b) => a - b);
  return (light + 0.05) / (dark + 0.05);
}

function luminance(colour) {
  const digits = colour.slice(1);
  const full = digits.length === 3 ? [...digits].map((c) => c + c).join('') : digits;
  const [r, g, b] = [0, 2, 4].map((at) => {
    const part = parseInt(full.slice(at, at + 2), 16) / 255;
    return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
