// SPDX-License-Identifier: MIT
// The big screen: as many rows as fit, a new sheet every ten seconds, and the whole board fetched
// again before the first sheet. A key or the button holds it.

import { pageAnew, swapWords } from './parts.js';
import { localTimes } from './local-times.js';

const TURN = 10000;
const hold = document.getElementById('hold');
const sheet = document.getElementById('sheet');
let first = 0,
  held = false;

const rows = () => [...document.querySelectorAll('table.large > tbody > tr')];

// Shows rows from `first` on, until the window is full; returns the next one.
function show() {
  const all = rows();
  all.forEach((tr) => {
    tr.hidden = true;
  });
  let last = first;
  while (last < all.length) {
    all[last].hidden = false;
    if (all[last].getBoundingClientRect().bottom > innerHeight - 8 && last > first) {
      all[last].hidden = true;
      break;
    }
    last++;
  }
  sheet.textContent = `${first + 1}–${Math.min(last, all.length)} / ${all.length}`;
  return last;
}

async function renew() {
  try {
    const next = await pageAnew();
    for (const selector of ['table.large', '#state']) {
      const now = document.querySelector(selector),
        then = next.querySelector(selector);
      if (now && then) now.replaceWith(document.adoptNode(then));
    }
    localTimes(document);
  } catch {
    /* the sheets that are there go on */
  }
}

let next = 0;
async function turn() {
  if (held || document.visibilityState === 'hidden') return;
  first = next;
  if (first >= rows().length) {
    first = 0;
    await renew();
  }
  next = show();
}

document.getElementById('turn').hidden = false;
hold.onclick = () => {
  held = !held;
  swapWords(hold);
};
addEventListener('keydown', (e) => {
  if (e.key === ' ' && e.target !== hold) {
    e.preventDefault();
    hold.click();
  }
});
addEventListener('resize', () => {
  next = show();
});
next = show();
setInterval(turn, TURN);
