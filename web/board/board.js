// SPDX-License-Identifier: MIT
// The standings keep themselves up to date: figures are asked for now and then (or when the server
// says so, by choice), only what changed is written, and rows move to their places. Whatever else
// changes the page is fetched whole. Nothing moves while a row has the focus or a finger on it.

import { ask } from '../shared/client.js';
import { byId, setText } from '../shared/dom.js';
import { showAge } from './age.js';
import { filter } from './filter.js';
import { tellMoves } from './moves.js';
import { LIMIT_MS, filled, isHidden, pageAnew, swapWords } from './parts.js';
import { showPinned } from './pinned.js';
import { boardBody, fits, rowOf, writeRows } from './rows.js';
import { setUpSince } from './since.js';
import { official, setUpSorts } from './sorts.js';
import { say, status } from './status.js';
import { Stream } from './stream.js';
import { local, localTimes } from './local-times.js';
import { root } from './root.js';

const EVERY = 15000;
const IDLE_EVERY = 60000;
const IDLE_AFTER = 600000;
const { event } = root.dataset;

// ---- what the page shows -----------------------------------------------------------------
const shown = { after: '', state: '', changed: '' };
function read() {
  const { dataset } = byId('board');
  shown.after = dataset.after || '';
  shown.state = dataset.status || '';
  shown.changed = byId('state').querySelector('time').dateTime;
}

function redraw() {
  tellMoves();
  showPinned();
  filter();
}

function apply(data) {
  writeRows(data);
  setText(byId('revision'), String(data.revision));
  Object.assign(byId('board').dataset, {
    tests: `${data.tests} ${data.last}`,
    cancelled: data.cancelled,
  });
  for (const id of ['through', 'running']) if (byId(id)) setText(byId(id), String(data[id]));
  const time = byId('state').querySelector('time');
  time.dateTime = data.changed;
  setText(time, local(data.changed));
  shown.changed = data.changed;
  redraw();
}

// ---- the whole page, where figures alone do not do --------------------------------------
async function replacePage(wanted) {
  const next = await pageAnew({ Accept: 'text/html' });
  // Without the network the worker gives its saved copy, and a cache may be a moment behind.
  if (!copy && Number(next.getElementById('revision').textContent) < wanted) throw new Error('old');
  for (const id of ['board', 'view', 'state']) {
    const now = byId(id),
      then = next.getElementById(id);
    if (now && then) now.replaceWith(document.adoptNode(then));
  }
  localTimes(byId('state'));
  setUpSorts(byId('board'));
  read();
  redraw();
}

// ---- asking -----------------------------------------------------------------------------------
// A copy of the site has its figures in a file beside it.
const copy = 'copy' in root.dataset;
const figures = new URL(
  copy ? root.dataset.figures : `/api/v1/events/${event}/board${location.search}`,
  location.href,
);
if (!copy) {
  figures.searchParams.delete('q');
  if (!figures.searchParams.has('lang')) figures.searchParams.set('lang', root.lang);
}
let timer = 0;
let busy = false;
let paused = false;
let missed = 0;
let waiting = null;
let tag = '';
let lastUse = performance.now();
let asked = 0;

// A heading that was pressed has the focus, too, but is no row.
const isHeld = () =>
  [document.activeElement, document.querySelector('#board :active')].some(
    (e) => e && e.closest('#board') && !e.closest('thead'),
  );

// Of the figures shown last; a copy's page keeps an older revision while it says the same.
let seen = byId('revision').textContent;
async function show(data) {
  waiting = null;
  byId('held').hidden = true;
  await (fits(data, shown) ? apply(data) : replacePage(data.revision));
  seen = String(data.revision);
  since.confirmed();
}

async function poll() {
  if (busy || paused || isHidden()) return;
  busy = true;
  try {
    const headers = tag ? { 'If-None-Match': tag } : {};
    const answer = await ask(figures, { headers, cache: 'no-store' }, LIMIT_MS);
    if (answer.status !== 304 && !answer.ok) throw new Error(answer.status);
    const data = answer.ok ? JSON.parse(await answer.body.text()) : null;
    if (data && String(data.revision) !== seen) {
      if (isHeld()) hold(data);
      else await show(data);
    } else if (!waiting) {
      since.confirmed();
    }
    // Only now: figures that could not be shown are asked for again, all of them.
    if (data) tag = answer.headers.get('ETag') || '';
    if (missed > 1) say(status.dataset.online);
    missed = 0;
    asked = Date.now();
  } catch {
    missed++;
    if (missed === 2 || (missed === 1 && !tag))
      say(filled(status.dataset.offline, local(shown.changed)));
  }
  busy = false;
  age();
  plan();
}

function plan() {
  clearTimeout(timer);
  if (paused || isHidden()) return;
  const every = performance.now() - lastUse > IDLE_AFTER || stream.open ? IDLE_EVERY : EVERY;
  timer = setTimeout(poll, every * (0.8 + 0.4 * Math.random()));
}

// Kept back while a row has the focus or a finger; shown on a tap, or once nothing holds it.
function hold(data) {
  waiting = data;
  const held = byId('held');
  const body = boardBody();
  const rows = body ? official(body) : [];
  const count = (data.car || []).filter((car, i) => rows[i] !== rowOf(car)).length || 1;
  held.textContent = filled(count === 1 ? held.dataset.one : held.dataset.other, count);
  held.hidden = false;
}
const showKept = () =>
  show(waiting).catch(() => {
    tag = '';
  });
byId('held').onclick = showKept;
addEventListener('focusout', () =>
  setTimeout(() => {
    if (waiting && !paused && !isHeld()) showKept();
  }, 300),
);

const stream = new Stream(event, poll);

const age = () => showAge(asked);
setInterval(() => {
  if (!isHidden()) age();
}, 5000);

// ---- begin ----------------------------------------------------------------------------------------------
read();
byId('live').hidden = false;
byId('pause').onclick = (e) => {
  paused = !paused;
  swapWords(e.target);
  if (paused) clearTimeout(timer);
  else poll();
};
let wanted = false;
byId('stream').hidden = copy;
byId('stream').onclick = (e) => {
  wanted = !wanted;
  swapWords(e.target);
  if (wanted) stream.listen();
  else stream.silence();
  plan();
};
byId('q').addEventListener('input', () => {
  lastUse = performance.now();
  filter();
});
for (const kind of ['pointerdown', 'keydown', 'scroll'])
  addEventListener(
    kind,
    () => {
      lastUse = performance.now();
    },
    { passive: true },
  );
document.addEventListener('visibilitychange', () => {
  if (isHidden()) {
    clearTimeout(timer);
    stream.silence();
    return;
  }
  if (wanted && !stream.open) stream.listen();
  poll();
});
addEventListener('pageshow', (e) => {
  if (e.persisted) poll();
});
addEventListener('online', poll);
setUpSorts(document);
showPinned();
filter();
const since = setUpSince();
// A page that came without the network may be old: the server is asked at once.
const came = performance.getEntriesByType('navigation')[0];
if (navigator.onLine && came && came.transferSize > 0) {
  asked = Date.now();
  since.confirmed();
  age();
  plan();
} else {
  poll();
}
