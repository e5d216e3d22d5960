// SPDX-License-Identifier: MIT
// What the scripts of public pages share: figures in the page's language, buttons that change their
// words, animated moves.

import { ask } from '../shared/client.js';
import { figureText } from '../shared/penalties.js';
import { decimalSignOf } from './figures.js';
import { root } from './root.js';

export const LIMIT_MS = 30000; // how long an answer may take, and then to come whole

export const decimalSign = decimalSignOf(root.lang);
export const figure = (n) => figureText(n, decimalSign, 'time' in root.dataset);

/** A text of the page with what stands for {0}, {1} put in. */
export const filled = (text, ...values) => text.replace(/\{(\d)\}/g, (_, i) => values[i]);

export const isHidden = () => document.visibilityState === 'hidden';

/** Shows a button's other words, and keeps these. */
export const swapWords = (button) => {
  const other = button.dataset.other;
  button.dataset.other = button.textContent;
  button.textContent = other;
};

/** Animates an element from where it was, `way` pixels off, to where it is: by a transform, without
 * another layout. */
const still = matchMedia('(prefers-reduced-motion: reduce)');
export function glide(element, way) {
  if (way && !still.matches)
    element.animate([{ transform: `translateY(${way}px)` }, { transform: 'none' }], {
      duration: 400,
      easing: 'ease-out',
    });
}

/** This page, fetched again, as a document. Where `headers` ask for HTML, the service worker may answer
 * with its copy. Throws where no good answer comes. */
export async function pageAnew(headers = {}) {
  const answer = await ask(location.href, { headers }, LIMIT_MS);
  if (!answer.ok) throw new Error(answer.status);
  return new DOMParser().parseFromString(await answer.body.text(), 'text/html');
}
