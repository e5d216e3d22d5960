// SPDX-License-Identifier: MIT
// The page's texts. Those of the second script (seldom.js) stand in files of their own, and so do
// those of each other language, of which a desk loads one: both would be many kilobytes more for
// everybody. To add a language, translate words/desk.en.json and words/seldom.en.json and name it
// here and in the Makefile, which makes a script words-LANGUAGE.js of the texts alone, in the order
// of the English names.

import en from '../words/desk.en.json';
import { load } from './later.js';

export const LANGUAGES = { en: 'English', de: 'Deutsch', fr: 'Français', it: 'Italiano' };

const catalogues = [en]; // the desk's, and then the second script's
let texts = []; // of another language: a list for each catalogue
let words = en;

function putTogether() {
  words = Object.assign(
    {},
    ...catalogues.map((catalogue, i) =>
      texts[i]
        ? Object.fromEntries(Object.keys(catalogue).map((name, j) => [name, texts[i][j]]))
        : catalogue,
    ),
  );
}

/** Takes in the second script's texts, {name: in English}. */
export function addWords(catalogue) {
  catalogues.push(catalogue);
  putTogether();
}

/** Where the language cannot be loaded the one before stays. */
export async function useLanguage(language) {
  texts = language === 'en' ? [] : (await load('words-' + language)).default;
  putTogether();
  document.documentElement.lang = language;
}

/** The text of that name, each {value} filled in. */
export function t(name, values = {}) {
  return (words[name] ?? name).replace(/\{(\w+)\}/g, (all, key) => values[key] ?? all);
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
