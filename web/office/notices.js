// SPDX-License-Identifier: MIT
// Notices: what is posted, what still stands between the event and its final classification, and
// posting. A notice is shown as it will be before it is posted, for it can never be changed.

import { button, make } from '../shared/dom.js';
import { Refused } from './api.js';
import { asking } from './confirm.js';
import { checklist, steps } from './final-steps.js';
import { moment } from './moments.js';
import { bulletinForm, classificationForm } from './notice-forms.js';
import { contentFacts, differences, facts, link, plural, typed } from './notice-parts.js';
import { neverBusy, para, table } from './parts.js';
import { checkSeal, readNotice } from './seal.js';

const KINDS = {
  bulletin: 'Bulletin',
  provisional: 'Provisional classification',
  final: 'Final classification',
};
const SHORT = 12;

// ---- one notice ----

const SEALS = {
  good: 'The seal is whole: this browser has checked hash and signature.',
  broken:
    'The seal is broken. What is shown here is not what was sealed; tell the clerk of the course before anybody relies on it.',
};

async function notice(office, number, close) {
  const { text } = await office.api.document('notices/' + number);
  const read = readNotice(text);
  const { content, hash, signer } = read;
  const state = await checkSeal(read);
  return make(
    'section',
    { class: 'sheet', 'aria-labelledby': 'notice-title', id: 'notice' },
    make(
      'h2',
      { tabindex: '-1', id: 'notice-title' },
      `Notice ${content.number}: ${content.title}`,
    ),
    typed(content.text),
    facts([
      ['Kind', KINDS[content.kind]],
      ['Posted', moment(office, content.posted)],
      ...(content.kind === 'bulletin' ? [] : contentFacts(office, content)),
      ['Hash (SHA-256)', make('code', {}, hash)],
      [
        'Sealed by',
        make('code', {}, signer),
        signer === office.event.signer
          ? ", the event's own key"
          : ', which is not the key of the latest notice',
      ],
    ]),
    make(
      'p',
      { class: state === 'broken' ? 'fault' : null },
      SEALS[state] ||
        `This browser cannot check the seal here. On the server: cairn verify DATA_DIR ${office.slug} ${content.number}`,
    ),
    ...(content.kind === 'bulletin' ? [] : differences(content)),
    para(
      link(`/${office.slug}/notices#notice-${content.number}`, 'Page'),
      ' ',
      link(`${office.api.base}/paper/notices/${content.number}`, 'PDF'),
      ' ',
      link(`${office.api.base}/notices/${content.number}`, 'JSON with its seal'),
      ' ',
      button('Close', close),
    ),
  );
}

// ---- the section ----

/** A notice's row in the list; show(number, from) opens it. */
const noticeRow = (office, n, show) => [
  n.number,
  KINDS[n.kind],
  n.title,
  moment(office, n.posted),
  n.protest_until ? moment(office, n.protest_until) : '–',
  n.hash ? make('code', { title: n.hash }, n.hash.slice(0, SHORT)) : 'no seal',
  make(
    'span',
    {},
    link(`/${office.slug}/notices#notice-${n.number}`, 'Page'),
    ' ',
    n.hash ? link(`${office.api.base}/paper/notices/${n.number}`, 'PDF') : '',
  ),
  n.hash
    ? button('Look', (event) => void show(n.number, event.target), {
        'aria-label': `Look at notice ${n.number}`,
        'data-notice': String(n.number),
      })
    : null,
];
const noticesTable = (office, posted, show) =>
  table(
    `${plural(posted.length, 'notice', 'notices')}, the latest first`,
    [
      'No.',
      'Kind',
      { words: 'Title', class: 'title' },
      'Posted',
      'Protests until',
      'Hash',
      'As',
      'Do',
    ],
    posted
      .slice()
      .reverse()
      .map((n) => noticeRow(office, n, show)),
    { id: 'notices-posted' },
  );

export async function showNotices(office, place) {
  const list = make('div', {});
  const one = make('div', {});
  const held = make('div', {});
  const steady = make('div', {});
  const way = make('div', { id: 'way' }, held, steady);
  let seen = null;
  let waits = true; // a protest period runs: what is left to do changes with the clock
  let revision = null;
  const show = async (number, from) => {
    const close = () => {
      one.replaceChildren();
      const back = list.querySelector(`[data-notice="${number}"]`);
      if (back) back.focus();
    };
    try {
      one.replaceChildren(await notice(office, number, close));
      one.querySelector('h2').focus();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      office.warn(error.message);
      from.focus();
    }
  };
  const refresh = async (unless = neverBusy) => {
    if (office.event.revision === revision && !waits) return;
    const { notices: posted } = await office.api.get('notices');
    const final = await office.api.get('classifications/final');
    const { obstacles, revision: asked } = final;
    if (unless()) return;
    revision = asked;
    waits = obstacles.some(({ kind }) => kind === 'protest-period');
    const sign = JSON.stringify([office.event.status, posted.length, obstacles, final.doubts]);
    if (sign === seen) return;
    seen = sign;
    list.replaceChildren(
      posted.length ? noticesTable(office, posted, show) : para('Nothing is posted yet.'),
    );
    steady.replaceChildren(
      ...(office.event.status === 'final'
        ? [
            para(
              make('strong', {}, 'The results are final.'),
              ' A later change makes them provisional again, until a new classification is posted.',
            ),
          ]
        : [checklist(steps(office, final, posted))]),
    );
  };
  const hold = async (box) => {
    await office.refreshState();
    await refresh();
    held.replaceChildren(box);
    box.focus();
  };
  const done = async (number) => {
    held.replaceChildren();
    await office.refreshState();
    await refresh();
    await show(number, document.body);
  };
  place.append(
    make('h2', {}, 'Posted'),
    list,
    one,
    make('h2', {}, 'The way to the final classification'),
    way,
    classificationForm(office, hold, done),
    make('h2', {}, 'A bulletin'),
    bulletinForm(office, done),
  );
  await refresh();
  return {
    refresh,
    busy: () =>
      asking() || list.contains(document.activeElement) || way.contains(document.activeElement),
  };
}
