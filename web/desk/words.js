// SPDX-License-Identifier: MIT
// The page's texts. A language is one file, words/desk.LANGUAGE.json; to add one, translate the file
// and name it here.

import de from '../words/desk.de.json';
import en from '../words/desk.en.json';
import fr from '../words/desk.fr.json';
import it from '../words/desk.it.json';

const CATALOGUES = { en, de, fr, it };
export const LANGUAGES = { en: 'English', de: 'Deutsch', fr: 'Français', it: 'Italiano' };

let words = en;

export function useLanguage(language) {
  words = CATALOGUES[language] || en;
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
