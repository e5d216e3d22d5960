// SPDX-License-Identifier: MIT
// How the machine is doing, in words: what is fine and what somebody should look at.

import { make } from '../shared/dom.js';
import { neverBusy, para, table } from './parts.js';

const WORDS = { fine: 'fine', look: 'look at this', unknown: 'not known' };

function summed(lines) {
  const look = lines.filter((line) => line.state === 'look').map((line) => line.what);
  return look.length ? `Look at: ${look.join(', ')}.` : 'Nothing to look at.';
}

const stateCell = (line) =>
  make('span', { class: 'state', 'data-state': line.state }, WORDS[line.state]);

function rows(lines) {
  return lines.map((line) => [line.what, line.is, stateCell(line), line.advice || '']);
}

export async function showMachine(office, place) {
  const body = make('div', {});
  const refresh = async (unless = neverBusy) => {
    const { lines } = await office.api.get('status');
    if (unless()) return;
    // Drawn again only where something differs, so that nobody's place in it is lost.
    const now = JSON.stringify(lines);
    if (body.dataset.lines === now) return;
    body.dataset.lines = now;
    body.replaceChildren(
      make('p', { id: 'machine-sum' }, make('strong', {}, summed(lines))),
      table('The machine', ['What', 'How it is', 'Is', 'What to do'], rows(lines), {
        id: 'machine-lines',
      }),
    );
  };
  place.append(
    para(
      'For whoever runs the server; ',
      make('code', {}, 'cairn doctor'),
      ' on the machine itself tells more. Counts are since the server was started.',
    ),
    body,
  );
  await refresh();
  return { refresh, busy: () => false };
}
