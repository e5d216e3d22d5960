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

const carOf = (body) => String(body.car ?? '');

/** What stood there before, struck out but legible, and what stands there now. */
function corrected(before, now) {
  const old = [...new Set(before)].filter((text) => text && text !== now);
  return [...old.flatMap((text) => [make('s', {}, text), ' ']), now];
}

/** Draws the sheet for paper: every line of the station, oldest first, with room to sign. */
export function drawSheet({ event, station, lines, earlier, desk, by, when, pointOf, summary }) {
  const head = ['sheet.seq', 'log.car', 'log.time', 'log.remarks', 'log.state'];
  const valueOf = (body) => valueShown(body, pointOf(body.point)?.precision);
  const rows = [...lines].reverse().map((line) => {
    const body = line.root ? line.current.body : line;
    const state = lineState(line);
    const said = [...doubtWords(line), ...faultWords(body.faults), body.note || line.typed || ''];
    return make(
      'tr',
      { class: state === 'void' ? 'struck' : null },
      cell(line.last ? String(line.last.seq) : ''),
      cell(...corrected(earlier(line).map(carOf), lineLabel(line))),
      cell(
        ...corrected(
          earlier(line).map((old) => valueOf(old)),
          valueOf(body),
        ),
      ),
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
