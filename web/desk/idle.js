// SPDX-License-Identifier: MIT
// Work that can wait is put off while somebody types: on a slow machine it would come between a key
// and what the key shows.

const IDLE_MS = 250; // since the last key or touch
const WAITS_MAX = 8; // then the work is done although somebody still types

let last = -Infinity;
const note = () => {
  last = performance.now();
};
addEventListener('keydown', note, true);
addEventListener('pointerdown', note, true);

/** Resolves once no key or pointer went down for IDLE_MS, at the latest after 2 s. */
export async function idle() {
  for (let i = 0; i < WAITS_MAX && performance.now() - last < IDLE_MS; i++) {
    await new Promise((resolve) => {
      setTimeout(resolve, IDLE_MS);
    });
  }
}
