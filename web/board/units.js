// SPDX-License-Identifier: MIT
// Distances in kilometres or miles, as the reader likes, kept on this device. The event's own unit
// is that of its rules and its road book: it is shown until another was chosen, and to the letter.

import { route } from '../../build/web/board/columns.mjs';
import { cellAt } from './cells.js';
import { keep } from './keep.js';
import { swapWords } from './parts.js';
import { root } from './root.js';

const place = document.getElementById('units');

function setUpUnits() {
  const MILE = 1.609344; // kilometres, exactly
  const { own, km, mi } = place.dataset;
  const button = place.firstElementChild;
  const figures = [...document.querySelectorAll('.route data')].map((element) => [
    element,
    element.textContent,
  ]);
  const heads = [...document.querySelectorAll('.route thead tr')].map((tr) =>
    cellAt(tr, route, 'distance'),
  );
  const format = new Intl.NumberFormat(root.lang, {
    maximumFractionDigits: 2,
    useGrouping: false,
  });
  const factor = own === 'km' ? 1 / MILE : MILE;

  let unit = own;
  function show(wanted) {
    if (wanted === unit) return;
    unit = wanted;
    for (const [element, text] of figures)
      element.textContent = unit === own ? text : format.format(element.value * factor);
    for (const head of heads) head.textContent = unit === 'km' ? km : mi;
    swapWords(button);
  }

  const other = () => (unit === 'km' ? 'mi' : 'km');
  button.onclick = () => {
    show(other());
    keep.set('unit', unit);
  };
  if (keep.get('unit') === other()) show(other());
  place.hidden = false;
}

if (place) setUpUnits();
