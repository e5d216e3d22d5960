// SPDX-License-Identifier: MIT
// The page's texts. Each language is a script of its own, words-LANGUAGE.js, of which a desk loads
// one: with all of them it would be many kilobytes more for everybody. The Makefile makes them of the
// texts alone, in the order of their names, which stand in the scripts that say them. To add a
// language, translate words/desk.en.json and words/seldom.en.json and name it here and there.

import names from '../../build/web/words/desk.names.json';
import { load } from './later.js';

export const LANGUAGES = { en: 'English', de: 'Deutsch', fr: 'Français', it: 'Italiano' };

const catalogues = [names]; // this script's, and then the second one's
let texts = []; // a list for each catalogue
const words = new Map();

function putTogether() {
  catalogues.forEach((list, i) =>
    list.forEach((name, j) => words.set(name, texts[i]?.[j] ?? name)),
  );
}

/** Takes in the names of the second script's texts. */
export function addWords(list) {
  catalogues.push(list);
  putTogether();
}

/** Where the language cannot be loaded the one before stays. */
export async function useLanguage(language) {
  texts = (await load('words-' + language)).default;
  putTogether();
  document.documentElement.lang = language;
}

/** The text of that name, each {value} filled in. */
export function t(name, values = {}) {
  return (words.get(name) ?? name).replace(/\{(\w+)\}/g, (all, key) => values[key] ?? all);
}

/** Puts the texts in below `root`: data-t names an element's text, data-t-label its aria-label. */
export function putWords(root) {
  for (const node of root.querySelectorAll('[data-t]')) node.textContent = t(node.dataset.t);
  for (const node of root.querySelectorAll('[data-t-label]')) {
    node.setAttribute('aria-label', t(node.dataset.tLabel));
  }
}

/** The first of the reader's languages that there is. */
export function chooseLanguage(wanted) {
  return wanted.map((l) => l.slice(0, 2)).find((l) => l in LANGUAGES) || 'en';
}
