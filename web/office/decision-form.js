// SPDX-License-Identifier: MIT
// The form of a ruling: asked for its reason, shown with its effect, then kept; nothing is kept before
// its effect was seen. The review and the log of decisions use it, and each section that
// makes one decision.

import { button, make } from '../shared/dom.js';
import { Refused } from './api.js';
import { effectTables } from './effect.js';
import { field, input, missingReason, onSubmit, showFaults, tryAct } from './forms.js';
import { para } from './parts.js';

/** A decision's row with what every one has: reason, time and name. */
export const withReason = (office, row, reason) => ({
  ...row,
  reason,
  at: new Date().toISOString(),
  by: office.by(),
});

/** Throws where the server refused a row. */
function accept(reply) {
  if (reply.refused.length) throw new Refused(400, reply.refused[0].reason);
}

/**
 * The form.
 *   id       of the form, or null;  head  what stands before the reason: nodes
 *   reason   what stands in the reason at first
 *   keep     what the button says;  links  what stands beside it;  tail  below all: nodes
 *   faults   those of the fields in the head, as `summary` takes them
 *   rows     (reason) → {readings, decisions} that are to be tried, or a promise of them
 *   tag      under which readings may be changed
 *   said     what is said once it is kept;  done  called then
 *   late     called instead, with the error and the reason, where others were first with readings
 */
export function decisionForm(office, parts) {
  const { id = null, head, keep, links = [], tail = [], faults = () => [] } = parts;
  const reason = input('reason', { size: '50', value: parts.reason || '' });
  const effect = make('div', { 'aria-live': 'polite' });
  const kept = button(keep, () => save(), { hidden: true, class: 'strong' });
  const form = make(
    'form',
    { class: 'sheet', novalidate: true, id },
    ...head,
    field('Reason', reason, 'for everybody to read'),
    para(
      make('button', {}, 'Show what it does'),
      ...[kept, ...links].flatMap((node) => [' ', node]),
    ),
    effect,
    ...tail,
  );
  let tried = null;
  const forget = () => {
    tried = null;
    kept.hidden = true;
    effect.replaceChildren();
  };
  const save = () =>
    tryAct(
      form,
      async () => {
        for (const name of ['readings', 'decisions']) {
          if (!tried[name].length) continue;
          accept(await office.api.post(name, tried[name], tried.tags[name]));
        }
        office.say(parts.said);
        await parts.done();
      },
      async (error) => {
        const late = parts.late && error.status === 412 && tried.readings.length;
        if (late) await parts.late(error, reason.value);
        else forget();
        return late;
      },
    );
  form.addEventListener('input', forget);
  form.addEventListener('reset', forget);
  onSubmit(form, async () => {
    if (showFaults(form, [...faults(), ...missingReason(office, reason)])) return;
    const { tag } = await office.api.tagged('decisions');
    const { readings = [], decisions = [] } = await parts.rows(reason.value.trim());
    const reply = await office.api.post('effects', [...decisions, ...readings]);
    accept(reply);
    tried = { readings, decisions, tags: { readings: parts.tag, decisions: tag } };
    effect.replaceChildren(...effectTables(reply));
    kept.hidden = false;
    kept.focus();
  });
  return form;
}

/** Puts a form for one decision whose kind is known into its place, and gives the focus back where
 * it came from; once it was kept, to the control of the name `next`, which stands there now.
 * `redraw` brings the tables up to date. `open` takes
 *   title   what it is;  words  what it means, in a sentence
 *   fields  rows made by `field`, which stand before the reason;  faults  those of them
 *   row     makes the decision's kind, car, point and value
 *   reason, keep  as above;  next */
export function decisionPlace(office, redraw) {
  const place = make('div', {});
  let from = null;
  const back = (name = from) => {
    place.replaceChildren();
    const again =
      name &&
      [...document.querySelectorAll('[aria-label]')].find(
        (node) => node.getAttribute('aria-label') === name,
      );
    (again || document.getElementById('office')).focus();
  };
  const open = ({ title, words, fields = [], row, faults, reason, keep, next }) => {
    from = document.activeElement && document.activeElement.getAttribute('aria-label');
    const form = decisionForm(office, {
      id: 'act',
      head: [make('h2', { tabindex: '-1' }, title), para(words), ...fields],
      links: [button('Leave it', () => back())],
      faults,
      reason,
      keep,
      rows: (why) => ({ decisions: [withReason(office, row(), why)] }),
      said: `${title}: kept.`,
      done: async () => {
        await redraw();
        back(next);
      },
    });
    place.replaceChildren(form);
    form.querySelector('h2').focus();
  };
  return { place, open, back };
}

/** The undoing of a decision, for `open`. `next` as there. */
export const undoing = (decision, title, next) => ({
  title,
  next,
  words: 'What was decided no longer holds; it stays in the log.',
  keep: 'Keep this',
  row: () => ({ kind: 'revoke', value: decision.id }),
});
