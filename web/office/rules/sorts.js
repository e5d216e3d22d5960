// SPDX-License-Identifier: MIT
// The sorts of values that fields of the rules stand for: how each is shown and read, and what is
// wrong with a text that stands for none. Such a text stays in the document as it was typed, where
// the server refuses it; the field says why in the words of `wrong`.

import { costShown } from './words.js';

/** A number as a number where that says the same, else the text as it was typed: the server says
 * what is wrong with it. */
function number(text) {
  return /^-?\d{1,9}(\.\d{1,3})?$/.test(text) && String(Number(text)) === text
    ? Number(text)
    : text;
}

function fails(text) {
  const found = /^(\d+)\s*fails?$/i.exec(text);
  return found ? { fails: Number(found[1]) } : null;
}

/** A comma between "11.70" and "9.00" can only part them. */
const spaced = (text) => text.replace(/([.:]\d+),(?=\d+[.:]\d)/g, '$1, ');

/** What stands between commas or semicolons. Another comma between two digits parts nothing: in
 * half of the countries it is the decimal point, which the server wants as a point. */
export const parts = (text) =>
  spaced(text)
    .split(/;|,(?!\d)/)
    .map((part) => part.trim())
    .filter(Boolean);

/** Of a text with a decimal comma. */
export function commaWrong(text) {
  const found = /\d+,\d+/.exec(spaced(text));
  return found
    ? `“${found[0]}”: write ${found[0].replace(',', '.')} with a point; where two are meant, part ` +
        'them by a comma and a blank'
    : null;
}

/** A list of words as people write it, and anything else as it is. */
const listShown = (value) => (Array.isArray(value) ? value.join(', ') : String(value));

const stepOf = (part) => {
  const [, rate, to] = /^(?:then\s+)?(\S*)(?:\s+up to\s+(.*\S))?$/i.exec(part) || ['', part];
  return to === undefined ? { rate: number(rate) } : { to, rate: number(rate) };
};

/** A name and what it is worth: "cone 5", "cone = 5", "speeding 1 fail". */
const namedWorth = (part) =>
  /^(\S+?)\s*[=:]\s*(\d+\s*fails?|\S+)$/i.exec(part) || /^(.+?)\s+(\d+\s*fails?|\S+)$/i.exec(part);

const sideOf = (part) => /^(early|late)\s+(\S+)$/i.exec(part);

/** How each sort of value is shown and read. `before` is what stood there.
 *   wrong  why a text cannot be read, null where it can; without it the server says so */
export const SORTS = {
  text: { show: String, read: (text) => text },
  number: { show: String, read: number, wrong: commaWrong },
  cost: { show: costShown, read: (text) => fails(text) ?? number(text), wrong: commaWrong },
  charge: {
    show: costShown,
    wrong: commaWrong,
    read(text) {
      const once = /^(\S+)\s+once$/i.exec(text);
      if (once) return { once: number(once[1]) };
      if (!/[,;]|up to/i.test(text)) return fails(text) ?? number(text);
      return parts(text).map(stepOf);
    },
  },
  // A time, or that of the best and so much: "best of class + 30".
  maximum: {
    show: (value) =>
      value && typeof value === 'object' ? `best of ${value.best} + ${value.plus}` : String(value),
    read(text) {
      const best = /^best of (\S+)\s*(?:\+|plus\s|and\s)\s*(.+)$/i.exec(text);
      return best ? { best: best[1].toLowerCase(), plus: best[2].trim() } : text;
    },
  },
  cap: {
    show: (value) =>
      value && typeof value === 'object'
        ? ['early', 'late']
            .filter((side) => side in value)
            .map((side) => `${side} ${value[side]}`)
            .join(', ')
        : String(value),
    read: (text) =>
      /[a-z]/i.test(text)
        ? Object.fromEntries(
            parts(text).map((part) => {
              const [, side, value] = sideOf(part);
              return [side.toLowerCase(), number(value)];
            }),
          )
        : number(text),
    wrong(text) {
      const sides = parts(text).map((part) => sideOf(part)?.[1].toLowerCase());
      return (
        commaWrong(text) ??
        (/[a-z]/i.test(text) && (sides.includes(undefined) || new Set(sides).size < sides.length)
          ? 'must be a figure, or one for each side, as “early 90, late 60”'
          : null)
      );
    },
  },
  words: { show: listShown, read: parts },
  // Some cars: {group: "ladies"} as "group ladies", a list of ids with commas.
  cars: {
    show: (value) =>
      value && typeof value === 'object'
        ? Object.entries(value)
            .map(([key, ids]) => `${key} ${[ids].flat().join(', ')}`)
            .join('; ')
        : String(value),
    read(text) {
      const [, key, rest] = /^(\S+)\s*(.*)$/.exec(text);
      const ids = rest.split(/[,\s]+/).filter(Boolean);
      return { [key]: ids.length === 1 ? ids[0] : ids };
    },
    wrong: (text) =>
      /^(group|category|period|class)\s+\S/.test(text)
        ? null
        : `“${text}”: say what it is, as “group ladies”, or “category touring, sport”`,
  },
  kinds: {
    show: listShown,
    read: (text) => (text.trim() === 'all' ? 'all' : parts(text)),
  },
  // A pad with a rule of its own keeps it while there are as many pads.
  pads: {
    show: (value) =>
      Array.isArray(value) ? value.map((pad) => pad?.target ?? pad).join(', ') : String(value),
    wrong: commaWrong,
    read(text, before) {
      const targets = parts(text);
      if (!Array.isArray(before) || before.length !== targets.length) return targets;
      return targets.map((target, i) =>
        before[i] && typeof before[i] === 'object' ? { ...before[i], target } : target,
      );
    },
  },
  table: {
    show: (value) =>
      value && typeof value === 'object'
        ? Object.entries(value)
            .map(([key, one]) => `${key} ${costShown(one)}`)
            .join(', ')
        : String(value),
    read: (text) =>
      Object.fromEntries(
        parts(text).map((part) => {
          const [, key, one] = namedWorth(part);
          return [key, SORTS.cost.read(one)];
        }),
      ),
    wrong(text) {
      const found = parts(text);
      const bare = found.find((part) => !namedWorth(part));
      const names = found.map((part) => namedWorth(part)?.[1]);
      const twice = names.find((name, i) => names.indexOf(name) < i);
      if (bare !== undefined) return `“${bare}” has no figure behind its name`;
      if (twice !== undefined) return `“${twice}” stands twice`;
      return commaWrong(text);
    },
  },
};
