// SPDX-License-Identifier: MIT
// Penalties as people are shown them: points, or time where a point is a second.

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
