// SPDX-License-Identifier: MIT
// The second script: what is seldom used. See later.js; its texts are words/seldom.*.json.

import names from '../../build/web/words/seldom.names.json';
import { addWords } from './first.js';
import { drawHelp as drawKeys } from './help.js';
import { offerPractice } from './practice.js';

addWords(names);

export { offerErrors } from './clock-offer.js';
export { drawSheet } from './control-sheet.js';
export { Files } from './files.js';
export { showKeeping } from './keeping.js';

/** The help, with practice offered below it; see help.js. */
export function drawHelp(box, ...more) {
  drawKeys(box, ...more);
  offerPractice(box);
}
