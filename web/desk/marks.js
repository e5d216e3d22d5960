// SPDX-License-Identifier: MIT
// What the flags of a reading say of it.

/** Sources whose time is that of the key. */
export const AT_ONCE = ['key', 'pad', 'blank'];

const flagsOf = (body) => (body.flags || '').split(' ');

/** Those that tell of the clock. */
export const clockFlagsOf = (body) => flagsOf(body).filter((flag) => flag.startsWith('clock-'));

/** Whether the reading of a line was made in a rehearsal. */
export const isMarked = (chain) => flagsOf(chain.current.body).includes('rehearsal');

/** Whether a line is of a rehearsal, and still there: it never counts, and can be thrown away with all
 *  the others. */
export const isTrial = (chain) => !chain.voided && isMarked(chain);
