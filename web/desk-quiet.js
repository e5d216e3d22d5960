// SPDX-License-Identifier: MIT
// What can wait does so while somebody types: on a slow machine it would come between a key and
// what the key shows.

const STILL_MS = 250; // since the last key or touch
const LATEST_MS = 2000; // for one who never stops

let last = -Infinity;
const note = () => {
  last = performance.now();
};
addEventListener('keydown', note, true);
addEventListener('pointerdown', note, true);

/** Resolves once no key went down for a moment, at once where none did, at the latest after 2 s. */
export async function quiet() {
  const end = performance.now() + LATEST_MS;
  for (;;) {
    const left = Math.min(last + STILL_MS, end) - performance.now();
    if (left <= 0) return;
    await new Promise((resolve) => {
      setTimeout(resolve, left);
    });
  }
}
