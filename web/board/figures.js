// SPDX-License-Identifier: MIT
// Figures as the pages write them, in the reader's language. Knows no page.

/** The decimal sign of a language. */
export const decimalSignOf = (language) => (0.5).toLocaleString(language).charAt(1);

/** Text to thousandths, and back with that decimal sign, `asTime` as 0:02:11; a text may have either
 * sign, and be a time. */
export const thousandths = (text) =>
  Math.round(
    text.split(':').reduce((sum, part) => sum * 60 + Math.abs(part.replace(',', '.')) * 1000, 0),
  ) * (text[0] === '-' ? -1 : 1);
const padded = (n, length) => String(n).padStart(length, '0');
export const figureText = (n, sign, asTime) => {
  const size = Math.abs(n);
  const minutes = Math.floor(size / 60000);
  const digits = padded(asTime ? size % 60000 : size, asTime ? 5 : 4);
  const figure = digits.slice(0, -3) + sign + digits.slice(-3);
  return (
    (n < 0 ? '-' : '') +
    (asTime
      ? `${Math.floor(minutes / 60)}:${padded(minutes % 60, 2)}:${figure.replace(/\D?0+$/, '')}`
      : figure)
  );
};

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
