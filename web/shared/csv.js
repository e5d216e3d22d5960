// SPDX-License-Identifier: MIT
// CSV in: a table as text, taken apart into rows and cells.

/** Rows of cells; the separator is whichever of tab ; , the first line has most of. RFC 4180
 * quotes. Empty lines are left out; `line` of a row is where it began. */
export function parseTable(text) {
  const source = text.replace(/^\uFEFF/, '');
  const first = source.slice(0, (source + '\n').indexOf('\n'));
  const count = (separator) => first.split(separator).length;
  const separator = ['\t', ';', ','].reduce((a, b) => (count(b) > count(a) ? b : a));
  const rows = [];
  let row = [];
  let cell = '';
  let quoted = false;
  let line = 1;
  let began = 1;
  const endRow = () => {
    row.push(cell.trim());
    if (row.some(Boolean)) rows.push(Object.assign(row, { line: began }));
    row = [];
    cell = '';
    began = line + 1;
  };
  for (let i = 0; i < source.length; i++) {
    const c = source[i];
    if (quoted) {
      if (c !== '"') cell += c;
      else if (source[i + 1] === '"') cell += source[++i];
      else quoted = false;
      if (c === '\n') line++;
    } else if (c === '"' && cell.trim() === '') {
      cell = '';
      quoted = true;
    } else if (c === separator) {
      row.push(cell.trim());
      cell = '';
    } else if (c === '\n') {
      endRow();
      line++;
    } else if (c !== '\r') {
      cell += c;
    }
  }
  endRow();
  return rows;
}
