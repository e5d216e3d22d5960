// SPDX-License-Identifier: MIT
// What the parts of the board's script share: figures as text, and moves that nobody sees as jumps.

const { point } = window.cairn;

// Text to thousandths and back, with the language's decimal sign; a text may have either.
export const thousandths = (text) => Number(text.replace(/[.,]/, ''));
export const figure = (n) => {
  const digits = String(Math.abs(n)).padStart(4, '0');
  return (n < 0 ? '-' : '') + digits.slice(0, -3) + point + digits.slice(-3);
};

// Draws an element from where it was, `way` pixels off, to where it is: nothing is laid out twice.
const still = matchMedia('(prefers-reduced-motion: reduce)');
export function glide(element, way) {
  if (way && !still.matches)
    element.animate([{ transform: `translateY(${way}px)` }, { transform: 'none' }], {
      duration: 400,
      easing: 'ease-out',
    });
}
