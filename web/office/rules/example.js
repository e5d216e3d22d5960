// SPDX-License-Identifier: MIT
// Worked examples: the server says what a car of this event would cost under the rules as typed.

import { make } from '../../shared/dom.js';
import { Refused } from '../api.js';
import { para, table } from '../parts.js';
import { caseWords } from './words.js';

// Keys pressed one after the other ask once.
const PAUSE_MS = 400;

/** What one car would cost: a car with the item's own values, or with those of a line of `for`. */
const examplesOf = (examples) =>
  table(
    `Worked example: car ${examples[0].car} at ${examples[0].scored.point}`,
    ['When it comes', '#Points', { words: 'How that is worked out', class: 'working' }],
    examples.map(({ case: name, scored }) => [
      caseWords(name),
      scored.fails
        ? `${scored.penalty} and ${scored.fails} fail${scored.fails === 1 ? '' : 's'}`
        : scored.penalty,
      scored.why,
    ]),
  );

/** A box with the examples of an item, fetched again after each change.
 *   textOf  () the event.json as typed;  itemOf  () the item's id, null for none */
export function exampleBox(office, textOf, itemOf) {
  const box = make('div', { class: 'example', 'aria-live': 'off' });
  let timer = 0;
  let asked = 0;
  const draw = async () => {
    const item = itemOf();
    const turn = ++asked;
    if (!item) {
      box.replaceChildren(
        para('There is no such item on the route yet, so that no example can be given.'),
      );
      return;
    }
    let reply;
    try {
      reply = await office.api.send(
        'POST',
        `rules/examples/${encodeURIComponent(item)}`,
        textOf(),
        'application/json',
      );
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      reply = { errors: [], examples: [], words: error.message };
    }
    if (turn !== asked) return;
    const cars = new Set(reply.examples.map((example) => example.car));
    box.replaceChildren(
      ...[...cars].map((car) =>
        examplesOf(reply.examples.filter((example) => example.car === car)),
      ),
      ...(cars.size
        ? []
        : [
            para(
              reply.words ||
                (reply.errors.length
                  ? 'A worked example stands here once nothing is wrong.'
                  : 'No example can be given: the car would come too late in the night.'),
            ),
          ]),
    );
  };
  return {
    box,
    later() {
      clearTimeout(timer);
      timer = setTimeout(draw, PAUSE_MS);
    },
    draw,
  };
}
