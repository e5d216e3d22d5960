// SPDX-License-Identifier: MIT
// The timekeeper's desk in Firefox.

import { playDesk } from '../support/engines/desk_plays.mjs';
import { Firefox } from '../support/engines/marionette.mjs';

playDesk(Firefox);
