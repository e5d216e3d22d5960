// SPDX-License-Identifier: MIT
// How the event shows penalties; the server's answers have points in any event.

import { figureText, thousandths } from '../shared/penalties.js';

let asTime = false;

/** Of an event that shows penalties as time: event.shown is "time". */
export const showAs = (event) => {
  asTime = event.shown === 'time';
};

/** A penalty of an answer, "131.000", as the event shows it. */
export const penaltyText = (penalty) =>
  asTime ? figureText(thousandths(penalty), '.', true) : penalty;

/** A penalty with its fails in words: "131.000, 1 fail". */
export const costText = ({ penalty, fails }) =>
  penaltyText(penalty) + (fails ? `, ${fails} fail${fails === 1 ? '' : 's'}` : '');
