// SPDX-License-Identifier: MIT
// The log: who did what, when and why, and what it changed. Uploads that were taken as they came
// are left out at first, so that what people decided is not buried under them.

import { button, make } from '../shared/dom.js';
import { effectTables } from './effect.js';
import { field, input, select } from './forms.js';
import { momentText } from './moments.js';
import { askedFor, neverBusy, para, table } from './parts.js';

const KINDS = [
  ['office', 'Everything but plain uploads'],
  ['', 'Everything'],
  ['decision', 'Decisions'],
  ['undo', 'Decisions undone'],
  ['correction', 'Corrections of readings'],
  ['withdrawal', 'Readings withdrawn'],
  ['readings', 'Uploads of readings'],
  ['acknowledgement', 'Doubts acknowledged'],
  ['entries', 'Entry list'],
  ['starts', 'Start lists'],
  ['rules', 'Rules'],
  ['notice', 'Notices'],
  ['enquiry', 'Enquiries and protests'],
  ['answer', 'Answers to crews'],
  ['key', 'Keys'],
  ['code', 'Codes of crews'],
];
// What can move cars by itself, besides readings.
const MOVING = ['decision', 'undo', 'correction', 'withdrawal'];
const PAGE = 50;
const LINES = 5;

const sender = (one) =>
  one.key ? one.key.label || `key ${one.key.id}` : one.source === 'import' ? 'import' : '';
const who = (one) =>
  [one.by, sender(one)].filter((part, i, all) => part && all.indexOf(part) === i).join(', by ') ||
  '–';
const isPlain = (one) => one.kind === 'readings' && one.source !== 'import' && !one.refused;

/** Uploads of one desk that follow one another become one line. */
function folded(entries) {
  const lines = [];
  for (const one of entries) {
    const last = lines.at(-1);
    if (last && isPlain(one) && isPlain(last.entry) && sender(last.entry) === sender(one)) {
      last.first = one;
      last.uploads++;
      last.taken += one.taken;
    } else {
      lines.push({ entry: one, first: one, uploads: 1, taken: one.taken });
    }
  }
  return lines;
}

function changeList(changes) {
  if (!changes.length) return null;
  const items = changes.map((line) => make('li', {}, line));
  if (changes.length <= LINES) return make('ul', { class: 'changes' }, ...items);
  return make(
    'details',
    {},
    make('summary', {}, `${changes.length} changes`),
    make('ul', { class: 'changes' }, ...items),
  );
}

const upper = (text) => text.slice(0, 1).toUpperCase() + text.slice(1);

function whatCell({ entry, uploads, taken }) {
  const what = uploads > 1 ? `${taken} readings in ${uploads} uploads` : upper(entry.what);
  return make(
    'div',
    {},
    what,
    entry.since ? make('span', { class: 'small' }, `from ${entry.since} on`) : null,
    changeList(entry.changes),
  );
}

/** The lines of the log; there are `more`. effects(id) shows what an entry did. */
function logTable(office, lines, more, effects) {
  const days = lines.map(({ entry, first }) =>
    first === entry
      ? momentText(office, entry.at)
      : `${momentText(office, first.at)} to ${momentText(office, entry.at)}`,
  );
  return table(
    `${lines.length} entries${more ? ', and older ones' : ''}, the newest first`,
    ['When', 'What', 'Why', 'Who', 'Do'],
    lines.map((line, i) => [
      days[i],
      whatCell(line),
      line.entry.why || '–',
      who(line.entry),
      (MOVING.includes(line.entry.kind) || line.entry.taken > 0) && line.uploads === 1
        ? button('What it did', () => effects(line.entry.id), {
            'aria-label': `What it did: ${line.entry.what}, ${days[i]}`,
            'data-entry': line.entry.id,
          })
        : null,
    ]),
    { id: 'facts' },
  );
}

/** What an entry of the log did. */
const effectPart = (office, entry, effect, close) =>
  make(
    'div',
    { class: 'sheet', id: 'effect-of' },
    make('h2', { tabindex: '-1' }, upper(entry.what)),
    para(momentText(office, entry.at), '. ', entry.why || ''),
    ...(effect ? effectTables(effect, 'What it did') : [para('It moved no car by itself.')]),
    para('As the event stood at that moment, by the rules and entries of today.'),
    para(button('Close', close)),
  );

const filterForm = ({ kind, car, text }) =>
  make(
    'form',
    { class: 'sheet', role: 'search', 'aria-label': 'Filter of the log', novalidate: true },
    make(
      'div',
      { class: 'row' },
      field('Show', kind),
      field('Car number', car),
      field('Words', text),
    ),
    para(make('button', {}, 'Show')),
  );

export async function showLog(office, place) {
  const asked = askedFor();
  const kind = select(
    'kind',
    KINDS,
    KINDS.some(([name]) => name === asked.kind) ? asked.kind : 'office',
  );
  const car = input('car', { size: '6', inputmode: 'numeric', value: asked.car || '' });
  const text = input('text', { size: '24', value: asked.text || '' });
  const list = make('div', {});
  const details = make('div', { 'aria-live': 'polite' });
  let entries = [];
  let next = null;

  const query = (before) =>
    new URLSearchParams(
      Object.entries({
        kind: kind.value,
        car: car.value.trim(),
        text: text.value.trim(),
        limit: String(PAGE),
        before,
      }).filter(([, value]) => value),
    ).toString();
  const effects = async (name) => {
    const { entry, effect } = await office.api.get('log/' + name);
    const close = () => {
      details.replaceChildren();
      const again = list.querySelector(`[data-entry="${CSS.escape(name)}"]`);
      if (again) again.focus();
    };
    const form = effectPart(office, entry, effect, close);
    details.replaceChildren(form);
    form.querySelector('h2').focus();
  };
  const draw = () => {
    const lines = folded(entries);
    list.replaceChildren(
      lines.length
        ? logTable(office, lines, next, effects)
        : para('Nothing of that kind is in the log.'),
      next ? para(button('Older entries', older, { id: 'older' })) : '',
    );
  };
  const refresh = async (unless = neverBusy) => {
    const page = await office.api.get('log?' + query(''));
    if (unless()) return;
    entries = page.entries;
    next = page.next;
    draw();
  };
  const older = async () => {
    const page = await office.api.get('log?' + query(next));
    const from = list.querySelectorAll('tbody tr').length;
    entries = [...entries, ...page.entries];
    next = page.next;
    draw();
    const row = list.querySelectorAll('tbody tr')[from];
    if (row) {
      row.tabIndex = -1;
      row.focus();
    }
  };
  const form = filterForm({ kind, car, text });
  const ask = async (event) => {
    if (event) event.preventDefault();
    details.replaceChildren();
    await refresh();
    office.say(`${entries.length} entries.`);
  };
  form.addEventListener('submit', ask);
  kind.addEventListener('change', () => ask());
  place.append(form, details, list);
  await refresh();
  // A reader further down keeps the place.
  return {
    refresh,
    busy: () =>
      entries.length > PAGE || details.hasChildNodes() || place.contains(document.activeElement),
  };
}
