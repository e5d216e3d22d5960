// SPDX-License-Identifier: MIT
// Fields that each stand for one value of event.json. A field knows its path, so that what the
// server says of a place can lead to it; a field left empty is not in the document.

import { button, make } from '../../shared/dom.js';
import { field, select } from '../forms.js';
import { setAt, valueAt } from './json.js';
import { costShown } from './words.js';

/** What is being edited: the document, and who wants to know: `touched` of a key in a field,
 * `changed` of a new value. */
export class Draft {
  constructor(root, { touched, changed }) {
    this.root = root;
    this.touched = touched;
    this.changed = changed;
  }

  get(path) {
    return valueAt(this.root, path);
  }

  set(path, value) {
    setAt(this.root, path, value);
    this.changed();
  }
}

const idOf = (path) => 'rule-' + path.replace(/[^A-Za-z0-9]+/g, '-');

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
const SORTS = {
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

/** A choice, as it stands `now`; done(value) is called with each new one, undefined for "not said". */
function choiceControl(spec, now, done) {
  const flag = spec.sort === 'flag';
  const choices = flag
    ? [
        ['true', spec.yes || 'yes'],
        ['false', spec.no || 'no'],
      ]
    : spec.choices;
  const notSaid = spec.none === undefined ? [] : [['', spec.none]];
  const shown = now === undefined ? '' : String(now);
  // What is no choice of ours stays to be seen.
  const odd = shown && !choices.some(([value]) => value === shown) ? [[shown, shown]] : [];
  const control = select(spec.key, [...notSaid, ...choices, ...odd], shown);
  control.addEventListener('change', () => {
    const { value } = control;
    done(value === '' ? undefined : flag ? value === 'true' : value);
  });
  return control;
}

/** A text to type, likewise. */
function textControl(spec, now, done) {
  const sort = typeof spec.sort === 'object' ? spec.sort : SORTS[spec.sort || 'text'];
  const control = make('input', {
    type: 'text',
    size: spec.size || '12',
    autocomplete: 'off',
    spellcheck: 'false',
  });
  let written = now === undefined ? '' : sort.show(now);
  control.value = written;
  control.addEventListener('change', () => {
    const text = control.value.trim();
    // A value that nobody touched stays as it was written.
    if (text === written) return;
    written = text;
    done(text === '' ? undefined : sort.read(text, now));
  });
  return control;
}

/** A field of a form.
 *   spec  {key, label, hint, sort: one of SORTS or such an object, 'choice' or 'flag',
 *         choices: [[value, words]],
 *         size, none: words for "not said", again: true where the form changes shape with it,
 *         whole: true where without it all that it stands in is gone} */
function ruleField(draft, base, spec, redraw = null) {
  const path = base ? `${base}.${spec.key}` : spec.key;
  const done = (value) => {
    draft.set(spec.whole && value === undefined ? base : path, value);
    if (spec.again && redraw) redraw(path);
  };
  const chosen = spec.sort === 'choice' || spec.sort === 'flag';
  const control = (chosen ? choiceControl : textControl)(spec, draft.get(path), done);
  control.id = idOf(path);
  control.dataset.path = path;
  if (!chosen) control.addEventListener('input', () => draft.touched());
  return field(spec.label, control, spec.hint || null);
}

/** Fields side by side where there is room. */
export function fields(draft, base, specs, redraw = null) {
  return make(
    'div',
    { class: 'fields' },
    ...specs.map((spec) => ruleField(draft, base, spec, redraw)),
  );
}

/** A list of things, each with fields of its own, that can grow, shrink and change its order.
 *   path   of the list;  one  its word: "day";  name  (value, index) what a thing is called
 *   more   (value, index) what stands behind them, nothing where it is left out
 *   specs  fields of a thing;  blank  (list) a new one
 *   redraw draws the page again, with the focus on the path that it is given */
export function ruleList(
  draft,
  path,
  { one, name, specs, blank, least = 0, more = () => [] },
  redraw,
) {
  const list = draft.get(path) || [];
  const put = (next, focus) => {
    draft.set(path, next.length ? next : undefined);
    redraw(focus);
  };
  const parts = list.map((value, i) => {
    const words = name(value, i);
    return make(
      'fieldset',
      { 'data-path': `${path}[${i}]` },
      make('legend', { tabindex: '-1' }, words),
      make(
        'div',
        { class: 'fields' },
        ...specs.map((spec) => ruleField(draft, `${path}[${i}]`, spec, redraw)),
        list.length > least
          ? make(
              'p',
              {},
              button(
                'Remove',
                () =>
                  put(
                    list.filter((_, at) => at !== i),
                    path,
                  ),
                { 'aria-label': `Remove ${words}` },
              ),
            )
          : '',
      ),
      ...more(value, i),
    );
  });
  return make(
    'div',
    { 'data-path': path },
    ...parts,
    make(
      'p',
      {},
      button(`Add a ${one}`, () => put([...list, blank(list)], `${path}[${list.length}]`)),
    ),
  );
}

/** The control for a place that the server names: its own, else that of what it stands in. */
export function controlAt(place, within) {
  for (let path = place; path; path = path.replace(/(\.[^.[]+|\[\d+\]|^[^.[]+)$/, '')) {
    const found = [...within.querySelectorAll('[data-path]')].filter(
      (node) => node.dataset.path === path,
    );
    for (const node of found) {
      const control = node.matches('input, select, button')
        ? node
        : node.querySelector('input, select, legend, button');
      if (control) return control;
    }
  }
  return null;
}
