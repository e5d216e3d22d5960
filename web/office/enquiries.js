// SPDX-License-Identifier: MIT
// Enquiries and protests of crews: cases, opened once and answered once, for the crew to read.

import { button, make } from '../shared/dom.js';
import { parseTimeOfDay } from '../shared/time.js';
import { Refused } from './api.js';
import { asking, confirmed } from './confirm.js';
import { field, input, nameMissing, onSubmit, routeList, select, showFaults } from './forms.js';
import { moment, momentText } from './moments.js';
import { askedFor, neverBusy, para, table } from './parts.js';

const KINDS = [
  ['enquiry', 'Enquiry'],
  ['protest', 'Protest'],
];
const KIND = Object.fromEntries(KINDS);
const OUTCOMES = {
  answered: 'answered',
  upheld: 'upheld',
  rejected: 'rejected',
  withdrawn: 'withdrawn by the crew',
};
// An enquiry is answered; a protest is upheld or not.
const CHOICES = {
  enquiry: ['answered', 'upheld', 'rejected', 'withdrawn'],
  protest: ['upheld', 'rejected', 'withdrawn', 'answered'],
};

const caseTitle = (one) =>
  `${KIND[one.kind]} ${one.number}, car ${one.car}${one.point ? ' at ' + one.point : ''}`;
const from = (one) =>
  one.by === 'crew' ? 'sent by the crew with its code' : 'entered by the office';

/** The cases that wait for an answer. */
export async function openCases(office) {
  return (await office.api.get('enquiries')).enquiries.filter((one) => one.answer === null);
}

/** Cases in the review's queue: how many, and each with the way to its answer. */
export function casesInReview(cases) {
  if (!cases.length) return para('No enquiry of a crew is open.');
  return table(
    cases.length === 1
      ? '1 enquiry or protest is open'
      : `${cases.length} enquiries and protests are open`,
    ['Case', 'What the crew says', 'Do'],
    cases.map((one) => [
      caseTitle(one),
      make('span', { class: 'typed' }, one.text),
      make(
        'a',
        { href: `#enquiries?case=${one.number}`, 'aria-label': `Answer ${caseTitle(one)}` },
        'Answer',
      ),
    ]),
    { id: 'cases' },
  );
}

// ---- an answer ----

/** A decision in a line that a crew understands. */
const decisionWords = (d) =>
  `decision ${d.number} (${d.kind}${d.car ? ` of car ${d.car}` : ''}` +
  `${d.point ? ` at ${d.point}` : ''}${d.value ? `, ${d.value}` : ''}): ${d.reason}`;

/** Decisions that may have to do with a case: those that hold, of its car or of everybody. */
const decisionsFor = (one, decisions) =>
  decisions
    .filter(
      (d) =>
        d.holds && !['close', 'revoke'].includes(d.kind) && (!d.car || Number(d.car) === one.car),
    )
    .reverse();

/** The answer as the crew reads it: its words, the decision it rests on, and who gave it. */
function answerText(text, decision, by) {
  return [
    text,
    '',
    ...(decision ? [`It rests on ${decisionWords(decision)}`] : []),
    `Answered by ${by}.`,
  ].join('\n');
}

async function sendAnswer(office, form, one, decisions, done) {
  const { outcome, text, decision } = form.elements;
  const faults = [];
  if (!text.value.trim())
    faults.push({ text: 'Write the answer: the crew will read it.', control: text });
  if (!office.by()) faults.push(nameMissing());
  if (showFaults(form, faults)) return;
  const chosen = decisions.find((d) => String(d.number) === decision.value);
  const whole = answerText(text.value.trim(), chosen, office.by());
  if (
    !(await confirmed(
      `Answer ${caseTitle(one)}?`,
      [
        para('Outcome: ', make('strong', {}, OUTCOMES[outcome.value])),
        make('p', { class: 'typed sheet' }, whole),
        para('A case is answered once; the answer cannot be changed.'),
      ],
      'Send the answer',
      'Not yet',
    ))
  )
    return;
  await office.api.post('enquiries/' + one.number, { outcome: outcome.value, text: whole });
  office.say(`${caseTitle(one)} is answered.`);
  await done();
}

async function answerForm(office, one, done, close) {
  const log = await office.api.get('decisions');
  const decisions = decisionsFor(one, log.decisions);
  const text = make('textarea', { name: 'text', rows: '4', cols: '60' });
  const rule = `#decisions?car=${one.car}${one.point ? '&point=' + encodeURIComponent(one.point) : ''}`;
  const form = make(
    'form',
    { class: 'sheet', novalidate: true, id: 'answer' },
    make('h3', { tabindex: '-1' }, `Answer ${caseTitle(one)}`),
    field(
      'Outcome',
      select(
        'outcome',
        CHOICES[one.kind].map((name) => [name, OUTCOMES[name]]),
      ),
    ),
    field('Answer', text, 'in words, for the crew to read'),
    field(
      'The decision that it rests on',
      select('decision', [
        ['', 'none'],
        ...decisions.map((d) => [String(d.number), decisionWords(d)]),
      ]),
    ),
    para('If something has to change, ', make('a', { href: rule }, 'make the decision first'), '.'),
    make(
      'p',
      { class: 'acts' },
      make('button', {}, 'Look at it, then send'),
      button('Leave it open', close),
    ),
  );
  onSubmit(form, () => sendAnswer(office, form, one, decisions, done));
  return form;
}

// ---- one from paper ----

/** The words of a case from paper: what it says, then when and by whom it was taken. */
function paperText(text, handed, by) {
  return [
    text,
    '',
    `On paper${handed ? `, handed in at ${handed.text}` : ''}, taken by ${by}.`,
  ].join('\n');
}

async function record(office, form, done) {
  const { kind, car, point, text, handed } = form.elements;
  const time = parseTimeOfDay(handed.value);
  const faults = [];
  if (!/^\d{1,4}$/.test(car.value.trim()))
    faults.push({ text: "Enter the car's number.", control: car });
  if (!text.value.trim()) faults.push({ text: 'Write down what the crew says.', control: text });
  if (handed.value.trim() && !time)
    faults.push({ text: 'Write the time as 14:32, or leave it empty.', control: handed });
  if (!office.by()) faults.push(nameMissing('Say at the top of the page who took the paper.'));
  if (showFaults(form, faults)) return;
  const { number } = await office.api.post('enquiries', {
    kind: kind.value,
    car: car.value.trim(),
    point: point.value.trim(),
    text: paperText(text.value.trim(), time, office.by()),
  });
  form.reset();
  office.say(`It is case ${number}.`);
  await done(number);
}

function paperForm(office, done) {
  const form = make(
    'form',
    { class: 'sheet', novalidate: true, id: 'record' },
    field('What it is', select('kind', KINDS)),
    field('Car number', input('car', { inputmode: 'numeric', size: '6', maxlength: '4' })),
    field(
      'Point or test',
      input('point', { size: '12', list: 'points-on-route' }),
      'empty where it is about no one point',
    ),
    field('What the crew says', make('textarea', { name: 'text', rows: '4', cols: '60' })),
    field(
      'Handed in at',
      input('handed', { size: '8', inputmode: 'numeric' }),
      'time of day as on the paper, such as 14:32; may stay empty',
    ),
    para(make('button', {}, 'Record it')),
    routeList(office, 'points-on-route'),
  );
  onSubmit(form, () => record(office, form, done));
  return form;
}

// ---- the lists ----

function openCase(office, one, crews, answer) {
  return make(
    'article',
    { class: 'case', id: `case-${one.number}` },
    make('h3', {}, caseTitle(one)),
    para(
      crews.get(one.car) || 'This car has left the entry list',
      ' · ',
      moment(office, one.opened),
      `, ${from(one)}`,
    ),
    make('p', { class: 'typed' }, one.text),
    para(
      button('Answer', () => void answer(one), {
        'aria-label': `Answer ${caseTitle(one)}`,
        'data-case': String(one.number),
      }),
      ' ',
      make('a', { href: `/${office.slug}/cars/${one.car}` }, `Card of car ${one.car}`),
    ),
  );
}

/** The decision that an answer names leads to the log. */
function answerParts(text) {
  const found = /^([^]*\nIt rests on )(decision \d+)([^]*)$/.exec(text);
  return found ? [found[1], make('a', { href: '#decisions' }, found[2]), found[3]] : [text];
}

function answeredTable(office, cases, crews) {
  return table(
    cases.length === 1
      ? '1 case is answered'
      : `${cases.length} cases are answered, the latest first`,
    ['Case', 'Crew', 'What it says', 'Received', 'Outcome', 'Answer', 'Answered'],
    cases
      .slice()
      .sort((a, b) => Date.parse(b.answer.answered) - Date.parse(a.answer.answered))
      .map((one) => [
        caseTitle(one),
        crews.get(one.car) || '–',
        make('span', { class: 'typed' }, one.text),
        `${momentText(office, one.opened)}, ${from(one)}`,
        OUTCOMES[one.answer.outcome],
        make('span', { class: 'typed' }, ...answerParts(one.answer.text)),
        moment(office, one.answer.answered),
      ]),
    { id: 'answered' },
  );
}

async function crewsOf(office) {
  const reply = await office.api.get('standings');
  return new Map(
    [...reply.standings, ...reply.unplaced, ...(reply.pending || [])].map((row) => [
      row.car,
      row.crew.join(' / '),
    ]),
  );
}

export async function showEnquiries(office, place) {
  const open = make('div', {});
  const answered = make('div', {});
  let cases = [];
  let seen = null;
  let writing = null; // the answer that is being written: its case and its form
  const put = () => {
    const article = writing && open.querySelector(`#case-${writing.one.number}`);
    if (article) article.append(writing.form);
  };
  const answer = async (one) => {
    const close = () => {
      if (writing) writing.form.remove();
      writing = null;
      (open.querySelector(`[data-case="${one.number}"]`) || open.querySelector('h2')).focus();
    };
    try {
      const form = await answerForm(
        office,
        one,
        async () => {
          await refresh();
          close();
        },
        close,
      );
      if (writing) writing.form.remove();
      writing = { one, form };
      put();
      form.querySelector('h3').focus();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      office.warn(error.message);
    }
  };
  const refresh = async (unless = neverBusy) => {
    const reply = await office.api.get('enquiries');
    const sign = JSON.stringify(reply.enquiries);
    if (sign === seen) return;
    const crews = await crewsOf(office);
    if (unless()) return;
    seen = sign;
    cases = reply.enquiries;
    const waiting = cases.filter((one) => one.answer === null);
    const settled = cases.filter((one) => one.answer !== null);
    open.replaceChildren(
      make('h2', { tabindex: '-1' }, waiting.length ? `Open (${waiting.length})` : 'None is open'),
      ...waiting.map((one) => openCase(office, one, crews, answer)),
    );
    put();
    answered.replaceChildren(
      ...(settled.length
        ? [make('h2', {}, 'Answered'), answeredTable(office, settled, crews)]
        : []),
    );
  };
  const recorded = async (number) => {
    await refresh();
    open.querySelector(`[data-case="${number}"]`).focus();
  };
  place.append(open, make('h2', {}, 'One from paper'), paperForm(office, recorded), answered);
  await refresh();
  const wanted = cases.find((one) => String(one.number) === askedFor().case && one.answer === null);
  if (wanted) await answer(wanted);
  return {
    refresh,
    start: writing && writing.form.querySelector('h3'),
    busy: () =>
      asking() ||
      open.contains(document.activeElement) ||
      answered.contains(document.activeElement),
  };
}
