// SPDX-License-Identifier: MIT
// Pieces of which a notice is shown: before it is posted, and after.

import { make } from '../shared/dom.js';
import { moved, placeText } from './effect.js';
import { moment } from './moments.js';
import { para, table } from './parts.js';
import { penaltyText } from './shown.js';

export const plural = (count, one, more) => `${count} ${count === 1 ? one : more}`;

export const link = (href, text) => make('a', { href }, text);

export const typed = (text) => (text ? make('p', { class: 'typed' }, text) : null);

const crewOf = (content) =>
  new Map(
    content.overall
      ? [...content.overall.standings, ...content.overall.unplaced].map((row) => [
          row.car,
          row.crew.join(' / '),
        ])
      : [],
  );

/** Cars that stand differently than before, as the classification itself lists them: first those whose own
 * result changed, then, folded, those that only make room. */
export function differences({ supersedes, differences: list, ...content }) {
  if (supersedes === null) return [];
  if (!list.length) return [para(`Every car stands as it did in notice ${supersedes}.`)];
  const crews = crewOf(content);
  const shown = (side, name, words) => (side ? words(side[name]) : 'not in it');
  const sides = (row, name, words = String) =>
    moved(shown(row.before, name, words), shown(row.after, name, words));
  const cost = (row) =>
    sides(row, 'penalty', penaltyText) +
    ([row.before, row.after].some((side) => side && side.fails)
      ? `, fails ${sides(row, 'fails')}`
      : '');
  const own = (row) =>
    !row.before ||
    !row.after ||
    ['penalty', 'fails', 'status'].some((name) => row.before[name] !== row.after[name]);
  const rows = (some, caption) =>
    table(
      caption,
      ['Car', 'Crew', '#Penalty', '#Overall', '#In its class', 'Status'],
      some.map((row) => [
        row.car,
        crews.get(row.car) || '–',
        cost(row),
        sides(row, 'position', placeText),
        sides(row, 'class_position', placeText),
        sides(row, 'status'),
      ]),
    );
  const [changed, others] = [list.filter(own), list.filter((row) => !own(row))];
  const room = plural(others.length, 'car moves only to make room', 'cars move only to make room');
  return [
    make(
      'div',
      { class: 'differences' },
      changed.length
        ? rows(
            changed,
            `Against notice ${supersedes}: ${plural(changed.length, 'car has', 'cars have')} another result`,
          )
        : null,
      others.length ? make('details', {}, make('summary', {}, room), rows(others, room)) : null,
    ),
  ];
}

/** A list of terms and what they are. */
export const facts = (rows) =>
  make(
    'dl',
    { class: 'facts' },
    ...rows
      .filter(Boolean)
      .map(([term, ...what]) => make('div', {}, make('dt', {}, term), make('dd', {}, ...what))),
  );

/** What a classification holds and how long protests may be made. */
export function contentFacts(office, content) {
  const { overall } = content;
  return [
    content.protest_until && ['Protests until', moment(office, content.protest_until)],
    content.kind === 'provisional' &&
      !content.protest_until && ['Protests', 'The rules name no protest period.'],
    ['Made at', `the public's revision ${content.revision}`],
    overall && [
      'Cars',
      `${overall.standings.length} with a place, ${overall.unplaced.length} without`,
    ],
    content.decisions && ['Decisions in it', String(content.decisions.length)],
    content.supersedes !== null && ['Replaces', `notice ${content.supersedes}`],
  ];
}
