// SPDX-License-Identifier: MIT
// What a decision would do, before it is kept.

import { make } from '../shared/dom.js';
import { para, table } from './parts.js';
import { costText } from './shown.js';

export const placeText = (position) => (position === null ? 'no place' : String(position));
/** "3 → 2", or "2" where both are the same. */
export const moved = (before, after, words = placeText) =>
  before === after ? words(after) : `${words(before)} → ${words(after)}`;

const offRoute = ({ kind, car, point }) =>
  para(
    make('strong', {}, `${point} is not on the route of car ${car}: the ${kind} has no effect.`),
  );

/** Tables of an answer of POST effects, or of what an entry of the log did. */
export function effectTables(effect, title = 'What it does') {
  const off = (effect.off_route || []).map(offRoute);
  if (!effect.moves.length)
    return [
      ...off,
      para(
        make(
          'strong',
          {},
          title === 'What it does'
            ? 'It changes no penalty and no place.'
            : 'It changed no penalty and no place.',
        ),
      ),
    ];
  // Cars whose own result changes come first; the others only move to make room.
  const own = (move) =>
    move.before.penalty !== move.after.penalty ||
    move.before.status !== move.after.status ||
    move.before.fails !== move.after.fails;
  const moves = [...effect.moves.filter(own), ...effect.moves.filter((move) => !own(move))];
  const cars = effect.moves.length === 1 ? '1 car' : `${effect.moves.length} cars`;
  return [
    ...off,
    table(
      `${title}: ${cars}`,
      ['Car', 'Crew', '#Penalty', '#Overall', '#In its class', 'Status'],
      moves.map((move) => [
        move.car,
        move.crew.join(' / '),
        moved(costText(move.before), costText(move.after), String),
        moved(move.before.position, move.after.position),
        moved(move.before.class_position, move.after.class_position),
        moved(move.before.status, move.after.status),
      ]),
      { id: 'effect' },
    ),
  ];
}
