// SPDX-License-Identifier: MIT
// How the event is scored: timing, totals and ranking; and what each kind of item charges.

import { make } from '../../shared/dom.js';
import { para } from '../parts.js';
import { exampleBox } from './example.js';
import { fields } from './form.js';
import { coefficientSpecs, dropSpecs, FINISHER, TEAMS, TIES, TIMING } from './scoring-specs.js';
import { KINDS, penaltySpecs, ruleWords } from './words.js';

export function scoringPage(draft, redraw) {
  const coefficient = draft.get('scoring.coefficient');
  const drop = draft.get('scoring.drop_worst');
  const part = (title, words, base, specs) => [
    make('h3', {}, title),
    para(words),
    fields(draft, base, specs, redraw),
  ];
  return [
    ...part(
      'Time controls',
      'In target timing a car is due its allowed time after it left the control before. In scheduled timing it is due by the ' +
        'schedule and the lateness that it carries; early against the schedule, late against the due time.',
      'scoring',
      TIMING,
    ),
    ...part(
      'Coefficient',
      'Multiplies the tests of a car, or all that it costs, by its age: 1 and a hundredth for each year after 1900 (1934: 1.34), ' +
        'or by a figure of its class, its category or its own.',
      'scoring.coefficient',
      coefficientSpecs(coefficient),
    ),
    ...part(
      'Worst tests dropped',
      'The costliest tests of each car do not count; of equal ones the earlier is dropped. A test with fails is kept.',
      'scoring.drop_worst',
      dropSpecs(drop),
    ),
    ...part(
      'Ties and finishers',
      'Equal cars are told apart by these, one after the other; still equal, they share the place.',
      'scoring',
      TIES,
    ),
    fields(draft, 'scoring.finisher', FINISHER, redraw),
    ...part('Teams', 'The sum of a team’s best placed cars.', 'scoring.teams', TEAMS),
  ];
}

/** What each kind charges, with an example of the first item that follows it. */
export function penaltiesPage(draft, redraw, office, boxes) {
  return [
    para('These hold for all items of a kind; an item may differ in single ones.'),
    ...Object.entries(KINDS).map(([kind, { name, about }]) => {
      const base = `scoring.defaults.${kind}`;
      const words = make('p', {}, make('strong', {}, ruleWords(draft.get(base) || {}, kind)));
      const follows = () =>
        (draft.get('route') || []).find((item) => item.kind === kind && !item.penalty);
      const example = exampleBox(office, boxes.textOf, () => follows()?.id);
      boxes.watch({
        later() {
          words.firstChild.textContent = ruleWords(draft.get(base) || {}, kind);
          if (details.open) example.later();
        },
      });
      const details = make(
        'details',
        {},
        make('summary', {}, `Worked example for ${name.toLowerCase()}`),
        example.box,
      );
      details.addEventListener('toggle', () => {
        if (details.open) example.draw();
      });
      return make(
        'fieldset',
        { 'data-path': base },
        make('legend', { tabindex: '-1' }, name),
        para(about),
        words,
        fields(draft, base, penaltySpecs(kind), redraw),
        details,
      );
    }),
  ];
}
