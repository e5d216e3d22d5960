// SPDX-License-Identifier: MIT
// What the second script takes from the first. The Makefile leaves its imports of this file as
// imports of desk.js: the browser has that already, and each module once.

export { byId, button, cell, make, setText } from '../shared/dom.js';
export { faultLetters } from './command.js';
export { doubtWords, faultWords, lineLabel, lineState, valueShown } from './lines.js';
export { stationName } from './view.js';
export { addWords, putWords, t } from './words.js';
