// SPDX-License-Identifier: MIT
// The page's texts. A language is one file, words/desk.LANGUAGE.json; to add one, translate the file
// and name it here. Of the others the Makefile takes the texts alone, in the order of the English
// names: with the names four times over, the desk would be a kilobyte larger.

import en from '../words/desk.en.json';
import de from '../../build/web/words/desk.de.json';
import fr from '../../build/web/words/desk.fr.json';
import it from '../../build/web/words/desk.it.json';

const TEXTS = { de, fr, it };
export const LANGUAGES = { en: 'English', de: 'Deutsch', fr: 'Français', it: 'Italiano' };

let words = en;

export function useLanguage(language) {
  const texts = TEXTS[language];
  const names = Object.keys(en);
  words = texts ? Object.fromEntries(names.map((name, i) => [name, texts[i]])) : en;
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
