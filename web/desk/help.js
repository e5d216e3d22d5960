// SPDX-License-Identifier: MIT
// The list of keys.

import { faultLetters, make, t } from './first.js';

// What stands in brackets is a key.
const KEYS = {
  stamp: '117 [↵]',
  blank: '[+] [B]',
  give: '117 [✱] [G]',
  undo: '[−] [U]',
  typed: '117 104207 [↵]',
  elapsed: '[F4] 117 1:23.4 [↵]',
  faults: '', // those of the place
  laps: '[↵]',
  sighting: '117 [/]',
  pick: '[↓] [↑] [↵]',
  note: '[F2]',
  place: '[PgDn] [PgUp] [/]',
  escape: '[Esc]',
};

/** Draws it into `box` for a station, null where none is known. */
export function drawHelp(box, station) {
  const letters = Object.keys(faultLetters(station?.faults || []));
  const faults = letters.map((letter) => `[${letter.toUpperCase()}]`).join(' ');
  const list = Object.entries({ ...KEYS, faults })
    .filter(([, keys]) => keys)
    .flatMap(([name, keys]) => [
      make('dt', {}, ...keyCaps(keys)),
      make('dd', {}, t('help.' + name)),
    ]);
  box.replaceChildren(
    make('h2', { id: 'help-title' }, t('help.title')),
    make('dl', { id: 'help-list' }, ...list),
  );
}

function keyCaps(text) {
  return text
    .split(/(\[[^\]]+\])/)
    .filter(Boolean)
    .map((part) => (part.startsWith('[') ? make('kbd', {}, part.slice(1, -1)) : part));
}
