// SPDX-License-Identifier: MIT
// Shows what has changed since the reader's last visit to this view of the board.
//
// A visit begins when the page is opened or comes back into sight, and counts once it was in sight
// for some seconds with figures that the server confirmed, and with the line that tells of changes,
// where there is one. When it ends (the page is hidden or left) what it showed is kept on the
// device: the next one is compared with that. Changes while the page is in sight are not told, unless
// the line was there already. A reader who leaves while the line is there and is back soon, from a
// car's card for instance, finds it again; the button "seen" removes it. Nothing is told at a first
// visit, nor on a device that stores nothing. Only what two public pages showed is ever compared.

import { byId, setText } from '../shared/dom.js';
import { cellOf } from './cells.js';
import { differences, kept, packed } from './memory.js';
import { thousandths } from '../shared/penalties.js';
import { keep } from './keep.js';
import { figure, filled, glide, isHidden } from './parts.js';
import * as pins from './pins.js';
import { local } from './local-times.js';
import { carOf, placeOf, rowOf, rowsOfCars } from './rows.js';
import { lastVisit, visits, view } from './visits.js';
import { root } from './root.js';

const VISIT_SECONDS = 3; // in sight, for it to count
const NAMED_MAX = 3; // cars of one's own in the line; the list has all

const section = byId('since');
// A search is no view: nothing is compared there, and the page has no words for it.
const [SINCE, CAR, MOVED, COST, ALL, TESTS, NONE, RULED, CANCELLED, SEEN, LIST] = view
  ? section.dataset.words.split('|')
  : [];

const make = (name, text = '') =>
  Object.assign(document.createElement(name), { textContent: text });
const line = make('p'),
  seen = make('button', SEEN),
  details = make('details'),
  list = make('ul');
seen.type = 'button';
details.append(make('summary', LIST), list);

// ---- what the page shows ------------------------------------------------------------------
const board = () => byId('board').dataset; // it may be another one
const revision = () => byId('revision').textContent;

// Decisions and corrections are counted for placed cars alone.
function toldBy(tr) {
  const car = carOf(tr);
  const r = cellOf(tr, 'note')?.dataset.r ?? 0;
  return {
    car,
    place: placeOf(car),
    penalty: thousandths(cellOf(tr, 'penalty').textContent),
    rulings: r === '' ? 1 : Number(r),
  };
}

const shown = () => ({
  revision: revision(),
  at: confirmedAt || Date.now(),
  status: board().status,
  tests: board().tests,
  cancelled: board().cancelled || '',
  cars: packed(rowsOfCars().map(toldBy)),
});

// ---- in words -------------------------------------------------------------------------------
const signed = (n) => (n > 0 ? '+' : '') + figure(n);

function toldOf({ car, was, place, cost, ruled }) {
  const parts = [];
  if (!place) parts.push(cellOf(rowOf(car), 'why').textContent);
  else if (was !== place) parts.push(filled(MOVED, was || '–', place));
  if (cost && was && place) parts.push(filled(COST, signed(cost)));
  if (ruled) parts.push(RULED);
  return parts.join(', ');
}

const hasMoved = ({ was, place }) => was !== place;

function lineOf(found, own) {
  const named = own.slice(0, NAMED_MAX);
  const parts = named.map((one) => filled(CAR, one.car, toldOf(one)));
  const moved = found.cars.filter(hasMoved).length;
  if (moved > named.filter(hasMoved).length) parts.push(filled(ALL, moved));
  if (found.tests > 0) parts.push(filled(TESTS, found.tests, found.last));
  if (found.cancelled.length) parts.push(found.cancelled.join(', ') + ' ' + CANCELLED);
  // The state line has it in words: "Results are provisional,".
  if (found.status) parts.push(byId('state').querySelector('strong').textContent.replace(/,$/, ''));
  return filled(SINCE, local(base.at).slice(0, -3), parts.join('; ') || NONE);
}

function itemOf(one) {
  const tr = rowOf(one.car);
  const item = make('li');
  if (pins.has('own', one.car)) item.className = 'own';
  const crew = cellOf(tr, 'crew').querySelector('a').cloneNode(true);
  item.append(
    cellOf(tr, 'car').firstChild.cloneNode(true),
    ' ',
    crew,
    ' ',
    toldOf({ ...one, ruled: false }),
  );
  if (one.ruled) {
    const why = make('a', RULED);
    why.href = crew.getAttribute('href') + '#decisions';
    item.append(', ', why);
  }
  return item;
}

let listed = [];
function fill() {
  if (details.open && !list.contains(document.activeElement))
    list.replaceChildren(...listed.map(itemOf));
}
details.ontoggle = fill;

// ---- the line -------------------------------------------------------------------------------
// Does act(), and animates what stands below to its new place. Where that is above the window, the
// browser's scroll anchoring keeps the rest still.
function gently(act) {
  const below = [byId('main').querySelector('#since + *'), document.querySelector('footer')];
  while (below.at(-2).nextElementSibling) below.splice(-1, 0, below.at(-2).nextElementSibling);
  const top = below[0].getBoundingClientRect().top;
  act();
  if (top > 0) {
    const way = top - below[0].getBoundingClientRect().top;
    for (const element of below) glide(element, way);
  }
}

function draw() {
  const found = differences(base, shown());
  const mine = pins.list();
  const rank = (one) =>
    mine.includes(one.car) ? mine.indexOf(one.car) - mine.length : one.place || 1e9;
  const own = found.cars.filter((one) => mine.includes(one.car)).sort((a, b) => rank(a) - rank(b));
  const text = lineOf(found, own);
  listed = found.cars
    .filter((one) => hasMoved(one) || one.ruled || own.includes(one))
    .sort((a, b) => rank(a) - rank(b));
  gently(() => {
    setText(line, text);
    details.hidden = listed.length === 0;
    section.hidden = false;
    fill();
  });
}

function hide() {
  details.open = false;
  if (section.offsetHeight)
    gently(() => {
      section.hidden = true;
      root.classList.remove('changed'); // no place is kept any more
    });
}

// ---- visits ------------------------------------------------------------------------------------
let base = null,
  open = false,
  decided = false,
  seconds = 0,
  confirmedAt = 0;

function begin() {
  base = lastVisit();
  decided = false;
  seconds = 0;
}

function decide() {
  if (!decided) open = base !== null && base.revision !== revision();
  decided = true;
  if (open) draw();
  else hide();
}

function write() {
  const last = shown();
  const visit = { view, left: Date.now(), last };
  keep.set('looks', kept(visits(), open ? { ...visit, base } : visit));
}

function leave() {
  if (decided && confirmedAt && seconds >= VISIT_SECONDS) write();
}

/** Begins a visit. Returns {confirmed}: to be called whenever the server has confirmed that what is
 * shown is current. */
export function setUpSince() {
  if (!view) return { confirmed() {} };
  section.append(line, seen, details);
  setInterval(() => {
    const box = section.getBoundingClientRect();
    if (
      seconds < VISIT_SECONDS &&
      decided &&
      !isHidden() &&
      (!open || (box.bottom > 0 && box.top < innerHeight))
    )
      seconds++;
  }, 1000);
  addEventListener('pagehide', leave);
  addEventListener('pageshow', (e) => {
    if (e.persisted) begin();
  });
  document.addEventListener('visibilitychange', () => {
    if (isHidden()) leave();
    else begin();
  });

  seen.onclick = () => {
    open = false;
    write();
    hide();
    // The button is gone: the focus goes to the heading above it.
    const head = document.querySelector('h1');
    head.tabIndex = -1;
    head.focus({ preventScroll: true });
  };

  begin();
  // A page that is newer than the last visit is no saved copy from before it.
  if (base && Number(revision()) > Number(base.revision)) decide();
  return {
    confirmed() {
      confirmedAt = Date.now();
      decide();
    },
  };
}
