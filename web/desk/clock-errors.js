// SPDX-License-Identifier: MIT
// Which stamps were made on a wrong clock, as a comparison tells afterwards.

import { AT_ONCE, clockFlagsOf } from './marks.js';

const LEAST_MS = 50; // less is not worth a correction

/**
 * chains  the log's;  left  Set of ids of those that a person has left as they are
 * bases   {stretch: {base, sure}}: what the running clock of a stretch is to be raised by
 * now     {wall, offset, visit}: of the comparison. In another visit's stretch of which nothing is
 *         known the machine's own clock is taken to have gone on as it goes now, which is not sure.
 * Returns groups of the same error [{by, sure, lines: [{chain, ms}]}]: `ms` the true instant of the
 * stamp, `by` that less the one that was taken.
 */
export function clockErrors(chains, left, bases, now) {
  const groups = new Map();
  for (const chain of chains) {
    const known = left.has(chain.id) ? null : truth(chain, bases, now);
    const by = known && known.ms - chain.root.made;
    if (!known || Math.abs(by) < LEAST_MS) continue;
    const key = Math.round(by / LEAST_MS) + ' ' + known.sure;
    if (!groups.has(key)) groups.set(key, { by, sure: known.sure, lines: [] });
    groups.get(key).lines.push({ chain, ms: known.ms });
  }
  return [...groups.values()];
}

function truth({ root, current, voided }, bases, now) {
  const { body } = current;
  const { stretch } = root;
  if (voided || !stretch || !AT_ONCE.includes(body.source) || !clockFlagsOf(body).length)
    return null;
  const known = bases[stretch];
  if (known) return { ms: known.base + body.mono_ms, sure: known.sure };
  if (stretch.startsWith(now.visit + '.') || body.wall_ms > now.wall) return null;
  return { ms: body.wall_ms + now.offset, sure: false };
}

/** An error in words, with its sign: −47.0 s. */
export function errorText(ms) {
  const seconds = Math.abs(ms) / 1000;
  return (ms < 0 ? '−' : '+') + seconds.toFixed(seconds < 10 ? 2 : 1) + ' s';
}
