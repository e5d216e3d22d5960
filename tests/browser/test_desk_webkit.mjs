// SPDX-License-Identifier: MIT
// The timekeeper's desk in WebKit, the engine of Safari.

import { playDesk } from '../support/engines/desk_plays.mjs';
import { WebKit } from '../support/engines/webkit.mjs';

playDesk(WebKit);
