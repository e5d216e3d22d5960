// SPDX-License-Identifier: MIT
// What is said to everybody, also to those who do not see the page.

import { byId } from '../shared/dom.js';

export const status = byId('status');

export function say(text) {
  status.textContent = text;
}
