// SPDX-License-Identifier: MIT
// Notices: what is posted, what still stands between the event and its final classification, and
// posting. A notice is shown as it will be before it is posted, for it can never be changed.

import { make } from '../shared/dom.js';
import { Refused } from './api.js';
import { asking, confirmed } from './confirm.js';
import { moved, placeText } from './effect.js';
import {
  button,
  clearFaults,
  field,
  input,
  nobody,
  para,
  showRefused,
  summary,
  table,
} from './parts.js';
import { checkSeal, readNotice } from './seal.js';
import { moment } from './times.js';

const KINDS = {
  bulletin: 'Bulletin',
  provisional: 'Provisional classification',
  final: 'Final classification',
};
const SHORT = 12;
const LISTED = 12;

const crewOf = (content) =>
  new Map(
    content.overall
      ? [...content.overall.standings, ...content.overall.unplaced].map((row) => [
          row.car,
          row.crew.join(' / '),
        ])
      : [],
  );
const plural = (count, one, more) => `${count} ${count === 1 ? one : more}`;

/** Who stands otherwise than before, by what a classification says of itself: first those whose own
 * result changed, then, folded, those that only make room. */
function differences({ supersedes, differences: list, ...content }) {
  if (supersedes === null) return [];
  if (!list.length) return [para(`Every car stands as it did in notice ${supersedes}.`)];
  const crews = crewOf(content);
  const told = (side, name, words) => (side ? words(side[name]) : 'not in it');
  const sides = (row, name, words = String) =>
    moved(told(row.before, name, words), told(row.after, name, words));
  const cost = (row) =>
    sides(row, 'penalty') +
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
const facts = (rows) =>
  make(
    'dl',
    { class: 'facts' },
    ...rows
      .filter(Boolean)
      .map(([term, ...what]) => make('div', {}, make('dt', {}, term), make('dd', {}, ...what))),
  );

/** What a classification holds and how long protests may be made. */
function contentFacts(office, content) {
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

// ---- what stands in the way ----

const link = (href, text) => make('a', { href }, text);

/** At most a dozen; how many more of `all` there are. */
function listed(names, all = names.length) {
  return names.slice(0, LISTED).join(', ') + (all > LISTED ? ` and ${all - LISTED} more` : '');
}

/** The steps to a final classification in their order: each with whether it is done, what is told
 * while it is not, and where it is settled. */
function steps(office, { obstacles, doubts: doubtful }, notices) {
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

function checklist(list) {
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

// ---- posting ----

/** Asks what a classification would say, together with the tag under which that may be posted. */
async function ahead(office, kind) {
  const { tag } = await office.api.tagged('notices');
  return { ...(await office.api.get('classifications/' + kind)), tag };
}

const typed = (text) => (text ? make('p', { class: 'typed' }, text) : null);
const never = () =>
  para(
    'A notice is sealed as it is posted. It can be replaced by a later one, but never changed or taken away.',
  );

async function postBulletin(office, form, done) {
  const { title, text } = form.elements;
  clearFaults(form);
  if (!title.value.trim()) {
    const box = summary([{ text: 'Give the bulletin a title.', control: title }]);
    form.prepend(box);
    box.focus();
    return;
  }
  const body = { kind: 'bulletin', title: title.value.trim(), text: text.value.trim() };
  if (
    !(await confirmed(
      'Post this bulletin?',
      [make('article', { class: 'sheet' }, make('h3', {}, body.title), typed(body.text)), never()],
      'Post it',
      'Not yet',
    ))
  )
    return;
  await send(office, form, body, null, done);
}

async function send(office, form, body, tag, done) {
  try {
    const { number } = await office.api.post('notices', body, tag);
    form.reset();
    office.say(`Notice ${number} is posted.`);
    await done(number);
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    showRefused(form, error);
  }
}

async function postClassification(office, form, kind, hold, done) {
  clearFaults(form);
  const text = form.elements.text.value.trim();
  try {
    const told = await ahead(office, kind);
    if (told.obstacles.length) {
      await hold(waiting(kind));
      return;
    }
    const { content } = told;
    const sure = await confirmed(
      `Post notice ${content.number}: ${content.title}?`,
      [
        facts([
          ['Posted', 'as soon as you say so; it is now ', moment(office, content.posted)],
          ...contentFacts(office, content),
        ]),
        typed(text),
        ...differences(content),
        never(),
      ],
      `Post it as ${kind}`,
      'Not yet',
    );
    if (sure) await send(office, form, { kind, text }, told.tag, done);
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    showRefused(form, error);
  }
}

/** Why it cannot be posted yet: no fault of anybody. The steps that are left stand below it. */
function waiting(kind) {
  return make(
    'div',
    { class: 'faults calm', tabindex: '-1', role: 'group', 'aria-label': 'Not yet' },
    make('h3', {}, `The ${kind} classification has to wait`),
    para(
      kind === 'final'
        ? 'Nothing was posted. The steps without a tick are left:'
        : 'Nothing was posted. It tells everything, so nothing may be hidden from the public any more:',
    ),
  );
}

function bulletinForm(office, done) {
  const text = make('textarea', { name: 'text', rows: '4', cols: '60' });
  const form = make(
    'form',
    { class: 'sheet', novalidate: true, id: 'bulletin' },
    field('Title', input('title', { size: '50', spellcheck: 'true' })),
    field('Text', text, 'for everybody to read'),
    para(make('button', {}, 'Look at it, then post')),
  );
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    void postBulletin(office, form, done);
  });
  return form;
}

function classificationForm(office, hold, done) {
  const text = make('textarea', { name: 'text', rows: '3', cols: '60' });
  const press = (kind) => () => void postClassification(office, form, kind, hold, done);
  const form = make(
    'form',
    { class: 'sheet', novalidate: true, id: 'classification' },
    field('Words above the tables', text, 'such as where protests are handed in; may stay empty'),
    make(
      'p',
      { class: 'acts' },
      button('Look at the provisional, then post', press('provisional'), {
        id: 'post-provisional',
      }),
      button('Look at the final, then post', press('final'), { id: 'post-final' }),
    ),
  );
  form.addEventListener('submit', (event) => event.preventDefault());
  return form;
}

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

export async function showNotices(office, place) {
  const list = make('div', {});
  const one = make('div', {});
  const held = make('div', {});
  const steady = make('div', {});
  const way = make('div', { id: 'way' }, held, steady);
  let seen = null;
  let waits = true; // a protest period runs: what is told changes with the clock
  let revision = null;
  const look = async (number, from) => {
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
  const row = (n) => [
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
      ? button('Look', (event) => void look(n.number, event.target), {
          'aria-label': `Look at notice ${n.number}`,
          'data-notice': String(n.number),
        })
      : null,
  ];
  const refresh = async (unless = nobody) => {
    if (office.event.revision === revision && !waits) return;
    const { notices: told } = await office.api.get('notices');
    const final = await office.api.get('classifications/final');
    const { obstacles, revision: asked } = final;
    if (unless()) return;
    revision = asked;
    waits = obstacles.some(({ kind }) => kind === 'protest-period');
    const sign = JSON.stringify([office.event.status, told.length, obstacles, final.doubts]);
    if (sign === seen) return;
    seen = sign;
    list.replaceChildren(
      told.length
        ? table(
            `${plural(told.length, 'notice', 'notices')}, the latest first`,
            ['No.', 'Kind', 'Title', 'Posted', 'Protests until', 'Hash', 'As', 'Do'],
            told.slice().reverse().map(row),
            { id: 'notices-posted' },
          )
        : para('Nothing is posted yet.'),
    );
    steady.replaceChildren(
      ...(office.event.status === 'final'
        ? [
            para(
              make('strong', {}, 'The results are final.'),
              ' A later change makes them provisional again, until a new classification is posted.',
            ),
          ]
        : [checklist(steps(office, final, told))]),
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
    await look(number, document.body);
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
