// SPDX-License-Identifier: MIT
// The status line, which screen readers read aloud.

import { byId } from '../shared/dom.js';

export const status = byId('status');

export function say(text) {
  status.textContent = text;
}
