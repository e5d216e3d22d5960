// SPDX-License-Identifier: MIT
// The review: one doubtful thing at a time, with its evidence, the answers that there are, and what
// each would do. Those that move most places come first.

import { button, make } from '../shared/dom.js';
import { acknowledgedTable, acknowledgeForm, refusedTable } from './acknowledge.js';
import { answersTo, hiddenOf, isWithoutCar, MOST_WITHDRAWN, rowsOf, valueOf } from './answers.js';
import { decisionForm, withReason } from './decision-form.js';
import { casesInReview, openCases } from './enquiries.js';
import { input, summary } from './forms.js';
import { neverBusy, para, table } from './parts.js';

const KINDS = {
  differ: 'readings differ',
  out: 'read while out of the event',
  order: 'out of order',
  fast: 'too fast for the road',
  missing: 'a reading is missing',
  flag: 'the desk has a doubt',
  'unknown-car': 'not in the entry list',
  'no-car': 'a time without a number',
  'unknown-fault': 'a fault that the test does not name',
  twice: 'a time given to two cars',
};

const figure = (number) => number.toLocaleString('en');
const kindOf = (doubt) =>
  doubt.kind === 'out' && doubt.off_route ? 'read off its route' : KINDS[doubt.kind];
const title = (doubt) =>
  `${doubt.car ? `Car ${doubt.car} at ` : ''}${doubt.point}: ${kindOf(doubt)}`;
/** Of readings without a car of the list there may be many at a point. */
const keyOf = (doubt) =>
  [doubt.kind, doubt.car, doubt.point, isWithoutCar(doubt) ? doubt.readings[0].id : ''].join(' ');

/** What the desk says of a reading. */
function deskWords({ extra }) {
  const parts = [];
  if (extra.source)
    parts.push(
      {
        key: 'stamped',
        pad: 'stamped',
        blank: 'stamped without a number',
        typed: 'typed',
        device: 'from a device',
        sighting: 'seen',
      }[extra.source] || extra.source,
    );
  if (extra.uncertainty_ms) parts.push(`clock ±${Math.round(extra.uncertainty_ms)} ms`);
  if (extra.flags) parts.push(extra.flags);
  if (extra.note) parts.push(`“${extra.note}”`);
  return parts.join('; ') || '–';
}

/** All readings of the doubt's point that nothing replaces, those too that it only counts. */
async function allReadings(office, doubt) {
  const all = [];
  for (let after = 0; after !== null;) {
    const reply = await office.api.get(
      `readings?point=${encodeURIComponent(doubt.point)}&car=${doubt.car}&after=${after}`,
    );
    all.push(...reply.readings.filter((one) => !one.replaced && one.void !== 'yes'));
    after = reply.next;
  }
  return all;
}

/** What is known of a doubt, for its form. */
const evidence = (doubt) => [
  make('h2', { tabindex: '-1' }, title(doubt)),
  para(
    isWithoutCar(doubt) ? '' : doubt.crew.join(' / ') + '. ',
    make('span', { lang: 'en' }, doubt.why),
  ),
  doubt.ruled ? para(make('strong', {}, 'A ruling already holds at this point.')) : null,
  doubt.readings.length
    ? table(
        'The readings',
        ['Reads', 'Counts', 'By', 'Made at', 'The desk says'],
        doubt.readings.map((one) => [
          valueOf(one),
          one.counts ? 'counts' : 'does not count',
          one.by || '–',
          one.at || '–',
          deskWords(one),
        ]),
      )
    : para('There is no reading.'),
  hiddenOf(doubt)
    ? para(
        `and ${figure(hiddenOf(doubt))} more. `,
        doubt.readings_count > MOST_WITHDRAWN
          ? 'They are too many to withdraw from here: rule by points, or withdraw them by a file.'
          : 'What is withdrawn, is withdrawn of all of them.',
      )
    : null,
];

/** What can be typed into the answers to a doubt. */
const controlsOf = (doubt) => ({
  car: input('other', {
    size: '6',
    inputmode: 'numeric',
    'aria-label': doubt.car ? 'Number of the other car' : 'Number of the car',
  }),
  time: input('time', { size: '12', 'aria-label': 'Time of day' }),
  // Those of the reading that counts are seldom what is wrong with it.
  faults: input('faults', {
    size: '12',
    'aria-label': 'Faults, as cone=2;line=1',
    placeholder: 'faults',
    value: (doubt.readings.find((one) => one.counts) || {}).faults || '',
  }),
  points: input('points', { size: '8', inputmode: 'decimal', 'aria-label': 'Points of penalty' }),
});

/** The form for one doubt. Called: `done` once a ruling is kept, `leave` when none is needed, `late`
 * (with the error and the reason as it was typed) when others said something of it meanwhile. */
function panel(office, doubt, { done, leave, late, typed = '' }) {
  const controls = controlsOf(doubt);
  const passage = office.event.route.some(
    (item) => item.id === doubt.point && item.kind === 'passage-control',
  );
  let readings = doubt.readings;
  const answers = answersTo(doubt, controls, passage, () => readings);
  const choices = answers.map((answer, i) =>
    make(
      'p',
      { class: 'choice' },
      make(
        'label',
        {},
        make('input', { type: 'radio', name: 'answer', value: String(i) }),
        ' ',
        answer.words,
      ),
      answer.control ? ' ' : '',
      answer.control || '',
      answer.beside ? ' ' : '',
      answer.beside || '',
    ),
  );
  const head = [
    ...evidence(doubt),
    make('fieldset', {}, make('legend', {}, 'What is right?'), ...choices),
  ];
  const chosen = () => {
    const choice = form.querySelector('[name=answer]:checked');
    return choice && answers[Number(choice.value)];
  };
  const faults = () => {
    const answer = chosen();
    if (!answer)
      return [{ text: 'Choose what is right.', control: form.querySelector('[name=answer]') }];
    if (answer.control && !answer.control.value.trim())
      return [{ text: 'Enter what belongs to your choice.', control: answer.control }];
    return [];
  };
  const form = decisionForm(office, {
    id: 'doubt',
    head,
    reason: typed,
    keep: 'Keep this ruling',
    links: [
      ...(isWithoutCar(doubt)
        ? []
        : [
            make(
              'a',
              { href: `#decisions?car=${doubt.car}&point=${encodeURIComponent(doubt.point)}` },
              'Another decision',
            ),
          ]),
      ...(doubt.open ? [] : [button('Nothing to rule', () => leave())]),
    ],
    faults,
    rows: async (reason) => {
      const answer = chosen();
      if (answer.readings && hiddenOf(doubt) && doubt.readings_count <= MOST_WITHDRAWN)
        readings = await allReadings(office, doubt);
      return rowsOf(answer, (row) => withReason(office, row, reason));
    },
    tag: `"e${doubt.said}"`,
    said: 'Kept.',
    done,
    late,
  });
  for (const answer of answers) {
    // Filling in a control chooses its answer; passing it by Tab does not.
    for (const control of [answer.control, answer.beside].filter(Boolean))
      for (const touch of ['input', 'pointerdown'])
        control.addEventListener(touch, () => {
          form.querySelector(`[value="${answers.indexOf(answer)}"]`).checked = true;
        });
  }
  return form;
}

/** What is doubtful, and what the list says of itself. show(doubt) opens it. */
const queue = ({ count, open, doubts }, show) => [
  para(
    `${figure(count)} doubtful things; a final classification waits for ${figure(open)} of them.` +
      (count > doubts.length
        ? ` The first ${doubts.length} are listed, and ${figure(count - doubts.length)} more follow as these are settled.`
        : ''),
  ),
  doubts.length
    ? table(
        'What is doubtful, what moves most places first',
        ['What', 'Crew', '#Places it moves', 'Is', 'Do'],
        doubts.map((doubt) => [
          title(doubt),
          doubt.crew.join(' / '),
          doubt.places,
          doubt.ruled ? 'ruled' : doubt.open ? 'open' : 'to look at',
          button('Look', () => show(doubt), { 'aria-label': 'Look at ' + title(doubt) }),
        ]),
        { id: 'doubts' },
      )
    : '',
];

/** The form by which a doubt is left as it is. */
const leaving = (office, doubt, done, back) =>
  acknowledgeForm(office, {
    title: title(doubt),
    id: doubt.id,
    done,
    back,
    parts: [
      para(doubt.why, ' It stays in the log, and is back in the queue when its readings change.'),
    ],
  });

export async function showReview(office, place) {
  const open = make('div', {});
  const list = make('div', {});
  let doubts = [];
  /** A form in the place of what is open; gives the focus back to the queue. */
  const put = (form) => {
    open.replaceChildren(form);
    form.querySelector('h2').focus();
  };
  const close = () => {
    open.replaceChildren();
    const first = list.querySelector('button');
    if (first) first.focus();
  };
  const closed = async () => {
    await refresh();
    close();
  };
  const show = (doubt, typed = '') => {
    const onward = async () => {
      const at = doubts.findIndex((one) => keyOf(one) === keyOf(doubt));
      await refresh();
      // What was just ruled stays in the list; so does what was ruled before.
      const left = (one) => !one.ruled && keyOf(one) !== keyOf(doubt);
      const next = doubts.slice(Math.max(at, 0)).find(left) || doubts.find(left);
      if (next) {
        show(next);
        return;
      }
      open.replaceChildren(para('Nothing waits for a ruling any more.'));
      document.getElementById('office').focus();
    };
    // The answers rest on readings that are others now: they are shown as they stand, nothing is kept.
    const late = async (error, words) => {
      await refresh();
      const now = doubts.find((one) => keyOf(one) === keyOf(doubt));
      const faults = [{ text: error.message, control: null }];
      if (now) show(now, words);
      else {
        faults.push({
          text: `${title(doubt)}: it is not doubtful any more.${words.trim() && ` Your reason was: ${words.trim()}`}`,
          control: null,
        });
        open.replaceChildren();
      }
      const box = summary(faults);
      open.prepend(box);
      box.focus();
    };
    const leave = () => put(leaving(office, doubt, onward, () => show(doubt)));
    put(panel(office, doubt, { done: onward, leave, late, typed }));
  };
  const refresh = async (unless = neverBusy) => {
    const [reply, cases, refused, looked] = await Promise.all([
      office.api.get('doubts'),
      openCases(office),
      office.api.get('refusals'),
      office.api.get('acknowledgements'),
    ]);
    if (unless()) return;
    doubts = reply.doubts;
    list.replaceChildren(
      casesInReview(cases),
      refusedTable(office, refused, put, closed, close),
      ...queue(reply, show),
      acknowledgedTable(office, looked.acknowledgements, put, closed, close),
    );
  };
  place.append(open, list);
  await refresh();
  return {
    refresh,
    busy: () => open.contains(document.activeElement) || list.contains(document.activeElement),
  };
}
