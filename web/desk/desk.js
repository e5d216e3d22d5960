// SPDX-License-Identifier: MIT
// The timekeeper's desk: puts its parts together. What a part does stands in its own file.

import { Api } from './api.js';
import { runClock } from './clock-run.js';
import { Actions } from './actions.js';
import { byId, make, setText } from '../shared/dom.js';
import { Link, keyIn } from './link.js';
import { Log, newDesk, newId } from './log.js';
import { Outbox } from './outbox.js';
import { stationsOf } from './stations.js';
import { startTabs } from './tabs.js';
import { stationInAddress, writeAddress } from './address.js';
import { idle } from './idle.js';
import { Instants } from './instants.js';
import { Store } from './store.js';
import { View, stationName } from './view.js';
import { LANGUAGES, chooseLanguage, putWords, t, useLanguage } from './words.js';
import { switchSound } from './sound.js';
import { registerWorker } from './register-worker.js';
import { later } from './later.js';

export * from './first.js';

const WORDS_TRIES = 10;
const LATER_MS = 2000; // after the start, for the second script

const root = document.documentElement;
const { slug } = root.dataset;
const version = root.dataset.assets.split('/').at(-1);

/** What all parts look at. */
const desk = {
  slug,
  api: new Api(slug),
  store: null, // null where the browser keeps nothing
  log: new Log(),
  clock: null,
  instants: new Instants(() => performance.now()),
  info: null, // as GET desk answers
  cars: new Map(), // number → entry
  copies: new Map(), // point → expected cars
  places: new Map(), // id → point, those of all links that were here
  stations: [],
  station: null,
  id: '',
  keyGone: false,
  linkGood: () => link.good,
  isHeld: (point) => link.keyFor(point) === null, // until there is a link for it
  by: () => byId('by').value.trim() || desk.info?.label || desk.id,
};

// Settings that must hold before the first paint, and matter to this browser only.
const setting = {
  get: (name) => {
    try {
      return localStorage.getItem('desk-' + name);
    } catch {
      return null;
    }
  },
  set: (name, value) => {
    try {
      localStorage.setItem('desk-' + name, value);
    } catch {
      /* then it holds until the page is closed */
    }
  },
};

function showTheme() {
  root.dataset.theme = night ? 'dark' : 'light';
  setText(byId('theme'), t(night ? 'theme.day' : 'theme.night'));
}

function changeTheme() {
  night = !night;
  setting.set('theme', night ? 'night' : 'day');
  showTheme();
}

const theme = setting.get('theme');
let night = theme ? theme === 'night' : matchMedia('(prefers-color-scheme: dark)').matches;
showTheme();

const view = new View(desk);
const link = new Link(desk, heard);
const channel = 'BroadcastChannel' in window ? new BroadcastChannel('desk-' + slug) : null;
let tabs = null;
let alone = false; // what is here no other tab can send
let leaving = false; // the timekeeper has asked for the newer version

const outbox = new Outbox({
  waiting: () => desk.log.all(),
  badKeys: link.bad,
  keyFor: (point) => link.keyFor(point),
  fresh: () => link.reread().catch(() => {}),
  post: (key, bodies) => link.call('readings', { key, method: 'POST', body: bodies }),
  settle: async (records) => {
    await idle();
    // In memory first: a disk that refuses must not make a reading go out for ever.
    for (const record of records) desk.log.add(record);
    await desk.store?.update(records).catch(() => {});
    changed();
  },
  tell(what, n, refused) {
    if (what === 'sent') {
      view.sent(n - refused, refused);
      link.hurry?.();
    }
    if (what === 'key') link.refreshInfo().catch(() => {});
    changed();
  },
});

const actions = new Actions(desk, view, {
  kept() {
    changed();
    idle().then(() => outbox.wake());
  },
  trouble(error) {
    storageRefused(error);
    // Now only the server can keep it, and no other tab knows of it.
    alone = true;
    outbox.sender = true;
    outbox.wake();
  },
  mended() {
    alone = false;
    root.dataset.storage = 'kept';
    byId('banner-storage').hidden = true;
  },
  again: (line) => again(line),
  placed() {
    writeAddress(desk.station.id);
    link.hurry?.();
  },
  remember: setting.set,
  recall: setting.get,
  night: changeTheme,
});

/** Something was kept, sent or refused: shown here, and passed on to other tabs and the office. */
function changed() {
  view.render();
  channel?.postMessage('changed');
  link.reportSoon?.();
}

function storageRefused() {
  root.dataset.storage = 'refused';
  byId('banner-storage').hidden = false;
}

async function again(line) {
  const record = { ...line.last, state: 'kept', refusal: '' };
  desk.log.add(record);
  await desk.store?.update([record]).catch(() => {});
  changed();
  outbox.wake();
}

/** Those that were refused are tried once more: what they were refused for may have gone. */
async function againAll() {
  const refused = desk.log.all().filter((r) => r.state === 'refused');
  if (refused.length === 0) return;
  const records = refused.map((r) => ({ ...r, state: 'kept', refusal: '' }));
  for (const record of records) desk.log.add(record);
  await desk.store?.update(records).catch(() => {});
  changed();
  outbox.wake();
}

function needKey(word = link.keys.length ? 'key.gone' : 'key.none') {
  desk.keyGone = true;
  setText(byId('banner-key-text'), t(word));
  byId('banner-key').hidden = false;
  view.render();
}

/** What the link has to say. */
function heard(what, value) {
  if (what === 'info' || what === 'places') {
    if (what === 'info') learn(value);
    else knowPlaces(value);
    outbox.wake();
  }
  if (what === 'key') needKey();
  if (what === 'lost') view.linkLost(value);
  if (what === 'good') {
    view.linkBack(value, desk.log.tally().unsent);
    outbox.wake();
  }
  view.render();
}

/** What a reading may be refused for: the cars and points there are. */
const listOf = ({ list, cars, points }) =>
  [list, ...cars.map((c) => c.number), ...points.map((p) => p.id)].join();

function learn(info) {
  const changes = desk.info && desk.info.key === info.key && listOf(desk.info) !== listOf(info);
  useInfo(info);
  if (changes) againAll();
}

function knowPlaces(info) {
  for (const point of info.points) desk.places.set(point.id, point);
}

function useInfo(info) {
  const wanted = desk.station?.id || stationInAddress();
  desk.info = info;
  knowPlaces(info);
  desk.cars = new Map(info.cars.map((car) => [car.number, car]));
  desk.stations = stationsOf(info.points);
  if (desk.keyGone && link.key === info.key && !link.bad.has(info.key)) {
    desk.keyGone = false;
    byId('banner-key').hidden = true;
  }
  view.offerStations();
  const moved = desk.station && !desk.stations.some((p) => p.id === wanted);
  actions.go(desk.stations.find((p) => p.id === wanted) || desk.stations[0] || null, false);
  if (desk.station) writeAddress(desk.station.id);
  if (moved) view.warn(t('said.moved', { station: stationName(desk.station) }));
  root.dataset.ready = 'true';
}

/** Returns what is wrong with the link: '' nothing, else the name of a text. */
async function takeLink(text) {
  const key = keyIn(text);
  if (!key) return 'key.wrong';
  const before = link.key;
  const known = link.keys.some((k) => k.key === key);
  let kept = false;
  try {
    await link.takeKey(key);
    kept = Boolean(desk.store);
  } catch (error) {
    storageRefused(error);
  }
  // It must not stay on the screen; but where nothing is kept the address is its only place.
  if (kept && location.hash) writeAddress(stationInAddress(), false);
  desk.keyGone = false;
  byId('banner-key').hidden = true;
  await link.refreshInfo().catch(() => {});
  if (link.bad.has(key) && !known) {
    await link.dropKey(key, before).catch(storageRefused);
    needKey('key.unknown');
    desk.keyGone = !before || link.bad.has(before);
    return 'key.unknown';
  }
  await againAll();
  outbox.wake();
  return '';
}

async function openStore() {
  try {
    desk.store = await Store.open(slug);
    desk.id = await desk.store.get('desk');
    if (!desk.id) {
      desk.id = newDesk();
      await desk.store.set('desk', desk.id);
    }
    await reload();
    await link.reread();
    link.chooseKey(stationInAddress());
    desk.saved = (await desk.store.get('clock')) || null;
    root.dataset.storage = 'kept';
  } catch (error) {
    desk.id = desk.id || newDesk();
    storageRefused(error);
  }
}

/** What is in the store, this tab's and any other's. */
async function reload() {
  for (const record of await desk.store.readings()) desk.log.add(record);
  for (const blank of await desk.store.blanks()) desk.log.addBlank(blank);
}

function reportOf() {
  const { unsent, refused, lastSeq } = desk.log.tally();
  const now = desk.clock.at(performance.now());
  return {
    by: desk.by(),
    points: desk.info.points.map((p) => p.id),
    last_seq: lastSeq,
    unsent,
    refused,
    blanks: desk.log.openBlanks().length,
    offset_ms: Math.round(now.offset),
    ...(now.uncertainty === null ? {} : { uncertainty_ms: Math.round(now.uncertainty) }),
    skew_ms: Math.round(desk.instants.skew),
    clock: view.clock.quality(now),
    version,
  };
}

function showWords() {
  view.words();
  setText(byId('about'), t('about', { desk: desk.id, version }));
}

function startSettings() {
  const flip = (id, name, use) => {
    const show = (state) => {
      byId(id).setAttribute('aria-pressed', String(state));
      use(state);
    };
    show(setting.get(name) === 'on');
    byId(id).addEventListener('click', () => {
      const state = byId(id).getAttribute('aria-pressed') !== 'true';
      setting.set(name, state ? 'on' : 'off');
      show(state);
      actions.back();
    });
  };
  flip('sound', 'sound', switchSound);
  flip('pad-button', 'pad', (state) => root.toggleAttribute('data-pad', state));
  byId('theme').addEventListener('click', () => {
    changeTheme();
    actions.back();
  });
  byId('language').append(
    ...Object.entries(LANGUAGES).map(([code, name]) =>
      make('option', { value: code, lang: code, selected: code === root.lang }, name),
    ),
  );
  byId('language').addEventListener('change', async (event) => {
    await useLanguage(event.target.value).catch(() => view.warn(t('later.failed')));
    event.target.value = root.lang;
    setting.set('language', root.lang);
    putWords(document);
    showTheme();
    showWords();
    actions.showStation();
    view.say('');
  });
  byId('by').value = setting.get('by') || '';
  byId('by').addEventListener('change', () => setting.set('by', byId('by').value));
  byId('key-form').addEventListener('submit', async (event) => {
    event.preventDefault();
    const wrong = await takeLink(byId('key-link').value);
    if (wrong) setText(byId('banner-key-text'), t(wrong));
    else byId('key-link').value = '';
    actions.field.focus();
  });
}

/** The screen stays on while the page is in sight. */
async function stayAwake() {
  if (document.hidden || !navigator.wakeLock) return;
  await navigator.wakeLock.request('screen').catch(() => {});
}

function startListening() {
  const better = () => {
    if (document.hidden) return;
    desk.clock.check();
    desk.clock.sync();
    outbox.wake();
    link.hurry?.();
    stayAwake();
  };
  addEventListener('online', better);
  addEventListener('pageshow', better);
  document.addEventListener('visibilitychange', better);
  document.addEventListener('resume', better);
  addEventListener('offline', () => link.went(false));
  addEventListener('hashchange', () => takeLink(location.hash));
  addEventListener('beforeunload', (event) => {
    if (leaving) return;
    if (desk.log.tally().unsent === 0 && desk.log.openBlanks().length === 0) return;
    event.preventDefault();
    event.returnValue = '';
  });
  addEventListener('beforeprint', () => actions.sheet());
  if (channel) {
    channel.onmessage = async ({ data }) => {
      if (data.tab) return tabs?.hear(data);
      if (!desk.store) return;
      await Promise.all([reload(), link.reread()]).catch(() => {});
      view.render();
      outbox.wake();
    };
  }
  stayAwake();
}

async function openLink() {
  if (keyIn(location.hash)) return takeLink(location.hash);
  if (link.key) await link.refreshInfo().catch(() => {});
  else needKey();
}

async function loadSeldom() {
  await idle();
  const seldom = await later().catch(() => null);
  if (desk.store) await seldom?.showKeeping(() => actions.field.focus());
}

/** What the server said to each of the keys, as it was kept. */
async function keptInfos() {
  const names = ['info', ...link.keys.map(({ key }) => 'info ' + key)];
  const infos = await Promise.all(names.map((name) => desk.store?.get(name))).catch(() => []);
  return infos.filter(Boolean);
}

/** The texts, without which nobody can read the page: asked for again where the network fails. */
async function firstWords(language) {
  for (let tries = 0; tries < WORDS_TRIES; tries++) {
    try {
      return await useLanguage(language);
    } catch {
      await new Promise((resolve) => {
        setTimeout(resolve, 1000);
      });
    }
  }
}

async function start() {
  const language = setting.get('language') || chooseLanguage(navigator.languages || []);
  await Promise.all([firstWords(language), openStore()]);
  putWords(document);
  showTheme();
  const compared = runClock(desk, view, {
    ask: () => link.call('clock'),
    compared: () => outbox.wake(),
    retime: (...what) => actions.recorder.retime(...what),
    second: () => actions.second(),
  });
  startSettings();
  showWords();
  byId('banner-plain').hidden = isSecureContext;
  const linked = keyIn(location.hash);
  const infos = await keptInfos();
  infos.forEach(knowPlaces);
  // A link with another key is for other points: a stamp must not go to those of the last.
  const kept = infos.find((info) => info.key === (linked || link.key));
  if (kept) {
    for (const point of kept.points) {
      const copy = await desk.store.expected(point.id).catch(() => null);
      if (copy) desk.copies.set(point.id, copy);
    }
  }
  if (kept) useInfo(kept);
  const worker = registerWorker(slug, () => {
    byId('banner-update').hidden = false;
  });
  byId('update').addEventListener('click', () => {
    leaving = true;
    worker.update();
  });
  startListening();
  const opening = openLink();
  // With a copy at hand nobody waits for a network that may not be there.
  if (!desk.info) await opening;
  if (!desk.info && infos.length) useInfo(infos.at(-1));
  // Blanks that an earlier version of this page kept for itself.
  if (desk.info) await actions.keepBlanks();
  link.start();
  // The office is told how the clock does, not that nobody has looked yet.
  compared.then(() => link.startReports(reportOf));
  tabs = startTabs(channel, newId(), (sends) => {
    outbox.sender = sends || alone || !desk.store;
    byId('banner-tab').hidden = outbox.sender;
    outbox.wake();
  });
  actions.field.focus();
  setTimeout(loadSeldom, LATER_MS);
}

start();
