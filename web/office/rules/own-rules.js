// SPDX-License-Identifier: MIT
// The penalty rules that checks and pads have of their own, in a form.

import { make } from '../../shared/dom.js';
import { fields } from './form.js';
import { ownSpecs } from './words.js';

/** A draft in which a pad that is a target alone becomes an object before it gets a rule. */
const padDraft = (draft) => ({
  get: (path) => draft.get(path),
  touched: () => draft.touched(),
  setUnread(path, text, words) {
    this.set(path, text);
    draft.setUnread(path, text, words);
  },
  set(path, value) {
    const pad = path.slice(0, path.indexOf('.penalty.'));
    const now = draft.get(pad);
    if (!now || typeof now !== 'object') draft.set(pad, { target: now });
    draft.set(path, value);
    const after = draft.get(pad);
    if (after && typeof after === 'object' && after.penalty === undefined)
      draft.set(pad, after.target);
  },
});

/** The rules that checks or pads have of their own. */
export function ownRules(draft, base, item, redraw) {
  const [key, word] = item.kind === 'regularity' ? ['checks', 'Check'] : ['targets', 'Pad'];
  const parts = item[key];
  if (!['regularity', 'set-time'].includes(item.kind) || !Array.isArray(parts)) return [];
  const owner = key === 'targets' ? padDraft(draft) : draft;
  return parts.map((part, n) =>
    make(
      'details',
      { open: part?.penalty !== undefined },
      make('summary', {}, `What ${word.toLowerCase()} ${n + 1} charges otherwise than the rest`),
      fields(owner, `${base}.${key}[${n}]`, ownSpecs(item.kind), redraw),
    ),
  );
}
