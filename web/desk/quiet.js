// SPDX-License-Identifier: MIT
// What can wait does so while somebody types: on a slow machine it would come between a key and
// what the key shows.

const STILL_MS = 250; // since the last key or touch
const LOOKS = 8; // for one who never stops

let last = -Infinity;
const note = () => {
  last = performance.now();
};
addEventListener('keydown', note, true);
addEventListener('pointerdown', note, true);

/** Resolves once no key went down for a moment, at once where none did, at the latest after 2 s. */
export async function quiet() {
  for (let i = 0; i < LOOKS && performance.now() - last < STILL_MS; i++) {
    await new Promise((resolve) => {
      setTimeout(resolve, STILL_MS);
    });
  }
}
