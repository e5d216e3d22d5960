// SPDX-License-Identifier: MIT
// Figures as the pages write them, in the reader's language. Knows no page.

/** The decimal sign of a language. */
export const decimalSignOf = (language) => (0.5).toLocaleString(language).charAt(1);

// The number by which a cell is sorted: of a place, shared or not, of places won or lost, of a figure;
// NaN where it has words.
const sortValue = (text, sign) =>
  Number(text.replace(/^[=▲]/, '').replace(/^[▼−]/, '-').replace(sign, '.'));

/** Compares cells of a column, `down`: the greatest first. Figures by their value, words in the order of
 * the language; empty cells come last either way. */
export function inOrder(language, sign, down) {
  const collator = new Intl.Collator(language, { numeric: true });
  return (a, b) => {
    if (a === '' || b === '') return (a === '') - (b === '');
    const apart = sortValue(a, sign) - sortValue(b, sign);
    return (Number.isNaN(apart) ? collator.compare(a, b) : apart) * (down ? -1 : 1);
  };
}
