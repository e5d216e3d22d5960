// SPDX-License-Identifier: MIT
// What the server says of rules that are tried: what is wrong, each thing with a way to its field,
// what is doubtful, what would change; and what to do where a colleague was first.

import { button, make } from '../../shared/dom.js';
import { effectTables } from '../effect.js';
import { markFault, summary } from '../forms.js';
import { para, table } from '../parts.js';
import { controlAt } from './form.js';
import { differences } from './json.js';

/** What is wrong as [{path, line, text}]: from remarks {place, text}, or from texts of the same. */
export function faultsOf(list) {
  return list.map((one) => {
    const whole = typeof one === 'string' ? one : `${one.place}: ${one.text}`;
    const place = /^event\.json: ([A-Za-z][\w.[\]-]*): /.exec(whole);
    const line = /^event\.json:(\d+): /.exec(whole);
    return {
      path: place ? place[1] : '',
      line: line ? Number(line[1]) : 0,
      text: whole.replace(/^event\.json: /, ''),
    };
  });
}

/** The box at the top; `lead` shows the field of a path. */
export const summaryOf = (faults, lead) =>
  summary(
    faults.map(({ path, line, text }) => ({
      text,
      control: null,
      lead: path || line ? () => lead(path, line) : null,
    })),
  );

/** Marks the fields of a page that something is wrong with. */
export function markPage(faults, page) {
  for (const { path, text } of faults) {
    const control = path && controlAt(path, page);
    if (control && control.dataset.path === path) markFault(control, text.slice(path.length + 2));
  }
}

const remark = (one, lead) => {
  const [{ path, text }] = faultsOf([one]);
  return make(
    'li',
    {},
    path
      ? make(
          'a',
          {
            href: location.hash,
            click: (event) => {
              event.preventDefault();
              lead(path);
            },
          },
          text,
        )
      : text,
  );
};

function remarks(title, list, lead) {
  return list.length
    ? [make('h3', {}, title), make('ul', {}, ...list.map((one) => remark(one, lead)))]
    : [];
}

/** What would come of rules that could be read. */
export function triedWords(reply, lead) {
  // What is doubtful in readings and entries was so before, and stands elsewhere.
  const worth = [...reply.warnings, ...reply.doubts].filter(({ place }) =>
    place.startsWith('event.json'),
  );
  return [
    make('h2', {}, reply.taken ? 'These rules can be taken' : 'These rules cannot be taken'),
    ...(reply.lost.length
      ? [
          make('h3', {}, 'Readings and decisions that would lose their place'),
          make(
            'ul',
            {},
            ...reply.lost.map((one) =>
              make('li', {}, `${one.reading || one.decision}: ${one.reason}`),
            ),
          ),
        ]
      : []),
    ...remarks('Worth a look', worth, lead),
    ...(reply.moves ? effectTables(reply) : []),
    ...(reply.example ? [totalExample(reply.example)] : []),
  ];
}

/** How one car's total comes about by the rules that were tried: class, tests, drop, coefficient. */
const totalExample = (card) =>
  make(
    'details',
    {},
    make(
      'summary',
      {},
      `Worked example: the total of car ${card.car}, ${card.year}, class ${card.class}`,
    ),
    table(
      `${card.penalty} points${card.fails ? ` and ${card.fails} fails` : ''}: ` +
        (card.position
          ? `place ${card.position}, ${card.class_position} in its class`
          : card.status),
      ['Of', '#Points', 'How that is worked out'],
      card.total.map((step) => [step.of, step.penalty ?? '–', step.why]),
      { id: 'total' },
    ),
  );

const inWords = (value) =>
  value === undefined ? 'not there' : typeof value === 'string' ? value : JSON.stringify(value);

/** A colleague was first: what they changed, and the two ways on.
 *   before, theirs  texts: what was in force when the editing began, and what is now */
export function conflictBox(before, theirs, { mine, theirs: takeTheirs }) {
  const list = differences(
    JSON.parse(before.replace(/^\uFEFF/, '')),
    JSON.parse(theirs.replace(/^\uFEFF/, '')),
  );
  return make(
    'div',
    {
      class: 'faults',
      tabindex: '-1',
      role: 'group',
      'aria-label': 'Somebody else was first',
      id: 'conflict',
    },
    make('h2', {}, 'Somebody else has changed the rules meanwhile'),
    para('Nothing of yours was taken, and what you typed is still here.'),
    list.length
      ? table(
          'What they changed',
          ['Place', 'Before', 'Now'],
          list.map(({ path, before: was, after: is }) => [path, inWords(was), inWords(is)]),
        )
      : para('They changed nothing that you could see: the text only.'),
    make(
      'p',
      { class: 'acts' },
      button('Go on with mine', mine),
      button('Go on with theirs; mine is lost', takeTheirs),
    ),
  );
}
