// SPDX-License-Identifier: MIT
// The second script: what is seldom used. See later.js; its texts are words/seldom.*.json.

import words from '../words/seldom.en.json';
import { addWords } from './first.js';

addWords(words);

export { offerErrors } from './clock-offer.js';
export { drawSheet } from './control-sheet.js';
export { Files } from './files.js';
export { drawHelp } from './help.js';
