// SPDX-License-Identifier: MIT
// The organiser's office: opens with a key, shows one section at a time, ends when it is left.

import { byId, make, setText } from '../shared/dom.js';
import { Api, Refused } from './api.js';
import { showCars } from './cars.js';
import { showControlRoom } from './control-room.js';
import { showDecisions } from './decisions.js';
import { showEnquiries } from './enquiries.js';
import { showKeys } from './keys.js';
import { showLog } from './log.js';
import { showMachine } from './machine.js';
import { showNotices } from './notices.js';
import { showPrizes } from './prizes.js';
import { showReview } from './review.js';
import { showRules } from './rules/rules.js';
import { showAs } from './shown.js';
import { showStarts } from './starts.js';

const SECTIONS = [
  ['room', 'Control room', showControlRoom],
  ['review', 'Review', showReview],
  ['decisions', 'Decisions', showDecisions],
  ['enquiries', 'Enquiries', showEnquiries],
  ['notices', 'Notices', showNotices],
  ['cars', 'Entry list', showCars],
  ['starts', 'Start lists', showStarts],
  ['prizes', 'Prizes', showPrizes],
  ['rules', 'Rules', showRules],
  ['keys', 'Keys', showKeys],
  ['log', 'Log', showLog],
  ['machine', 'Machine', showMachine],
];

// Without input for so long the session of a tab ends.
const IDLE_MS = 4 * 3600 * 1000;
const REFRESH_MS = 10000;

const slug = document.body.dataset.slug;
const KEPT = 'cairn-office-' + slug;

function say(text) {
  setText(byId('say'), text);
}

/** Said once, however often it is tried. */
function warn(text) {
  if (byId('warn').textContent !== text)
    byId('warn').replaceChildren(...(text ? [make('p', {}, text)] : []));
}

/** Who decides, by what stands at the top of the page. */
const by = () => byId('by').value.trim();

/** What a section is given, with its place on the page: showX(office, place) draws it and resolves to
 *   refresh(unless)  draws what has changed, unless somebody has come to work there meanwhile
 *   busy()           whether somebody is at work there
 *   start            the control that gets the focus first, if not the page itself */
const office = {
  slug,
  api: null, // while the office is open
  event: null, // as GET /events/SLUG answered last
  say,
  warn,
  by,
  refreshState,
};

let section = null; // the one that is shown, as above
let touched = Date.now();
let timer = 0; // of the next drawing
let heard = null; // when the server answered last

/** The key in the address, which is taken out of it; else the one that this tab has. */
function findKey() {
  const found = /^#([a-z0-9]{32})$/.exec(location.hash);
  if (found) {
    history.replaceState(null, '', location.pathname + '#room');
    sessionStorage.setItem(KEPT, found[1]);
  }
  return sessionStorage.getItem(KEPT);
}

/** Says that what is shown may have been overtaken, and since when. */
function overtaken() {
  document.documentElement.dataset.overtaken = 'true';
  setText(
    byId('state'),
    heard
      ? `Not current: nothing was heard from the server since ${heard.toLocaleTimeString('en-GB')}. Trying again.`
      : 'Not current: the server does not answer. Trying again.',
  );
}

let undrawn = false; // the section that is wanted could not be drawn; it is tried again
let drawn = 0; // counts what was asked for, so that an answer that comes late draws over nothing

function leave(words) {
  drawn++;
  sessionStorage.removeItem(KEPT);
  clearTimeout(timer);
  office.api = null;
  heard = null;
  undrawn = false;
  delete document.documentElement.dataset.overtaken;
  setText(byId('state'), 'The office');
  section = null;
  byId('trouble').replaceChildren();
  byId('sections').hidden = byId('leave').hidden = true;
  const gate = document.createElement('div');
  byId('office').replaceChildren(gate);
  gate.replaceWith(theGate);
  theGate.hidden = false;
  say(words);
  warn(words);
  byId('key').focus();
}

const theGate = byId('gate');

async function refreshState() {
  const event = await office.api.get('');
  showAs(event);
  office.event = event;
  heard = new Date();
  delete document.documentElement.dataset.overtaken;
  setText(byId('state'), `The office. Results are ${event.status}, revision ${event.revision}.`);
}

/** What the event file is not fit for, on every section: there readings are not kept, or may be wrong. */
async function lookAtFile() {
  const { lines } = await office.api.get('status');
  const texts = lines
    .filter((line) => line.state === 'look' && ['file', 'facts'].includes(line.id))
    .map((line) => `${line.what}: ${line.is}. ${line.advice || ''}`.trim());
  // Said once, as long as it stays so.
  const shown = [...byId('trouble').children].map((each) => each.textContent);
  if (shown.join('\n') !== texts.join('\n'))
    byId('trouble').replaceChildren(...texts.map((text) => make('p', {}, text)));
}

/** Whether somebody is at work in what is shown. */
function atWork() {
  if (undrawn) return byId('office').firstElementChild?.contains(document.activeElement);
  return !section || section.busy();
}

/** Draws a section, unless `late()` meanwhile. `focus`: somebody asked for it. */
async function draw([name, title, showSection], late, focus) {
  const place = make(
    'section',
    { id: name, 'aria-labelledby': 'title' },
    make('h1', { id: 'title' }, title),
  );
  for (const link of byId('sections').querySelectorAll('a')) {
    if (link.hash === '#' + name) link.setAttribute('aria-current', 'page');
    else link.removeAttribute('aria-current');
  }
  document.title = `${title} – ${office.event.name}`;
  const made = await showSection(office, place);
  if (late()) return;
  section = made;
  undrawn = false;
  byId('office').replaceChildren(place);
  if (focus) (section.start || byId('office')).focus();
}

/** What the server says instead of an answer. Returns whether the office stays open. */
function failed(error) {
  if (error.status === 401 || error.status === 403) {
    leave(
      error.status === 401
        ? 'The key is not in force for this event.'
        : "This needs an organiser's key.",
    );
    return false;
  }
  if (error.status === 0 || error.status >= 500) overtaken();
  warn(error.message);
  return true;
}

/** Draws the section that the address names, and again whenever it asks or time passes; not under
 * somebody's hands. */
async function show(again = false) {
  if (!office.api) return;
  const wanted = location.hash.slice(1).split('?')[0];
  const shown = SECTIONS.find(([name]) => name === wanted) || SECTIONS[0];
  clearTimeout(timer);
  const busy = () => document.hidden || atWork();
  if (again && busy()) {
    schedule();
    return;
  }
  const turn = again ? drawn : ++drawn;
  const late = () => turn !== drawn;
  try {
    await refreshState();
    await lookAtFile();
    if (late()) return;
    if (again && !undrawn) await section.refresh(() => late() || busy());
    else await draw(shown, late, !again);
    if (late()) return;
    warn('');
  } catch (error) {
    if (late()) return;
    if (!(error instanceof Refused)) throw error;
    if (!failed(error)) return;
    undrawn = undrawn || !again;
  }
  if (late()) return;
  [document.documentElement.dataset.section] = shown;
  schedule();
}

function schedule() {
  clearTimeout(timer);
  if (Date.now() - touched > IDLE_MS) {
    leave('The office was left by itself after four hours without a touch.');
    return;
  }
  timer = setTimeout(() => show(true), REFRESH_MS);
}

async function open(key) {
  office.api = new Api(slug, key);
  try {
    await office.api.get('points');
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    if (error.status === 0) {
      warn(error.message);
      timer = setTimeout(() => open(key), REFRESH_MS);
      return;
    }
    leave(error.status === 403 ? "This needs an organiser's key." : error.message);
    return;
  }
  sessionStorage.setItem(KEPT, key);
  theGate.hidden = true;
  byId('sections').hidden = byId('leave').hidden = false;
  warn('');
  await show();
}

byId('sections').append(
  make(
    'ul',
    {},
    ...SECTIONS.map(([name, title]) => make('li', {}, make('a', { href: '#' + name }, title))),
  ),
);
byId('by').value = localStorage.getItem('cairn-office-by') || '';
byId('by').addEventListener('change', () => localStorage.setItem('cairn-office-by', by()));
byId('leave').addEventListener('click', () => leave('You have left the office.'));
theGate.addEventListener('submit', (event) => {
  event.preventDefault();
  const found = /([a-z0-9]{32})\s*$/.exec(byId('key').value);
  byId('key').value = '';
  if (found) open(found[1]);
  else warn('A key has 32 letters and digits.');
});
for (const touch of ['keydown', 'pointerdown'])
  document.addEventListener(
    touch,
    () => {
      touched = Date.now();
    },
    true,
  );
document.addEventListener('visibilitychange', () => {
  if (!document.hidden) show(true);
});
addEventListener('online', () => show(true));
addEventListener('hashchange', () => {
  if (/^#[a-z0-9]{32}$/.test(location.hash)) open(findKey());
  else show();
});

const key = findKey();
if (key) open(key);
else theGate.hidden = false;
document.documentElement.dataset.ready = 'true';
