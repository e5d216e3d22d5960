// SPDX-License-Identifier: MIT
// What still stands between the event and its final classification, step by step.

import { make } from '../shared/dom.js';
import { moment } from './moments.js';
import { link, plural } from './notice-parts.js';

const LISTED = 12;

/** At most a dozen; how many more of `all` there are. */
function listed(names, all = names.length) {
  return names.slice(0, LISTED).join(', ') + (all > LISTED ? ` and ${all - LISTED} more` : '');
}

/** The steps to a final classification in their order: each with whether it is done, what is shown
 * while it is not, and where it is settled. */
export function steps(office, { obstacles, doubts: doubtful }, notices) {
  const of = (kind) => obstacles.filter((one) => one.kind === kind);
  const last = notices.filter((one) => one.kind !== 'bulletin').at(-1);
  const [hidden, cases, points, doubts] = ['hidden', 'case', 'open-point', 'doubt'].map(of);
  return [
    {
      done: !points.length,
      name: 'Every point is closed',
      left: () => [
        `${plural(points.length, 'point is', 'points are')} open: ${listed(points.map((one) => one.point))}. `,
        link('#room', 'Close them in the control room'),
      ],
    },
    {
      done: !hidden.length,
      name: 'Nothing is hidden from the public any more',
      left: () => [
        `${listed(hidden.map((one) => one.point))}: shown once their points are closed. `,
        link('#room', 'Control room'),
      ],
    },
    {
      done: !doubts.length,
      name: 'Nothing is doubtful',
      left: () => [
        `${plural(doubtful, 'reading waits', 'readings wait')} for a ruling: ` +
          `${listed(
            doubts.map((one) => `car ${one.car} at ${one.point}`),
            doubtful,
          )}. `,
        link('#review', 'Rule on them in the review'),
      ],
    },
    {
      done: !of('no-provisional').length,
      name: 'A provisional classification is posted',
      left: () => ['Not yet. ', link('#notices', 'Post it below')],
      jump: '#post-provisional',
    },
    {
      done: !of('no-provisional').length && !of('protest-period').length,
      name: 'Its protest period is over',
      left: () =>
        last && last.protest_until
          ? ['It ends at ', moment(office, last.protest_until), '.']
          : ['It begins when the provisional classification is posted.'],
    },
    {
      done: !cases.length,
      name: 'Every enquiry and protest is answered',
      left: () => [
        `${plural(cases.length, 'case is', 'cases are')} open: `,
        ...cases
          .slice(0, LISTED)
          .flatMap((one, i) => [
            i ? ', ' : '',
            link(`#enquiries?case=${one.number}`, `case ${one.number} of car ${one.car}`),
          ]),
        cases.length > LISTED ? ` and ${cases.length - LISTED} more` : '',
        '.',
      ],
    },
  ];
}

export function checklist(list) {
  return make(
    'ol',
    { class: 'steps' },
    ...list.map(({ done, name, left, jump }) => {
      const rest = done ? null : make('span', { class: 'small' }, ...left());
      if (rest && jump)
        rest.querySelector('a').addEventListener('click', (event) => {
          event.preventDefault();
          document.querySelector(jump).focus();
        });
      return make(
        'li',
        { class: done ? 'done' : 'left' },
        make('span', { class: 'sign', 'aria-hidden': 'true' }, done ? '✓' : '○'),
        make('strong', {}, name),
        make('span', { class: 'quiet' }, done ? ': done' : ': not yet'),
        rest,
      );
    }),
  );
}
