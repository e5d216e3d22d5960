// SPDX-License-Identifier: MIT
// The sorts of values that fields of the rules stand for: how each is shown and read.

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

/** How each sort of value is shown and read. `before` is what stood there. */
export const SORTS = {
  text: { show: String, read: (text) => text },
  number: { show: String, read: number },
  cost: { show: costShown, read: (text) => fails(text) ?? number(text) },
  charge: {
    show: costShown,
    read(text) {
      const once = /^(\S+)\s+once$/i.exec(text);
      if (once) return { once: number(once[1]) };
      if (!/,|up to/i.test(text)) return fails(text) ?? number(text);
      return text.split(',').map((part) => {
        const [, rate, to] = /^\s*(?:then\s+)?(\S*)(?:\s+up to\s+(.*\S))?\s*$/i.exec(part) || [
          '',
          part,
        ];
        return to === undefined ? { rate: number(rate) } : { to, rate: number(rate) };
      });
    },
  },
  // A time, or that of the best and so much: "best of class + 30".
  maximum: {
    show: (value) =>
      value && typeof value === 'object' ? `best of ${value.best} + ${value.plus}` : String(value),
    read(text) {
      const best = /^best of (\S+)\s*\+\s*(.+)$/i.exec(text);
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
    read(text) {
      const sides = [...text.matchAll(/(early|late)\s+([\d.]+)/gi)];
      return sides.length
        ? Object.fromEntries(sides.map(([, side, value]) => [side.toLowerCase(), number(value)]))
        : number(text);
    },
  },
  words: {
    show: (value) => (Array.isArray(value) ? value.join(', ') : String(value)),
    read: (text) =>
      text
        .split(',')
        .map((word) => word.trim())
        .filter(Boolean),
  },
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
  },
  kinds: {
    show: (value) => (Array.isArray(value) ? value.join(', ') : String(value)),
    read: (text) => (text.trim() === 'all' ? 'all' : SORTS.words.read(text)),
  },
  // A pad with a rule of its own keeps it while there are as many pads.
  pads: {
    show: (value) =>
      Array.isArray(value) ? value.map((pad) => pad?.target ?? pad).join(', ') : String(value),
    read(text, before) {
      const targets = SORTS.words.read(text);
      if (!Array.isArray(before) || before.length !== targets.length) return targets;
      return targets.map((target, i) =>
        before[i] && typeof before[i] === 'object' ? { ...before[i], target } : target,
      );
    },
  },
  table: {
    show: (value) =>
      Object.entries(value)
        .map(([key, one]) => `${key} ${SORTS.cost.show(one)}`)
        .join(', '),
    read: (text) =>
      Object.fromEntries(
        text
          .split(',')
          .map((part) => part.trim())
          .filter(Boolean)
          .map((part) => {
            const [, key, one] = /^(.+?)\s+(\d+\s*fails?|\S+)$/i.exec(part) || [part, part, ''];
            return [key, SORTS.cost.read(one)];
          }),
      ),
  },
};
