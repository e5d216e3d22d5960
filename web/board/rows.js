// SPDX-License-Identifier: MIT
// The rows of the standings that stand on the page.

import { byId, setText } from '../shared/dom.js';
import { cellOf } from './cells.js';
import { thousandths } from '../shared/penalties.js';
import { figure, glide } from './parts.js';
import { sorted } from './sorts.js';

export const boardBody = () => document.querySelector('#board table.board:not(.plain) > tbody');
const single = document.querySelectorAll('#board table.board').length === 1;
export const rowOf = (car) => byId('n' + car);
export const carOf = (tr) => parseInt(tr.id.slice(1));

/** The rows of all cars, placed or not. */
export const rowsOfCars = () => [...document.querySelectorAll('#board tr[id]')];

const others = (data, key) => data[key].map((text) => text.split(' ')[0]).join(' ');
const shown = (selector) =>
  [...document.querySelectorAll(`#board table.${selector} tr[id]`)]
    .map((tr) => tr.id.slice(1))
    .join(' ');

/** True where the figures are about the rows that stand on the page, which shows `after` and `state`. */
export const fits = (data, { after, state }) =>
  single &&
  data.car &&
  boardBody() &&
  !byId('q').defaultValue &&
  data.after === after &&
  data.status === state &&
  others(data, 'pending') === shown('pending') &&
  others(data, 'unplaced') === shown('others:not(.pending)') &&
  data.car.length === boardBody().rows.length &&
  data.car.every(rowOf);

function writeRow(tr, data, i, place) {
  const total = thousandths(data.penalty[i]);
  const change = data.change[i];
  const behind = (other) => figure(total - thousandths(data.penalty[other]));
  const put = (key, text) => setText(cellOf(tr, key), text);
  put('place', (data.equal[i] ? '=' : '') + place);
  put('change', change ? (change > 0 ? '▲' : '▼') + Math.abs(change) : '');
  put('penalty', figure(total));
  put('to-leader', data.leader?.[i] || behind(0));
  put('to-ahead', data.next?.[i] || behind(i ? i - 1 : 0));
  const era = cellOf(tr, 'era').textContent.replace(/ ?\d*$/, '');
  put('era', (/[A-Za-z]/.test(era) ? era + ' ' : '') + (data.place[i] || ''));
  put('note', data.note[i]);
  cellOf(tr, 'note').dataset.r = data.rulings[i];
}

// Rows are moved, then drawn from where they were to where they are.
function order(body, rows) {
  if (rows.every((tr, i) => body.rows[i] === tr)) return;
  const inSight = (tr) => {
    const b = tr.getBoundingClientRect();
    return b.bottom > -400 && b.top < innerHeight + 400;
  };
  const before = new Map(
    [...body.rows].filter(inSight).map((tr) => [tr, tr.getBoundingClientRect().top]),
  );
  rows.forEach((tr, i) => {
    if (body.rows[i] !== tr) body.insertBefore(tr, body.rows[i] || null);
  });
  const ways = [...before].map(([tr, top]) => [tr, top - tr.getBoundingClientRect().top]);
  for (const [tr, way] of ways) glide(tr, way);
}

/** Writes the figures into their rows, and moves these to their places. */
export function writeRows(data) {
  const body = boardBody();
  let place = 0;
  const rows = data.car.map((car, i) => {
    const tr = rowOf(car);
    const same =
      data.equal[i] &&
      i &&
      data.equal[i - 1] &&
      data.penalty[i] === data.penalty[i - 1] &&
      !data.next?.[i];
    if (!same) place = i + 1;
    writeRow(tr, data, i, place);
    return tr;
  });
  order(body, sorted(body, rows));
}

/** The place that a car's row shows; 0 where it has none. */
export const placeOf = (car) => {
  const tr = rowOf(car);
  const place = tr && cellOf(tr, 'place');
  return place ? Number(place.textContent.replace('=', '')) : 0;
};
