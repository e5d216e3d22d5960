// SPDX-License-Identifier: MIT
// The sheet on paper.

import {
  byId,
  cell,
  doubtWords,
  faultWords,
  lineLabel,
  lineState,
  make,
  t,
  valueShown,
} from './first.js';

/** Draws the sheet for paper: every line of the station, oldest first, with room to sign. */
export function drawSheet({ event, station, lines, desk, by, when, pointOf, summary }) {
  const head = ['sheet.seq', 'log.car', 'log.time', 'log.remarks', 'log.state'];
  const rows = [...lines].reverse().map((line) => {
    const body = line.root ? line.current.body : line;
    const state = lineState(line);
    const said = [...doubtWords(line), ...faultWords(body.faults), body.note || line.typed || ''];
    return make(
      'tr',
      { class: state === 'void' ? 'struck' : null },
      cell(line.root ? String(line.last.seq) : ''),
      cell(lineLabel(line)),
      cell(valueShown(body, pointOf(body.point)?.precision)),
      cell(said.filter(Boolean).join('; ')),
      cell(t('mark.' + state)),
    );
  });
  byId('sheet').replaceChildren(
    make('h2', {}, event),
    make('p', {}, station),
    make(
      'table',
      {},
      make(
        'thead',
        {},
        make('tr', {}, ...head.map((word) => make('th', { scope: 'col' }, t(word)))),
      ),
      make('tbody', {}, ...rows),
    ),
    make('p', {}, summary),
    make('p', {}, t('sheet.foot', { desk, by, when })),
    make('p', { class: 'sign' }, t('sheet.sign')),
  );
}
