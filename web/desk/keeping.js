// SPDX-License-Identifier: MIT
// Whether the browser may clear what the desk has kept, and the button that asks it not to. Some
// browsers then ask in turn, so nothing is asked before somebody pressed it, with the reason beside it.

import { byId, putWords } from './first.js';

/** Shows how it stands; `back` is called after the button was pressed. */
export async function showKeeping(back) {
  const { storage } = navigator;
  if (!storage?.persist || !storage.persisted) return;
  const box = byId('keeping');
  const show = (word, asks) => {
    byId('keeping-text').dataset.t = word;
    byId('keep-safe').dataset.t = 'keeping.keep';
    byId('keep-safe').hidden = !asks;
    box.hidden = false;
    putWords(box);
  };
  byId('keep-safe').addEventListener('click', async () => {
    const safe = await storage.persist().catch(() => false);
    show(safe ? 'keeping.safe' : 'keeping.refused', !safe);
    back();
  });
  const safe = await storage.persisted().catch(() => false);
  show(safe ? 'keeping.safe' : 'keeping.loose', !safe);
}
