// SPDX-License-Identifier: MIT
// Help for a station: first the three lines that one needs there, then its other keys, then what to do
// when something is wrong.

import { button, faultLetters, make, stationName, t } from './first.js';

const FIRST = 3;
const TROUBLES = ['number', 'offline', 'clock', 'red', 'paper', 'numlock'];

// What stands in brackets is a key.
const KEYS = {
  stamp: '117 [↵]',
  laps: '[↵]',
  sighting: '117 [/]',
  measured: '117 1:23.4 [↵]',
  faults: '', // those of the place
  blank: '[+] [B]',
  give: '117 [✱] [G]',
  undo: '[−] [U]',
  typed: '117 104207 [↵]',
  elapsed: '[F4]',
  pick: '[↓] [↑] [↵]',
  note: '[F2]',
  place: '[PgDn] [PgUp] [/]',
  night: '[F9]',
  escape: '[Esc]',
};

/** The keys of a station, those that matter most there first. */
function keysOf({ laps, takes, faults }, choice) {
  const time = takes.includes('time');
  const elapsed = takes.includes('elapsed');
  const sighting = takes.includes('sighting');
  return [
    time && 'stamp',
    laps && 'laps',
    sighting && 'sighting',
    elapsed && !sighting && 'measured',
    faults.length > 0 && 'faults',
    'blank',
    'give',
    'undo',
    time && 'typed',
    time && elapsed && !sighting && 'elapsed',
    'note',
    'pick',
    choice && 'place',
    'night',
    'escape',
  ].filter(Boolean);
}

function list(id, names, keys) {
  return make(
    'dl',
    { id, class: 'keys' },
    ...names.flatMap((name) => [
      make('dt', {}, ...keyCaps(keys[name])),
      make('dd', {}, t('help.' + name)),
    ]),
  );
}

/**
 * Draws it into `box`.
 *   station  null where none is known;  choice  whether there are others
 *   close()  is called by its button
 */
export function drawHelp(box, station, choice, close) {
  const here = station || { takes: ['time'], faults: [] };
  const faults = here.part === 'start' ? [] : here.faults;
  const letters = Object.keys(faultLetters(faults));
  const keys = { ...KEYS, faults: letters.map((one) => `[${one.toUpperCase()}]`).join(' ') };
  const names = keysOf({ ...here, faults: letters }, choice);
  box.replaceChildren(
    make(
      'div',
      { class: 'row' },
      make('h2', { id: 'help-title' }, station ? stationName(station) : t('help.title')),
      button(t('help.close') + ' · Esc', close),
    ),
    list('help-first', names.slice(0, FIRST), keys),
    make('h3', {}, t('help.more')),
    list('help-list', names.slice(FIRST), keys),
    make('h3', {}, t('help.trouble')),
    make(
      'ul',
      { class: 'troubles' },
      ...TROUBLES.map((name) => make('li', {}, t('trouble.' + name))),
    ),
  );
}

function keyCaps(text) {
  return text
    .split(/(\[[^\]]+\])/)
    .filter(Boolean)
    .map((part) => (part.startsWith('[') ? make('kbd', {}, part.slice(1, -1)) : part));
}
