// SPDX-License-Identifier: MIT
// Fields that each stand for one value of event.json. A field knows its path, so that what the
// server says of a place can lead to it; a field left empty is not in the document.

import { button, make } from '../../shared/dom.js';
import { field, select } from '../forms.js';
import { setAt, valueAt } from './json.js';
import { SORTS } from './sorts.js';

/** What is being edited: the document, and who wants to know: `touched` of a key in a field,
 * `changed` of a new value. */
export class Draft {
  constructor(root, { touched, changed }) {
    this.root = root;
    this.touched = touched;
    this.changed = changed;
    this.unread = new Map();
  }

  /** Puts a text that stands for no value of its sort; `words` say why. */
  setUnread(path, text, words) {
    this.unread.set(path, { text, words });
    this.set(path, text);
  }

  /** Why the text at a path cannot be read; null where something else is wrong there. */
  whyUnread(path) {
    const { text, words } = this.unread.get(path) ?? {};
    return text !== undefined && text === this.get(path) ? words : null;
  }

  get(path) {
    return valueAt(this.root, path);
  }

  set(path, value) {
    setAt(this.root, path, value);
    this.changed();
  }
}

// What is longer than this many letters gets the room of two fields.
const WIDE = 28;

const idOf = (path) => 'rule-' + path.replace(/[^A-Za-z0-9]+/g, '-');

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

/** A text to type, likewise; unread(text, words) is called where it stands for nothing. */
function textControl(spec, now, done, unread) {
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
    const words = text === '' ? null : (sort.wrong?.(text) ?? null);
    if (words !== null) unread(text, words);
    else done(text === '' ? undefined : sort.read(text, now));
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
  const control = chosen
    ? choiceControl(spec, draft.get(path), done)
    : textControl(spec, draft.get(path), done, (text, words) => draft.setUnread(path, text, words));
  control.id = idOf(path);
  control.dataset.path = path;
  if (!chosen) control.addEventListener('input', () => draft.touched());
  const row = field(spec.label, control, spec.hint || null);
  if (Number(spec.size) >= WIDE) row.classList.add('wide');
  return row;
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
    const legend = make('legend', { tabindex: '-1' });
    const rest = () => list.filter((_, at) => at !== i);
    const remove = button('Remove', () => put(rest(), path));
    const call = (words) => {
      legend.textContent = words;
      remove.setAttribute('aria-label', `Remove ${words}`);
    };
    call(name(value, i));
    const box = make(
      'fieldset',
      { 'data-path': `${path}[${i}]` },
      legend,
      make(
        'div',
        { class: 'fields' },
        ...specs.map((spec) => ruleField(draft, `${path}[${i}]`, spec, redraw)),
        list.length > least ? make('p', {}, remove) : '',
      ),
      ...more(value, i),
    );
    // What it is called follows from what stands in its fields.
    box.addEventListener('change', () => call(name(draft.get(`${path}[${i}]`), i)));
    return box;
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
