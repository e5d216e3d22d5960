// SPDX-License-Identifier: MIT
// The standings keep themselves up to date: figures are asked for now and then (or when the server
// says so, by choice), only what changed is written, and rows move to their places. Whatever else
// changes the page is fetched whole. Nothing moves while a row has the focus or a finger on it.

import { ask } from '../shared/client.js';
import { thousandths } from './figures.js';
import { LIMIT_MS, figure, glide, pageAnew, swap } from './parts.js';
import { pins } from './pins.js';
import { setUpSince } from './since.js';
import { official, setUpSorts, sorted } from './sorts.js';
import { local, localTimes } from './times.js';

function setUpBoard() {
  const EVERY = 15000,
    IDLE_EVERY = 60000,
    IDLE_AFTER = 600000,
    SAY_EVERY = 60000;
  const root = document.documentElement;
  const by = (id) => document.getElementById(id);
  const status = by('status');
  const event = root.dataset.event;

  // ---- what the page shows -----------------------------------------------------------------
  const boardBody = () => document.querySelector('#board table.board:not(.plain) > tbody');
  const single = document.querySelectorAll('#board table.board').length === 1;
  const rowOf = (car) => by('n' + car);
  const put = (cell, text) => {
    if (cell.textContent !== text) cell.textContent = text;
  };
  const others = (data, key) => data[key].map((text) => text.split(' ')[0]).join(' ');
  const shown = (selector) =>
    [...document.querySelectorAll(`#board table.${selector} tr[id]`)]
      .map((tr) => tr.id.slice(1))
      .join(' ');

  // True where the figures are about the rows that stand on the page.
  const fits = (data) =>
    single &&
    data.car &&
    boardBody() &&
    !by('q').defaultValue &&
    data.after === after &&
    data.status === state &&
    others(data, 'pending') === shown('pending') &&
    others(data, 'unplaced') === shown('others:not(.pending)') &&
    data.car.length === boardBody().rows.length &&
    data.car.every(rowOf);

  function writeRow(tr, data, i, place) {
    const total = thousandths(data.penalty[i]);
    const change = data.change[i];
    const cells = tr.cells;
    put(cells[0], (data.equal[i] ? '=' : '') + place);
    put(cells[1], change ? (change > 0 ? '▲' : '▼') + Math.abs(change) : '');
    put(cells[4], figure(total));
    put(cells[5], data.leader?.[i] || figure(total - thousandths(data.penalty[0])));
    put(cells[6], data.next?.[i] || figure(total - thousandths(data.penalty[i ? i - 1 : 0])));
    const era = cells[7].textContent.replace(/ ?\d*$/, '');
    put(cells[7], (/[A-Za-z]/.test(era) ? era + ' ' : '') + (data.place[i] || ''));
    put(cells[8], data.note[i]);
    cells[8].dataset.r = data.rulings[i];
  }

  // Rows are moved, then drawn from where they were to where they are.
  function order(body, rows) {
    if (rows.every((tr, i) => body.rows[i] === tr)) return;
    const inSight = (tr) => {
      const b = tr.getBoundingClientRect();
      return b.bottom > -400 && b.top < innerHeight + 400;
    };
    const before = new Map(
      [...body.rows].filter(inSight).map((tr) => [tr, tr.getBoundingClientRect().top]),
    );
    rows.forEach((tr, i) => {
      if (body.rows[i] !== tr) body.insertBefore(tr, body.rows[i] || null);
    });
    const ways = [...before].map(([tr, top]) => [tr, top - tr.getBoundingClientRect().top]);
    for (const [tr, way] of ways) glide(tr, way);
  }

  function apply(data) {
    const body = boardBody();
    let place = 0;
    const rows = data.car.map((car, i) => {
      const tr = rowOf(car);
      const same =
        data.equal[i] &&
        i &&
        data.equal[i - 1] &&
        data.penalty[i] === data.penalty[i - 1] &&
        !data.next?.[i];
      if (!same) place = i + 1;
      writeRow(tr, data, i, place);
      return tr;
    });
    order(body, sorted(body, rows));
    put(by('revision'), String(data.revision));
    Object.assign(by('board').dataset, {
      tests: `${data.tests} ${data.last}`,
      cancelled: data.cancelled,
    });
    for (const id of ['through', 'running']) if (by(id)) put(by(id), String(data[id]));
    const time = by('state').querySelector('time');
    time.dateTime = data.changed;
    put(time, local(data.changed));
    changed = data.changed;
    tellMoves();
    pinned();
    filter();
  }

  // ---- the whole page, where figures alone do not tell it --------------------------------------
  async function replacePage(wanted) {
    const next = await pageAnew({ Accept: 'text/html' });
    // Without the network the worker gives its saved copy, and a cache may be a moment behind.
    if (!copy && Number(next.getElementById('revision').textContent) < wanted)
      throw new Error('old');
    for (const id of ['board', 'view', 'state']) {
      const now = by(id),
        then = next.getElementById(id);
      if (now && then) now.replaceWith(document.adoptNode(then));
    }
    localTimes(by('state'));
    setUpSorts(by('board'));
    read();
    tellMoves();
    pinned();
    filter();
  }

  let after = '',
    state = '',
    changed = '';
  function read() {
    const board = by('board');
    after = board.dataset.after || '';
    state = board.dataset.status || '';
    changed = by('state').querySelector('time').dateTime;
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
  let timer = 0,
    busy = false,
    paused = false,
    missed = 0,
    waiting = null,
    tag = '',
    lastUse = performance.now(),
    asked = 0;

  // A heading that was pressed keeps the focus, and is nobody's row.
  const isHeld = () =>
    [document.activeElement, document.querySelector('#board :active')].some(
      (e) => e && e.closest('#board') && !e.closest('thead'),
    );
  const isHidden = () => document.visibilityState === 'hidden';

  // Of the figures shown last; a copy's page keeps an older revision while it says the same.
  let seen = by('revision').textContent;
  async function show(data) {
    waiting = null;
    by('held').hidden = true;
    await (fits(data) ? apply(data) : replacePage(data.revision));
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
      // Only now: what could not be shown is asked for again, whole.
      if (data) tag = answer.headers.get('ETag') || '';
      if (missed > 1) say(status.dataset.online);
      missed = 0;
      asked = Date.now();
    } catch {
      missed++;
      if (missed === 2 || (missed === 1 && !tag))
        say(status.dataset.offline.replace('{0}', local(changed)));
    }
    busy = false;
    age();
    plan();
  }

  function plan() {
    clearTimeout(timer);
    if (paused || isHidden()) return;
    const every = performance.now() - lastUse > IDLE_AFTER || stream ? IDLE_EVERY : EVERY;
    timer = setTimeout(poll, every * (0.8 + 0.4 * Math.random()));
  }

  // Kept back while a row has the focus or a finger; shown on a tap, or once nothing holds it.
  function hold(data) {
    waiting = data;
    const held = by('held');
    const body = boardBody();
    const rows = body ? official(body) : [];
    const count = (data.car || []).filter((car, i) => rows[i] !== rowOf(car)).length || 1;
    held.textContent = (count === 1 ? held.dataset.one : held.dataset.other).replace('{0}', count);
    held.hidden = false;
  }
  const showKept = () =>
    show(waiting).catch(() => {
      tag = '';
    });
  by('held').onclick = showKept;
  addEventListener('focusout', () =>
    setTimeout(() => {
      if (waiting && !paused && !isHeld()) showKept();
    }, 300),
  );

  // ---- what is said -------------------------------------------------------------------------------
  let saidAt = -SAY_EVERY;
  function say(text) {
    status.textContent = text;
  }

  const placeOf = (car) => {
    const tr = rowOf(car);
    return tr ? Number(tr.cells[0].textContent.replace('=', '')) || 0 : 0;
  };
  let places = new Map();
  function tellMoves() {
    const told = [];
    for (const car of pins.list()) {
      const was = places.get(car),
        now = placeOf(car);
      if (was && now && was !== now)
        told.push(
          (now < was ? status.dataset.movedUp : status.dataset.movedDown)
            .replace('{0}', car)
            .replace('{1}', now)
            .replace('{2}', Math.abs(was - now)),
        );
    }
    if (told.length === 0 && places.size > 0) return;
    if (told.length && performance.now() - saidAt < SAY_EVERY) return;
    if (told.length) {
      saidAt = performance.now();
      say(told.join('. '));
    }
    places = new Map(pins.list().map((car) => [car, placeOf(car)]));
  }

  // How old what is shown is, by the last answer of the server.
  function age() {
    const place = by('age');
    if (!asked) return;
    const seconds = Math.max(0, Math.round((Date.now() - asked) / 1000));
    const unit =
      seconds < 60
        ? [seconds, 'second']
        : seconds < 3600
          ? [Math.floor(seconds / 60), 'minute']
          : [Math.floor(seconds / 3600), 'hour'];
    const text = new Intl.RelativeTimeFormat(root.lang, { style: 'short' })
      .format(-unit[0], unit[1])
      .replace(/\.$/, ''); // the sentence has its own
    put(place, status.dataset.checked.replace('{0}', text));
    place.classList.toggle('old', missed > 1);
  }
  setInterval(() => {
    if (!isHidden()) age();
  }, 5000);

  // ---- pins, filter ---------------------------------------------------------------------------------
  function pinned() {
    const body = by('pins').querySelector('tbody');
    const rows = pins
      .list()
      .map(rowOf)
      .filter((tr) => tr && tr.cells.length === 9)
      .map((tr) => {
        const row = tr.cloneNode(true);
        row.removeAttribute('id');
        if (pins.has('own', Number(tr.id.slice(1)))) row.className = 'own';
        return row;
      });
    for (const tr of document.querySelectorAll('#board tr[id]'))
      tr.classList.toggle('own', pins.has('own', Number(tr.id.slice(1))));
    body.replaceChildren(...rows);
    by('pins').hidden = rows.length === 0;
  }

  const plain = (text) => text.normalize('NFD').replace(/\p{M}/gu, '').toLowerCase();
  const found = new WeakMap();
  function filter() {
    const typed = plain(by('q').value.trim());
    const words = typed.split(/\s+/);
    let count = 0;
    for (const tr of document.querySelectorAll('#board tr[id]')) {
      const number = tr.id.slice(1);
      if (!found.has(tr)) found.set(tr, plain(tr.querySelector('th').textContent));
      const fit =
        typed === '' ||
        (/^\d+$/.test(typed)
          ? number.startsWith(typed)
          : words.every((word) => found.get(tr).includes(word)));
      if (tr.hidden === fit) tr.hidden = !fit;
      count += fit;
    }
    if (typed && count === 0) say(status.dataset.noneFits);
    else if (status.textContent === status.dataset.noneFits) say('');
  }

  // ---- the stream, by choice ---------------------------------------------------------------------------
  let stream = null,
    beat = 0,
    bell = 0;
  function listen() {
    stream = new EventSource(`/api/v1/events/${event}/stream`);
    const heard = () => {
      clearTimeout(beat);
      beat = setTimeout(() => {
        if (stream) {
          stream.close();
          listen();
        }
      }, 75000);
    };
    heard();
    stream.addEventListener('beat', heard);
    stream.onmessage = () => {
      heard();
      // Not all phones at once, and once for several.
      if (!bell)
        bell = setTimeout(
          () => {
            bell = 0;
            poll();
          },
          500 + 2500 * Math.random(),
        );
    };
    stream.onerror = () => {
      if (stream && stream.readyState === EventSource.CLOSED) silence();
    };
  }
  function silence() {
    clearTimeout(beat);
    if (stream) stream.close();
    stream = null;
  }

  // ---- begin ----------------------------------------------------------------------------------------------
  read();
  places = new Map(pins.list().map((car) => [car, placeOf(car)]));
  by('live').hidden = false;
  by('pause').onclick = (e) => {
    paused = !paused;
    swap(e.target);
    if (paused) clearTimeout(timer);
    else poll();
  };
  let wanted = false;
  by('stream').hidden = copy;
  by('stream').onclick = (e) => {
    wanted = !wanted;
    swap(e.target);
    if (wanted) listen();
    else silence();
    plan();
  };
  by('q').addEventListener('input', () => {
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
      silence();
      return;
    }
    if (wanted && !stream) listen();
    poll();
  });
  addEventListener('pageshow', (e) => {
    if (e.persisted) poll();
  });
  addEventListener('online', poll);
  setUpSorts(document);
  pinned();
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
}

if (document.getElementById('live')) setUpBoard();
