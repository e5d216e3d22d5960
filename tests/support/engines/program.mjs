// SPDX-License-Identifier: MIT
// Programs that a test of another engine starts, and waits that end.
//
// A program that is started here is ended by its own process id, and dies with the test, however that
// ends (`setpriv --pdeathsig`).

import { spawn } from 'node:child_process';
import { readFileSync, readdirSync, readlinkSync } from 'node:fs';

// No more than a guard: a machine busy with other tests may be slow without anything being wrong.
export const GUARD_MS = 60_000;

/** `promise`, or an error that says what did not come. */
export function within(promise, what, ms = GUARD_MS) {
  let timer;
  const late = new Promise((_, reject) => {
    timer = setTimeout(() => reject(new Error(`no end after ${ms / 1000} s: ${what}`)), ms);
  });
  return Promise.race([promise, late]).finally(() => clearTimeout(timer));
}

/** What `look` gives, once that is neither null, false nor undefined; asked every `every` ms. */
export async function sooner(look, what, { ms = GUARD_MS, every = 20 } = {}) {
  for (const end = Date.now() + ms; ;) {
    const found = await look();
    if (found !== null && found !== undefined && found !== false) return found;
    if (Date.now() > end) {
      throw new Error(`no end after ${ms / 1000} s: ${typeof what === 'string' ? what : what()}`);
    }
    await pause(every);
  }
}

export function pause(ms) {
  return new Promise((resolve) => {
    setTimeout(resolve, ms);
  });
}

export class Program {
  /** `env` is added to this program's own. `pipes` are more descriptors that are read, from 3 on. */
  constructor(words, { env = {}, pipes = 0 } = {}) {
    this.name = words[0];
    this.wrote = '';
    this.child = spawn('setpriv', ['--pdeathsig', 'KILL', '--', ...words], {
      stdio: ['ignore', 'pipe', 'pipe', ...Array(pipes).fill('pipe')],
      env: { ...process.env, ...env },
    });
    for (const stream of [this.child.stdout, this.child.stderr]) {
      stream.on('data', (data) => {
        this.wrote = (this.wrote + data).slice(-20_000);
      });
    }
    this.ended = new Promise((resolve) => {
      this.child.once('error', resolve);
      this.child.once('exit', resolve);
    });
  }

  get pid() {
    return this.child.pid;
  }

  get alive() {
    return this.child.exitCode === null && this.child.signalCode === null;
  }

  async kill() {
    if (this.alive) this.child.kill('SIGKILL');
    await within(this.ended, `${this.name} ends`);
  }

  /** The TCP port on which the program listens, once it does. */
  port() {
    return sooner(
      () => (this.alive ? listeningPort(this.pid) : Promise.reject(new Error(this.wrote))),
      () => `${this.name} listens\n${this.wrote}`,
    );
  }
}

function listeningPort(pid) {
  const LISTEN = '0A';
  let sockets;
  try {
    sockets = readdirSync(`/proc/${pid}/fd`).map((fd) => readlinkSync(`/proc/${pid}/fd/${fd}`));
  } catch {
    return null; // it has just closed one, or ended
  }
  for (const line of readFileSync(`/proc/${pid}/net/tcp`, 'latin1').split('\n').slice(1)) {
    const [, local, , state, , , , , , inode] = line.trim().split(/\s+/);
    if (state === LISTEN && sockets.includes(`socket:[${inode}]`)) {
      return parseInt(local.split(':')[1], 16);
    }
  }
  return null;
}
