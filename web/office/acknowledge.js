// SPDX-License-Identifier: MIT
// Doubtful things that need no ruling: rows that were refused, doubts that somebody looked at and
// left as they are. They leave the queue, stay in the log, and are back when their evidence changes.

import { button, make } from '../shared/dom.js';
import { field, input, missingReason, onSubmit, showFaults } from './forms.js';
import { moment } from './moments.js';
import { para, table } from './parts.js';

const FEW = 10;

/** A form that asks why something is left as it is, or taken up again.
 *   title  what it is;  parts  its evidence, nodes;  id  of the case;  again  taken up again
 *   done   called once it is kept;  back  when the form is left, null for no way back */
export function acknowledgeForm(
  office,
  { title, parts = [], id, again = false, done, back = null },
) {
  const reason = input('why', { size: '50' });
  const form = make(
    'form',
    { class: 'sheet', novalidate: true, id: 'acknowledge' },
    make('h2', { tabindex: '-1' }, title),
    ...parts,
    field(again ? 'Why it is looked at again' : 'Why it may stay as it is', reason, 'for the log'),
    make(
      'p',
      { class: 'acts' },
      make('button', {}, again ? 'Take it up again' : 'Acknowledge'),
      back ? button('Back', back) : '',
    ),
  );
  onSubmit(form, async () => {
    if (showFaults(form, missingReason(office, reason, 'Say why, for those who ask later.')))
      return;
    await office.api.post('doubts', {
      case: id,
      by: office.by(),
      reason: reason.value.trim(),
      state: again ? 'reopened' : 'acknowledged',
    });
    office.say(again ? 'It is in the queue again.' : 'Acknowledged; it stays in the log.');
    await done();
  });
  return form;
}

const rowText = (row) =>
  row.row === 0
    ? 'many rows; the log has the upload'
    : [
        row.point || 'no point',
        row.car ? 'car ' + row.car : 'no car',
        row.time || row.elapsed,
        row.faults,
      ]
        .filter(Boolean)
        .join(', ');

/** What a refused row says, for the form. */
function refusedParts(office, row) {
  return [
    para(
      'The row reads: ',
      make('span', { class: 'typed' }, rowText(row)),
      row.row === 0
        ? '. Whoever sent them was told of each.'
        : '. Whoever sent it was told at once; a reading that is sent right, under the same id or as its correction, settles it by itself.',
    ),
    para(
      'Sent ',
      moment(office, row.at),
      row.times > 1 ? `, ${row.times} times` : '',
      '. ',
      make('a', { href: '#log?kind=readings' }, 'Uploads in the log'),
    ),
  ];
}

/** Refused rows in the queue; `show` opens a form in its place. */
export function refusedTable(office, { count, refusals }, show, done, back) {
  if (!count) return para('No refused row waits.');
  const more = count > refusals.length ? `, the latest ${refusals.length} of them here` : '';
  const rows = table(
    count === 1 ? '1 row was refused' : `${count} rows were refused${more}`,
    ['What', 'The row reads', 'Sent', 'Do'],
    refusals.map((row) => [
      row.title,
      rowText(row),
      moment(office, row.at),
      button(
        'Look',
        () =>
          show(
            acknowledgeForm(office, {
              title: row.title,
              parts: refusedParts(office, row),
              id: row.id,
              done,
              back,
            }),
          ),
        { 'aria-label': `Look at ${row.title}` },
      ),
    ]),
    { id: 'refused' },
  );
  // Many are folded away, so that they do not push what moves places out of sight.
  return count <= FEW
    ? rows
    : make('details', {}, make('summary', {}, `${count} rows were refused`), rows);
}

/** What was acknowledged, folded away. */
export function acknowledgedTable(office, list, show, done, back) {
  if (!list.length) return '';
  return make(
    'details',
    { id: 'acknowledged' },
    make('summary', {}, `${list.length} acknowledged`),
    table(
      'Acknowledged, the latest first',
      ['What', 'By', 'When', 'Why', 'Do'],
      list.map((one) => [
        one.title,
        one.by || '–',
        moment(office, one.at),
        one.reason,
        button(
          'Take up again',
          () =>
            show(
              acknowledgeForm(office, { title: one.title, id: one.case, again: true, done, back }),
            ),
          { 'aria-label': `Take up again: ${one.title}` },
        ),
      ]),
    ),
  );
}
