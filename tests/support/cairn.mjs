// SPDX-License-Identifier: MIT
// The real program, serving an event from a temporary folder on a port of its own.
//
// CAIRN in the environment names the program; build/cairn by default. A server is ended by its own
// process id, and its folder goes with it.

import { execFileSync, spawn } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { note } from './hang_watch.mjs';

export const ROOT = path.resolve(fileURLToPath(new URL('../..', import.meta.url)));
export const CAIRN = path.resolve(process.env.CAIRN ?? path.join(ROOT, 'build/cairn'));
export const DEMO = path.join(ROOT, 'seed-demo/merrow-2027');

// For a build with sanitizers on a busy machine.
const READY_MS = 60_000;
const COMMAND_MS = 120_000;
const ANSWER_MS = 60_000;

// Every question of a test has a limit: by itself node would wait for an answer for five minutes.
const bareFetch = globalThis.fetch;
globalThis.fetch = (address, options) =>
  bareFetch(address, { signal: AbortSignal.timeout(ANSWER_MS), ...options });

/** Runs a command of cairn that must succeed; returns what it printed. */
export function cairn(...args) {
  return execFileSync(CAIRN, args, {
    encoding: 'utf8',
    stdio: ['ignore', 'pipe', 'pipe'],
    maxBuffer: 1 << 26,
    timeout: COMMAND_MS,
  });
}

/** Rows of an RFC 4180 text as objects by the names of its header. */
export function csvRows(text) {
  const rows = [[]];
  let cell = '',
    quoted = false;
  const endCell = () => {
    rows.at(-1).push(cell);
    cell = '';
  };
  for (let i = 0; i < text.length; i++) {
    const c = text[i];
    if (quoted) {
      if (c !== '"') cell += c;
      else if (text[i + 1] === '"') {
        cell += '"';
        i++;
      } else quoted = false;
    } else if (c === '"') quoted = true;
    else if (c === ',') endCell();
    else if (c === '\n') {
      endCell();
      rows.push([]);
    } else if (c !== '\r') cell += c;
  }
  if (cell !== '' || rows.at(-1).length > 0) endCell();
  else rows.pop();
  const [names, ...facts] = rows;
  return facts.map((row) => Object.fromEntries(names.map((name, i) => [name, row[i] ?? ''])));
}

/** An event folder that `cairn import` takes. Each maker writes it into the empty `folder`. */
export const events = {
  /** The whole demo event. */
  demo(folder) {
    cpSync(DEMO, folder, { recursive: true });
  },
  /** The small event of the HTTP tests, full of markup in every name. */
  hostile(folder) {
    execFileSync(
      '/usr/bin/python3',
      [
        '-B',
        '-c',
        'import sys; from tests.support import serving; serving.write_folder(sys.argv[1])',
        folder,
      ],
      { cwd: ROOT, env: { ...process.env, PYTHONDONTWRITEBYTECODE: '1' } },
    );
  },
};

/** A data folder with one event in it, served. */
export class Served {
  constructor() {
    this.folder = mkdtempSync(path.join(tmpdir(), 'cairn-browser-'));
    this.data = path.join(this.folder, 'data');
    this.child = null;
    this.port = 0;
    this.log = '';
    this.unnote = note(() => `the server on port ${this.port} wrote:\n${this.log.slice(-2000)}`);
  }

  /** Imports what `maker` (one of `events`, or alike) writes, makes an organiser's key, serves. */
  static async start(maker) {
    const served = new Served();
    try {
      const folder = path.join(served.folder, 'event');
      execFileSync('mkdir', [folder]);
      maker(folder);
      served.slug = JSON.parse(readFileSync(path.join(folder, 'event.json'), 'utf8')).slug;
      cairn('import', served.data, folder);
      served.organiser = served.addKey('--role', 'organiser');
      await served.run();
    } catch (error) {
      await served.end();
      throw error;
    }
    return served;
  }

  get origin() {
    return `http://127.0.0.1:${this.port}`;
  }
  get api() {
    return `${this.origin}/api/v1/events/${this.slug}`;
  }

  addKey(...options) {
    return cairn('key', 'add', this.data, this.slug, ...options).trim();
  }

  /** Revokes the key that was made last. */
  revokeLastKey() {
    const last = cairn('key', 'list', this.data, this.slug).trimEnd().split('\n').at(-1);
    cairn('key', 'revoke', this.data, this.slug, last.split('\t')[0]);
  }

  /** Serves, each time on another port: that of the first may be somebody else's meanwhile. */
  async run() {
    this.child = spawn(CAIRN, ['serve', this.data, '--listen', '127.0.0.1:0'], {
      stdio: ['ignore', 'pipe', 'pipe'],
    });
    this.child.stderr.on('data', (data) => {
      this.log += data;
    });
    this.ended = new Promise((resolve) => {
      this.child.once('exit', resolve);
    });
    const lines = createInterface(this.child.stdout);
    const line = await Promise.race([
      new Promise((resolve) => {
        lines.once('line', resolve);
      }),
      this.ended.then((code) => `ended with ${code}`),
      new Promise((resolve) => {
        setTimeout(resolve, READY_MS, 'not ready in time').unref();
      }),
    ]);
    const found = /^listening on http:\/\/127\.0\.0\.1:(\d+)\/$/.exec(line);
    if (found === null) throw new Error(`the server is not ready: ${line}\n${this.log}`);
    this.port = Number(found[1]);
  }

  /** Ends the program, keeps the folder. Returns its exit code, null where it had to be killed. */
  async stop(signal = 'SIGTERM') {
    if (this.child === null) return 0;
    const { child } = this;
    child.kill(signal);
    const late = setTimeout(() => child.kill('SIGKILL'), READY_MS);
    const code = await this.ended;
    clearTimeout(late);
    this.child = null;
    return code;
  }

  /** Ends the program and removes the folder; a server that ends badly is an error. */
  async end() {
    const code = await this.stop();
    this.unnote();
    rmSync(this.folder, { recursive: true, force: true });
    if (code !== 0) throw new Error(`the server ended with ${code}\n${this.log}`);
  }

  /** The readings that the event file holds, as `cairn export` writes them: behind those that count
   *  for a car, those that are kept for the office. */
  readings() {
    const folder = mkdtempSync(path.join(this.folder, 'export-'));
    try {
      cairn('export', this.data, this.slug, path.join(folder, 'out'));
      return ['readings.csv', 'unassigned.csv']
        .map((name) => path.join(folder, 'out', name))
        .filter(existsSync)
        .flatMap((file) => csvRows(readFileSync(file, 'utf8')));
    } finally {
      rmSync(folder, { recursive: true });
    }
  }

  /** Asks the API with the organiser's key; an answer other than 200 is an error. */
  async ask(name, body) {
    const answer = await fetch(`${this.api}/${name}`, {
      method: body === undefined ? 'GET' : 'POST',
      headers: { Authorization: `Bearer ${this.organiser}`, 'Content-Type': 'application/json' },
      body: body === undefined ? undefined : JSON.stringify(body),
    });
    if (answer.status !== 200) {
      throw new Error(`${name}: ${answer.status} ${await answer.text()}`);
    }
    return answer.json();
  }
}

/** Writes an object as a JSON file of an event folder. */
export function writeJson(folder, name, value) {
  writeFileSync(path.join(folder, name), JSON.stringify(value));
}
