// SPDX-License-Identifier: MIT
// Some calls to a browser wait without a limit: for a script in a page, for a key press, for the
// browser's end. A test program that hangs for so long that the runner would soon end it reports here
// what it is waiting for, and its browsers are killed: the call that waits then fails where it stands,
// with its stack.

import { readFileSync, readdirSync } from 'node:fs';

// Of the whole program: ahead of the runner's limit, see tests/harness/run.py. Of silence: no call
// begins or ends, though most end by themselves after 90 s.
const LIMIT_MS = 750 * Number(process.env.CAIRN_TEST_SECONDS ?? 300);
const SILENCE_MS = 150_000;
const LOOK_MS = 5000;
const CALLS = 30; // of the last ones told
const TICK_HZ = 100; // of the kernel's figures, on every machine of today

const calls = []; // the last ones, each as {at, text}
const contexts = new Map(); // a context to {heard, asked}: its console and its open requests
const notes = []; // functions that tell more, such as what a server wrote

/** What Playwright's `logger` option takes: notes each call as it begins and ends. */
export const logger = {
  isEnabled: (name) => name === 'api',
  log(name, severity, message) {
    calls.push({ at: performance.now(), text: String(message) });
    if (calls.length > CALLS) calls.shift();
  },
};

/** Follows what the pages of a context say and ask for. */
export function watch(context) {
  const seen = { heard: [], asked: new Map() };
  contexts.set(context, seen);
  context.on('close', () => contexts.delete(context));
  context.on('console', (message) => {
    seen.heard.push(`${message.type()}: ${message.text()}`);
    if (seen.heard.length > CALLS) seen.heard.shift();
  });
  context.on('request', (request) => seen.asked.set(request, performance.now()));
  for (const name of ['requestfinished', 'requestfailed']) {
    context.on(name, (request) => seen.asked.delete(request));
  }
  return context;
}

/** Adds what `tell` returns, a text, to what is said. Returns a function that takes it back. */
export function note(tell) {
  notes.push(tell);
  return () => {
    notes.splice(notes.indexOf(tell), 1);
  };
}

/** The processes that this one has started, those that they started among them, as {pid, words,
 *  state, seconds}: the command line, the kernel's letter, processor time. */
export function started() {
  const found = new Map();
  for (const name of readdirSync('/proc').filter((one) => /^\d+$/.test(one))) {
    try {
      const stat = readFileSync(`/proc/${name}/stat`, 'latin1');
      const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
      found.set(Number(name), {
        pid: Number(name),
        parent: Number(fields[1]),
        state: fields[0],
        seconds: (Number(fields[11]) + Number(fields[12])) / TICK_HZ,
        words: readFileSync(`/proc/${name}/cmdline`, 'utf8').split('\0'),
      });
    } catch {
      /* it has ended meanwhile */
    }
  }
  const ours = ({ parent }) =>
    parent === process.pid || (found.has(parent) && ours(found.get(parent)));
  return [...found.values()].filter(ours);
}

/** True for a browser's own process: none of its helpers, not the script that started it. */
export const isBrowser = ({ words }) =>
  words.includes('--remote-debugging-pipe') &&
  !/\bsh$/.test(words[0]) &&
  !words.some((word) => word.startsWith('--type='));

function where() {
  const now = performance.now();
  const ago = (at) => `${((now - at) / 1000).toFixed(1)} s ago`;
  const lines = [`still at work after ${Math.round(now / 1000)} s; the last calls:`];
  for (const { at, text } of calls) lines.push(`  ${ago(at)}  ${text}`);
  for (const [context, { heard, asked }] of contexts) {
    for (const page of context.pages())
      lines.push(`page ${page.url()}${page.isClosed() ? ', closed' : ''}`);
    for (const text of heard.slice(-10)) lines.push(`  console ${text}`);
    for (const [request, at] of asked) {
      lines.push(`  asked ${ago(at)}, open: ${request.method()} ${request.url()}`);
    }
  }
  for (const { pid, words, state, seconds } of started()) {
    const kind = words.find((word) => word.startsWith('--type=')) ?? '';
    lines.push(`process ${pid} ${state}, ${seconds} s of work: ${words[0]} ${kind}`);
  }
  lines.push(`this program waits for: ${process.getActiveResourcesInfo().join(' ')}`);
  for (const tell of notes) lines.push(tell());
  return lines.join('\n');
}

/** Says where the program stands, and kills its browsers. */
export function giveUp(say = console.error) {
  say(where());
  for (const { pid } of started().filter(isBrowser)) {
    try {
      process.kill(pid, 'SIGKILL');
    } catch {
      /* it has ended meanwhile */
    }
  }
}

// Tests alone have a limit. The watch does not keep a program alive.
if (/\btest_\w+\.mjs$/.test(process.argv[1])) {
  const look = setInterval(() => {
    const now = performance.now();
    if (calls.length === 0 || (now < LIMIT_MS && now - calls.at(-1).at < SILENCE_MS)) return;
    clearInterval(look);
    giveUp();
  }, LOOK_MS).unref();
}
