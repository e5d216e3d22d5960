// SPDX-License-Identifier: MIT
// What every public page can do better with a script: day and night, local times, pins, copies.
// Loaded before the page is drawn, so that a theme chosen by hand never flashes.
'use strict';
(() => {
  const root = document.documentElement;
  const event = root.dataset.event || '';
  const keep = {
    get(name) {
      try {
        return JSON.parse(localStorage.getItem('cairn-' + name));
      } catch {
        return null;
      }
    },
    set(name, value) {
      try {
        localStorage.setItem('cairn-' + name, JSON.stringify(value));
      } catch {
        /* full, or refused */
      }
    },
  };
  const theme = keep.get('theme');
  if (theme === 'light' || theme === 'dark') root.dataset.theme = theme;

  // Own car and rivals, kept on this device: {own: 22, rivals: [31, 40]}.
  const pins = {
    read() {
      const kept = keep.get('pins-' + event) || {};
      return { own: kept.own || 0, rivals: Array.isArray(kept.rivals) ? kept.rivals : [] };
    },
    list() {
      const { own, rivals } = pins.read();
      return (own ? [own] : []).concat(rivals.filter((n) => n !== own));
    },
    toggle(kind, car) {
      const kept = pins.read();
      if (kind === 'own') kept.own = kept.own === car ? 0 : car;
      else
        kept.rivals = kept.rivals.includes(car)
          ? kept.rivals.filter((n) => n !== car)
          : kept.rivals.concat(car).slice(-12);
      keep.set('pins-' + event, kept);
    },
    has(kind, car) {
      const kept = pins.read();
      return kind === 'own' ? kept.own === car : kept.rivals.includes(car);
    },
  };

  // What a script adds has its place kept from the first drawing on, so that nothing jumps.
  root.classList.add('js');
  if (event && pins.list().length) {
    root.classList.add('pinned');
    root.style.setProperty('--pins', pins.list().length);
  }

  // The view that this page shows, in whatever language; none where it was searched.
  const asked = new URLSearchParams(location.search);
  for (const [name, value] of [...asked])
    if (!value || name === 'lang' || value === 'overall') asked.delete(name);
  const view = asked.has('q') ? '' : location.pathname.replace('index.html', '') + asked;
  // What it showed at the last look, null before the first: see since.js. One that is still
  // being told of goes on to be for five minutes.
  const looks = () => {
    const kept = keep.get('looks');
    return Array.isArray(kept) ? kept : [];
  };
  const lookedAt = () => {
    const look = looks().find((one) => one && one.view === view);
    if (!look) return null;
    return look.base && Date.now() - look.left < 300000 ? look.base : look.last;
  };
  const { revision } = root.dataset;
  if (revision && lookedAt() && lookedAt().revision !== revision) root.classList.add('changed');

  const zone = root.dataset.zone;
  const clock = (() => {
    const how = { hour: '2-digit', minute: '2-digit', second: '2-digit', hourCycle: 'h23' };
    try {
      return new Intl.DateTimeFormat(root.lang, { ...how, timeZone: zone });
    } catch {
      return new Intl.DateTimeFormat(root.lang, how);
    }
  })();
  // Moments of today as a time of day in the event's zone; others with their date.
  const local = (iso) => {
    const moment = new Date(iso);
    const day = (t) => t.toLocaleDateString('en-CA', { timeZone: zone || undefined });
    const time = clock.format(moment);
    return day(moment) === day(new Date()) ? time : day(moment) + ' ' + time;
  };
  const localTimes = (within) => {
    for (const t of within.querySelectorAll('time[datetime]')) t.textContent = local(t.dateTime);
  };

  // ---- tables by another column --------------------------------------------------------------
  // Rows come in the official order; a third press on a heading gives it back.
  const orders = new Map(); // by caption: [column, downwards]
  const known = new WeakMap(); // a body's rows in their own order
  const official = (body) => known.get(body) || [...body.rows];
  const point = (0.5).toLocaleString(root.lang).charAt(1);
  const collator = new Intl.Collator(root.lang, { numeric: true });
  const worth = (text) =>
    Number(text.replace(/^[=▲]/, '').replace(/^[▼−]/, '-').replace(point, '.'));

  // The rows of a body, given in the official order, in the order that was chosen for its table.
  const sorted = (body, rows = official(body)) => {
    known.set(body, rows);
    const [column, down] = orders.get(body.parentNode.caption.textContent) || [];
    if (column === undefined) return rows;
    return rows
      .map((tr) => [tr.cells[column].textContent.trim(), tr])
      .sort(([a], [b]) => {
        if (a === '' || b === '') return (a === '') - (b === '');
        const apart = worth(a) - worth(b);
        return (Number.isNaN(apart) ? collator.compare(a, b) : apart) * (down ? -1 : 1);
      })
      .map(([, tr]) => tr);
  };

  const setUpSorts = (within) => {
    for (const table of within.querySelectorAll('table:is(.board, .results, .starts, .teams)')) {
      const body = table.tBodies[0];
      if (!table.tHead || body.rows.length < 2) continue;
      const heads = [...table.tHead.rows[0].cells];
      const name = table.caption.textContent;
      const show = () => {
        const [column, down] = orders.get(name) || [];
        heads.forEach((th, i) => {
          if (i === column) th.ariaSort = down ? 'descending' : 'ascending';
          else th.removeAttribute('aria-sort');
        });
        body.append(...sorted(body));
      };
      heads.forEach((th, i) => {
        const button = document.createElement('button');
        button.type = 'button';
        button.append(...th.childNodes);
        th.append(button);
        button.onclick = () => {
          const [column, down] = orders.get(name) || [];
          if (column === i && down) orders.delete(name);
          else orders.set(name, [i, column === i]);
          show();
        };
      });
      if (orders.has(name)) show();
    }
  };

  const swap = (button) => {
    const other = button.dataset.other;
    button.dataset.other = button.textContent;
    button.textContent = other;
  };

  const setUpTheme = () => {
    const button = document.getElementById('theme');
    const dark = () =>
      root.dataset.theme
        ? root.dataset.theme === 'dark'
        : matchMedia('(prefers-color-scheme: dark)').matches;
    const label = () => {
      button.textContent = dark() ? button.dataset.light : button.dataset.dark;
    };
    label();
    button.hidden = false;
    button.onclick = () => {
      root.dataset.theme = dark() ? 'light' : 'dark';
      keep.set('theme', root.dataset.theme);
      label();
    };
  };

  const copied = async () => {
    if (navigator.clipboard) return navigator.clipboard.writeText(location.href);
    // Plain http from another machine has no clipboard of its own.
    const field = document.createElement('input');
    field.value = location.href;
    document.body.append(field);
    field.select();
    document.execCommand('copy');
    field.remove();
  };

  const setUpTools = () => {
    const copy = document.getElementById('copy');
    copy.hidden = false;
    copy.onclick = async () => {
      await copied();
      copy.textContent = copy.dataset.done;
    };
    const print = document.getElementById('print');
    print.hidden = false;
    print.onclick = () => window.print();
    // Paper has nothing to tap on.
    addEventListener('beforeprint', () => {
      for (const d of document.querySelectorAll('details')) d.open = true;
    });
  };

  const setUpPins = () => {
    const place = document.getElementById('pin');
    if (place) {
      const car = Number(place.dataset.car);
      for (const button of place.querySelectorAll('button')) {
        if (pins.has(button.dataset.pin, car)) swap(button);
        button.onclick = () => {
          pins.toggle(button.dataset.pin, car);
          swap(button);
        };
      }
      place.hidden = false;
    }
    const rivals = document.getElementById('rivals');
    const list = pins.list().slice(0, 6);
    if (rivals && list.length > 1) {
      rivals.href += (rivals.search ? '&' : '?') + 'cars=' + list.join(',');
      rivals.hidden = false;
    }
    const mark = document.getElementById('mark');
    if (mark && mark.value === '' && pins.read().own) mark.value = pins.read().own;
  };

  // A worker keeps the pages that were seen; this one was there before it.
  const keepCopy = async () => {
    try {
      const scope = `/${event}/`;
      await navigator.serviceWorker.register(scope + 'board-worker.js', { scope });
      const files = [...document.querySelectorAll('link[rel=stylesheet], script[src]')].map(
        (e) => e.href || e.src,
      );
      (await navigator.serviceWorker.ready).active.postMessage([location.href, ...files]);
    } catch {
      /* refused; the page does without */
    }
  };

  // A line that dies without a word would hold a page for ever: the end of each question.
  const PATIENCE = 30000;
  const patience = () => {
    const end = new AbortController();
    setTimeout(() => end.abort(), PATIENCE);
    return end.signal;
  };

  window.cairn = {
    keep,
    patience,
    pins,
    view,
    looks,
    lookedAt,
    local,
    localTimes,
    swap,
    point,
    official,
    sorted,
    setUpSorts,
  };
  document.addEventListener('DOMContentLoaded', () => {
    localTimes(document);
    setUpTheme();
    setUpTools();
    setUpPins();
    setUpSorts(document);
    if ('serviceWorker' in navigator && event && !('copy' in root.dataset))
      addEventListener('load', keepCopy);
  });
})();
