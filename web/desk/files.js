// SPDX-License-Identifier: MIT
// Readings from a timing device's table, pasted or chosen: columns named, every row looked at before
// any is taken. All of it happens in the page, so it needs no network.

import { parseTable } from '../shared/csv.js';
import { COLUMNS, guessColumns, readRows } from './device-table.js';
import { byId, cell, make, putWords, setText, t } from './first.js';

const SHOWN = 200;
const WORDS = {
  car: 'log.car',
  time: 'log.time',
  elapsed: 'log.elapsed',
  point: 'points',
  faults: 'files.faults',
};

export class Files {
  #rows = [];
  #found = []; // what readRows() makes of them
  #shape = ''; // what tables of this kind have in common

  /**
   * desk   the page's state
   * checks(reading, stamp) → words of its doubts
   * take(readings, event)  keeps them
   */
  constructor(desk, { checks, take }) {
    Object.assign(this, { desk, checks, take, columns: {}, header: false });
    byId('files').append(...panel());
    putWords(byId('files'));
    byId('paste').addEventListener('input', () => this.#read(byId('paste').value));
    byId('file').addEventListener('change', async (event) => {
      const [file] = event.target.files;
      if (!file) return;
      const { text, latin } = decode(await file.arrayBuffer());
      byId('paste').value = text;
      await this.#read(text);
      if (latin) byId('file-count').append(' ' + t('files.latin'));
    });
    byId('take').addEventListener('click', (event) => this.#takeAll(event));
    byId('file-point').addEventListener('change', () => this.preview());
    byId('file-header').addEventListener('change', (event) => {
      this.header = event.target.checked;
      this.preview();
    });
    this.showStation();
  }

  /** After the station or the desk's points changed. */
  showStation() {
    this.#offerPoints();
    this.preview();
  }

  /** What the columns were last time for a table of that shape. */
  async #read(text) {
    this.#rows = parseTable(text);
    const guess = guessColumns(this.#rows);
    const shape =
      'columns ' + (guess.header ? (this.#rows[0] || []).join('|') : (this.#rows[0] || []).length);
    this.#shape = shape;
    const known = await this.desk.store?.get(shape).catch(() => null);
    if (shape !== this.#shape) return;
    Object.assign(this, known || guess);
    this.preview();
  }

  /** Which column of the table holds `what`, to choose; head: the names of the columns. */
  #columnChoice(what, head, width) {
    const change = (event) => {
      if (event.target.value === '') delete this.columns[what];
      else this.columns[what] = Number(event.target.value);
      const { header, columns } = this;
      this.desk.store?.set(this.#shape, { header, columns }).catch(() => {});
      this.preview();
    };
    const columns = Array.from({ length: width }, (_, i) =>
      make(
        'option',
        { value: i, selected: this.columns[what] === i },
        head[i] || t('files.column', { n: i + 1 }),
      ),
    );
    const none = make('option', { value: '' }, '–');
    return make('label', {}, t(WORDS[what]), make('select', { change }, none, ...columns));
  }

  /** The rows as readings; `known`: the sheet has it already, or a row before. */
  #readAll() {
    const { header, columns, desk } = this;
    const point = byId('file-point').value || desk.station?.points[0];
    const found = readRows(this.#rows, { header, columns, points: desk.info.points, point });
    const seen = new Set();
    for (const row of found) {
      row.known =
        row.reading && (this.#isKnown(row.reading) || seen.has(JSON.stringify(row.reading)));
      if (row.reading) seen.add(JSON.stringify(row.reading));
    }
    return found;
  }

  preview() {
    const width = Math.max(0, ...this.#rows.map((row) => row.length));
    byId('file-rows').hidden = this.#rows.length === 0;
    byId('file-header').checked = this.header;
    const head = this.header ? this.#rows[0] || [] : [];
    byId('file-columns').replaceChildren(
      ...COLUMNS.map((what) => this.#columnChoice(what, head, width)),
    );
    this.#found = this.#readAll();
    const fresh = this.#fresh();
    const wrong = this.#found.filter((row) => row.wrong);
    setText(
      byId('file-count'),
      this.#rows.length === 0
        ? ''
        : t('files.count', {
            n: fresh.length,
            known: this.#found.filter((row) => row.known).length,
            wrong: wrong.length,
          }),
    );
    // Rows that cannot be taken first: they are what a person must look at.
    const order = [...wrong, ...this.#found.filter((row) => !row.wrong)].slice(0, SHOWN);
    byId('preview').replaceChildren(...order.map((row) => this.#previewRow(row)));
    byId('take').disabled = fresh.length === 0;
    setText(byId('take'), t('files.take', { n: fresh.length }));
  }

  #previewRow({ line, reading, wrong, known, cells }) {
    if (wrong) {
      return make(
        'tr',
        { 'data-state': 'refused' },
        cell(String(line)),
        make('td', { colspan: 3 }, cells.join(' · ')),
        cell(
          wrong === 'nothing'
            ? t('files.wrong.nothing')
            : t('files.wrong', { what: t(WORDS[wrong]) }),
        ),
      );
    }
    return make(
      'tr',
      { 'data-state': known ? 'known' : 'new' },
      cell(String(line)),
      cell(reading.point),
      make('th', { scope: 'row' }, String(reading.car)),
      cell(reading.time || reading.elapsed || t('line.sighting')),
      cell(known ? t('files.known') : this.checks(reading).join('; ')),
    );
  }

  /** The same reading is on the sheet already: a file may be chosen twice. */
  #isKnown(reading) {
    return this.desk.log
      .holding([reading.point])
      .some(
        (r) =>
          r.car === reading.car &&
          (r.time || '') === (reading.time || '') &&
          (r.elapsed || '') === (reading.elapsed || ''),
      );
  }

  #fresh() {
    return this.#found.filter((row) => row.reading && !row.known).map((row) => row.reading);
  }

  async #takeAll(event) {
    const readings = this.#fresh();
    byId('take').disabled = true;
    await this.take(readings, event);
    byId('paste').value = '';
    byId('file').value = '';
    this.#rows = [];
    this.preview();
  }

  /** The points to choose from. */
  #offerPoints() {
    byId('file-point').replaceChildren(
      make('option', { value: '' }, t('files.here')),
      ...this.desk.info.points.map((p) => make('option', { value: p.id }, p.id)),
    );
  }
}

/** What the section holds below its heading. */
function panel() {
  const word = (tag, name, attributes = {}) => make(tag, { 'data-t': name, ...attributes });
  const heads = ['files.line', 'points', 'log.car', 'log.time', 'log.remarks'];
  const rows = make(
    'div',
    { id: 'file-rows', hidden: true },
    make(
      'div',
      { class: 'row' },
      make('label', {}, word('span', 'files.all'), ' ', make('select', { id: 'file-point' })),
      make(
        'label',
        { class: 'check' },
        make('input', { type: 'checkbox', id: 'file-header' }),
        ' ',
        word('span', 'files.header'),
      ),
    ),
    make('div', { class: 'row', id: 'file-columns' }),
    make('p', { id: 'file-count', role: 'status' }),
    make(
      'div',
      { class: 'scroll', tabindex: 0, role: 'group', 'data-t-label': 'files.title' },
      make(
        'table',
        {},
        make(
          'thead',
          {},
          make('tr', {}, ...heads.map((name) => word('th', name, { scope: 'col' }))),
        ),
        make('tbody', { id: 'preview' }),
      ),
    ),
    make('button', { type: 'button', id: 'take', disabled: true }),
  );
  return [
    word('p', 'files.what'),
    word('label', 'files.choose', { for: 'file' }),
    make('input', { type: 'file', id: 'file', accept: '.csv,.txt,.tsv,text/csv,text/plain' }),
    word('label', 'files.paste', { for: 'paste' }),
    make('textarea', { id: 'paste', rows: 5, spellcheck: 'false' }),
    rows,
  ];
}

/** UTF-8, or what older devices write (`latin`). */
function decode(bytes) {
  try {
    return { text: new TextDecoder('utf-8', { fatal: true }).decode(bytes), latin: false };
  } catch {
    return { text: new TextDecoder('windows-1252').decode(bytes), latin: true };
  }
}
