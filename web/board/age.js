// SPDX-License-Identifier: MIT
// How old the figures are.

import { byId, setText } from '../shared/dom.js';
import { filled } from './parts.js';
import { status } from './status.js';
import { root } from './root.js';

/** How old what is shown is: by the moment of the server's last answer, `asked`, 0 where there was none. */
export function showAge(asked) {
  if (!asked) return;
  const seconds = Math.max(0, Math.round((Date.now() - asked) / 1000));
  const unit =
    seconds < 60
      ? [seconds, 'second']
      : seconds < 3600
        ? [Math.floor(seconds / 60), 'minute']
        : [Math.floor(seconds / 3600), 'hour'];
  const text = new Intl.RelativeTimeFormat(root.lang, { style: 'short' })
    .format(-unit[0], unit[1])
    .replace(/\.$/, ''); // the sentence has its own
  setText(byId('age'), filled(status.dataset.checked, text));
}
