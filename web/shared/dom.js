// SPDX-License-Identifier: MIT
// Elements of the page. Text goes in as text nodes only.

export const byId = (id) => document.getElementById(id);

/** An element with attributes (true: without a value; false, null: left out) and children. */
export function make(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === 'function') node.addEventListener(name, value);
    else if (value !== false && value !== null)
      node.setAttribute(name, value === true ? '' : value);
  }
  node.append(...children.filter((child) => child !== null));
  return node;
}

/** A button that does `click`, unless its form is what it sends (null). */
export const button = (words, click, attributes = {}) =>
  make('button', { type: 'button', ...(click ? { click } : {}), ...attributes }, words);

/** A cell of a table's row. */
export const cell = (...children) => make('td', {}, ...children);

/** Hands the browser a file (a Blob) to save under that name. */
export function saveFile(file, name) {
  const link = make('a', { href: URL.createObjectURL(file), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

/** Sets an element's text, but does not touch the page where it is the same. */
export function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/**
 * Brings a table's body up to `items`, touching only what differs.
 *   rows   Map of key to {row, sign}, kept by the caller
 *   keyOf  what an item is known by;  signOf  a text that changes with what is shown
 *   draw   (item, row) fills an empty row
 *   extra  {key, row} a row to stand below that item, or null
 */
export function keepRows(body, rows, items, { keyOf, signOf, draw, extra = null }) {
  const keys = new Set();
  let place = body.firstChild;
  const put = (row) => {
    if (row === place) place = place.nextSibling;
    else body.insertBefore(row, place);
  };
  for (const item of items) {
    const key = keyOf(item);
    keys.add(key);
    let known = rows.get(key);
    if (!known) rows.set(key, (known = { row: document.createElement('tr'), sign: null }));
    const sign = signOf(item);
    if (known.sign !== sign) {
      known.sign = sign;
      known.row.replaceChildren();
      draw(item, known.row);
    }
    put(known.row);
    if (extra && extra.key === key) put(extra.row);
  }
  for (const [key, { row }] of rows) {
    if (!keys.has(key)) {
      row.remove();
      rows.delete(key);
    }
  }
}
