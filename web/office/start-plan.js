// SPDX-License-Identifier: MIT
// What is asked of a start list, by the fields of its form; and a list as the text of a notice. Knows no
// page.

/** "22=00:02:00, C=90" as an object; null where a part cannot be read. */
export function pairs(text) {
  const found = {};
  for (const part of text
    .split(/[,;\n]+/)
    .map((one) => one.trim())
    .filter(Boolean)) {
    const pair = /^([A-Za-z0-9-]+)\s*=\s*(\S+)$/.exec(part);
    if (!pair) return null;
    found[pair[1]] = pair[2];
  }
  return found;
}

/**
 * The fields as the server wants them.
 *   fields  {order, first, interval, reverse, intervals, gaps, late}: each has its text in `value`
 * Returns {body, faults}: what cannot be read, as {text, control}.
 */
export function planOf({ order, first, interval, reverse, intervals, gaps, late }) {
  const faults = [];
  const body = { order: order.value };
  if (first.value.trim()) body.first = first.value.trim();
  if (interval.value.trim()) body.interval = interval.value.trim();
  if (order.value === 'standings-reversed' && reverse.value.trim()) {
    if (/^\d+$/.test(reverse.value.trim())) body.reverse_first = Number(reverse.value);
    else faults.push({ text: 'How many are reversed is a number.', control: reverse });
  }
  for (const [name, control] of Object.entries({ intervals, gaps, late })) {
    const found = pairs(control.value);
    if (!found) faults.push({ text: 'Write it as in the example below the label.', control });
    else if (Object.keys(found).length) body[name] = found;
  }
  return { body, faults };
}

/** A kept list as the text of a notice, a line for each car. */
export const noticeText = (list) =>
  list.starts
    .map((start) => `${start.time}  car ${start.car}  ${start.crew.join(' / ')}, ${start.vehicle}`)
    .join('\n');
