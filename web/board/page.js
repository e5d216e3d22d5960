// SPDX-License-Identifier: MIT
// What every public page can do better with a script: day and night, local times, pins, copies.
// Loaded before the page is drawn, so that a theme chosen by hand never flashes.

import { keep } from './keep.js';
import { swapWords } from './parts.js';
import * as pins from './pins.js';
import { setUpSorts } from './sorts.js';
import { localTimes } from './local-times.js';
import { lastVisit } from './visits.js';
import { root } from './root.js';

const event = root.dataset.event || '';
const theme = keep.get('theme');
if (theme === 'light' || theme === 'dark') root.dataset.theme = theme;

// The place of what a script adds is reserved from the first paint on, so that nothing jumps.
root.classList.add('js');
if (event && pins.list().length) {
  root.classList.add('pinned');
  root.style.setProperty('--pins', pins.list().length);
}

const { revision } = root.dataset;
if (revision && lastVisit() && lastVisit().revision !== revision) root.classList.add('changed');

const setUpTheme = () => {
  const button = document.getElementById('theme');
  const dark = () =>
    root.dataset.theme
      ? root.dataset.theme === 'dark'
      : matchMedia('(prefers-color-scheme: dark)').matches;
  const label = () => {
    button.textContent = dark() ? button.dataset.light : button.dataset.dark;
  };
  label();
  button.hidden = false;
  button.onclick = () => {
    root.dataset.theme = dark() ? 'light' : 'dark';
    keep.set('theme', root.dataset.theme);
    label();
  };
};

const copied = async () => {
  if (navigator.clipboard) return navigator.clipboard.writeText(location.href);
  // Plain http from another machine has no clipboard of its own.
  const field = document.createElement('input');
  field.value = location.href;
  document.body.append(field);
  field.select();
  document.execCommand('copy');
  field.remove();
};

const setUpTools = () => {
  const copy = document.getElementById('copy');
  copy.hidden = false;
  copy.onclick = async () => {
    await copied();
    copy.textContent = copy.dataset.done;
  };
  const print = document.getElementById('print');
  print.hidden = false;
  print.onclick = () => window.print();
  // What is folded cannot be opened on paper.
  addEventListener('beforeprint', () => {
    for (const d of document.querySelectorAll('details')) d.open = true;
  });
};

const setUpPins = () => {
  const place = document.getElementById('pin');
  if (place) {
    const car = Number(place.dataset.car);
    for (const button of place.querySelectorAll('button')) {
      if (pins.has(button.dataset.pin, car)) swapWords(button);
      button.onclick = () => {
        pins.toggle(button.dataset.pin, car);
        swapWords(button);
      };
    }
    place.hidden = false;
  }
  const rivals = document.getElementById('rivals');
  const list = pins.list().slice(0, 6);
  if (rivals && list.length > 1) {
    rivals.href += (rivals.search ? '&' : '?') + 'cars=' + list.join(',');
    rivals.hidden = false;
  }
  const mark = document.getElementById('mark');
  if (mark && mark.value === '' && pins.read().own) mark.value = pins.read().own;
};

// The service worker keeps copies of pages that were opened; this one was opened before it ran.
const keepCopy = async () => {
  try {
    const scope = `/${event}/`;
    await navigator.serviceWorker.register(scope + 'board-worker.js', { scope });
    const files = [...document.querySelectorAll('link[rel=stylesheet], script[src]')].map(
      (e) => e.href || e.src,
    );
    (await navigator.serviceWorker.ready).active.postMessage([location.href, ...files]);
  } catch {
    /* refused; the page does without */
  }
};

document.addEventListener('DOMContentLoaded', () => {
  localTimes(document);
  setUpTheme();
  setUpTools();
  setUpPins();
  // The live board's script does it itself, for it moves the rows.
  if (!document.getElementById('live')) setUpSorts(document);
  if ('serviceWorker' in navigator && event && !('copy' in root.dataset))
    addEventListener('load', keepCopy);
});
