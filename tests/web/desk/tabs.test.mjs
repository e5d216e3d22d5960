// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { BEAT_MS, SILENT_MS, Tabs } from '../../../web/desk/tabs.js';

/** Tabs that hear each other, on one clock. Opened in turn: open(name) → {tabs, sends, seen, asleep}. */
function family() {
  const clock = { now: 0 };
  const all = [];
  function open(name) {
    const one = { sends: null, seen: true, asleep: false };
    one.tabs = new Tabs({
      tab: name,
      since: clock.now,
      seen: () => one.seen,
      now: () => clock.now,
      post: (word) => {
        for (const other of all) if (other !== one && !other.asleep) other.tabs.hear(word);
      },
      sends: (yes) => {
        one.sends = yes;
      },
    });
    all.push(one);
    one.tabs.beat({ opened: true });
    return one;
  }
  /** Lets `ms` pass, in which those awake beat. */
  function pass(ms) {
    for (const end = clock.now + ms; clock.now < end; clock.now += BEAT_MS) {
      for (const one of all) if (!one.asleep) one.tabs.beat();
    }
  }
  return { open, pass, senders: () => all.map(({ sends }) => sends) };
}

test('the tab that was opened first sends, alone from the moment that the second opens', () => {
  const { open, pass, senders } = family();
  open('a');
  pass(BEAT_MS);
  open('b');
  assert.deepEqual(senders(), [true, false]);
  pass(10 * SILENT_MS);
  assert.deepEqual(senders(), [true, false]);
});

test('a tab that somebody sees sends rather than one that nobody sees', () => {
  const { open, senders } = family();
  const first = open('a');
  open('b');
  first.seen = false;
  first.tabs.beat();
  assert.deepEqual(senders(), [false, true]);
});

test('one that was put to sleep holds up nobody for longer than its silence', () => {
  const { open, pass, senders } = family();
  const first = open('a');
  const second = open('b');
  first.asleep = true;
  pass(SILENT_MS - BEAT_MS);
  assert.equal(second.sends, false);
  pass(2 * BEAT_MS);
  assert.equal(second.sends, true);
  first.asleep = false;
  pass(BEAT_MS);
  assert.deepEqual(senders(), [true, false]);
});

test('one that closes hands over at once', () => {
  const { open } = family();
  const first = open('a');
  const second = open('b');
  first.tabs.post({ tab: 'a', gone: true });
  assert.equal(second.sends, true);
});

test('two opened at one moment agree', () => {
  const { open, pass, senders } = family();
  open('b');
  open('a');
  pass(BEAT_MS);
  assert.deepEqual(senders(), [false, true]);
});
