// SPDX-License-Identifier: MIT
// The offer to correct the stamps that were made on a wrong clock.

import { clockErrors, errorText } from './clock-errors.js';
import { button, lineLabel, make, t } from './first.js';

const NAMED = 12; // cars that are named; of more the rest is counted

/** What is known of stretches by now, this visit's and those of earlier ones, which is kept. */
async function basesOf({ clock, log, store }) {
  const before = (await store?.get('stretches').catch(() => null)) || {};
  const used = new Set(log.chains.map((chain) => chain.root.stretch));
  const all = Object.entries({ ...before, ...clock.bases() }).filter(([name]) => used.has(name));
  const bases = Object.fromEntries(all);
  await store?.set('stretches', bases).catch(() => {});
  return bases;
}

/** After a comparison: draws into `box` what it tells of earlier stamps, with a button for each error.
 *  fix(lines, reason, event) → Promise: corrects them */
export async function offerErrors(desk, box, fix) {
  const { clock, log, store } = desk;
  const left = new Set((await store?.get('left').catch(() => null)) || desk.left || []);
  const now = clock.at(performance.now());
  if (!now.measured) return;
  const bases = await basesOf(desk);
  const groups = clockErrors(log.chains, left, bases, { ...now, visit: clock.visit });
  const sign = [t('errors.leave'), ...groups.map(signOf)].join();
  box.hidden = groups.length === 0;
  if (box.dataset.sign === sign) return;
  box.dataset.sign = sign;
  const again = () => offerErrors(desk, box, fix);
  box.replaceChildren(
    ...groups.map((group) =>
      drawGroup(group, {
        fix: async (reason, event) => {
          await fix(group.lines, reason, event);
          await again();
        },
        leave: async () => {
          desk.left = [...left, ...group.lines.map(({ chain }) => chain.id)];
          await store?.set('left', desk.left).catch(() => {});
          await again();
        },
      }),
    ),
  );
}

const signOf = ({ by, lines }) => Math.round(by) + ' ' + lines.map(({ chain }) => chain.last.id);

function drawGroup({ by, sure, lines }, act) {
  const cars = lines.slice(0, NAMED).map(({ chain }) => lineLabel(chain));
  if (lines.length > NAMED) cars.push('+' + (lines.length - NAMED));
  const values = { by: errorText(by), cars: cars.join(', '), n: lines.length };
  const word = sure ? 'sure' : 'likely';
  return make(
    'div',
    {},
    make('p', {}, t('errors.' + word, values)),
    make(
      'div',
      { class: 'row' },
      button(t('errors.fix', values), (event) => act.fix(t('reason.clock.' + word, values), event)),
      button(t('errors.leave'), act.leave),
    ),
  );
}
