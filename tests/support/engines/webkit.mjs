// SPDX-License-Identifier: MIT
// WebKitGTK on a screen of its own that nobody sees, driven by WebKitWebDriver over HTTP.
// https://www.w3.org/TR/webdriver2/

import { readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { GUARD_MS, Program, sooner, within } from './program.mjs';

const WINDOW = fileURLToPath(new URL('webkit_window.py', import.meta.url));

// A command to its method and path below the session's.
const COMMANDS = {
  navigate: ['POST', 'url'],
  executeScript: ['POST', 'execute/sync'],
  executeAsyncScript: ['POST', 'execute/async'],
  performActions: ['POST', 'actions'],
  setTimeouts: ['POST', 'timeouts'],
  newWindow: ['POST', 'window/new'],
  switchToWindow: ['POST', 'window'],
  getWindowHandle: ['GET', 'window'],
  closeWindow: ['DELETE', 'window'],
};

/** The children of a process, and theirs, as {pid, name}. */
function below(pid) {
  const all = readdirSync('/proc')
    .filter((name) => /^\d+$/.test(name))
    .flatMap((name) => {
      try {
        const stat = readFileSync(`/proc/${name}/stat`, 'latin1');
        const end = stat.lastIndexOf(')');
        return {
          pid: Number(name),
          name: stat.slice(stat.indexOf('(') + 1, end),
          parent: Number(stat.slice(end + 2).split(' ')[1]),
        };
      } catch {
        return []; // it has ended meanwhile
      }
    });
  const isBelow = (one) =>
    one !== undefined &&
    (one.parent === pid || isBelow(all.find((other) => other.pid === one.parent)));
  return all.filter(isBelow);
}

export class WebKit {
  /** With its data in `folder`. */
  static async open(folder) {
    const webkit = new WebKit();
    try {
      await webkit.#start(folder);
    } catch (error) {
      await webkit.end();
      throw error;
    }
    return webkit;
  }

  async #start(folder) {
    this.screen = new Program(
      ['Xvfb', '-displayfd', '3', '-nolisten', 'tcp', '-screen', '0', '1280x900x24'],
      { pipes: 1 },
    );
    const display = await within(
      new Promise((resolve) => {
        this.screen.child.stdio[3].once('data', (data) => resolve(String(data).trim()));
      }),
      'Xvfb starts',
    );
    this.driver = new Program(['WebKitWebDriver', '--port=0', '--host=127.0.0.1'], {
      env: {
        HOME: folder,
        XDG_RUNTIME_DIR: folder,
        DISPLAY: `:${display}`,
        GDK_BACKEND: 'x11',
        GIO_USE_PORTALS: '0',
        GSETTINGS_BACKEND: 'memory',
        LIBGL_ALWAYS_SOFTWARE: '1',
        NO_AT_BRIDGE: '1',
        WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS: '1', // it refuses to work for root
      },
    });
    this.origin = `http://127.0.0.1:${await this.driver.port()}`;
    const { sessionId } = await this.#ask('POST', '/session', {
      capabilities: {
        alwaysMatch: {
          'webkitgtk:browserOptions': { binary: WINDOW, args: [path.resolve(folder)] },
        },
      },
    });
    this.session = sessionId;
    this.pages = new Map(); // a window's handle to its process
    await this.#learn(await this.command('getWindowHandle'));
  }

  async #ask(method, address, parameters) {
    const answer = await fetch(this.origin + address, {
      method,
      headers: { 'Content-Type': 'application/json' },
      body: method === 'POST' ? JSON.stringify(parameters) : undefined,
      signal: AbortSignal.timeout(GUARD_MS),
    });
    const { value } = await answer.json();
    if (answer.status !== 200) throw new Error(`${address}: ${value.error} ${value.message}`);
    return value;
  }

  /** A command of WebDriver by its own name; returns what it gives. */
  command(name, parameters = {}) {
    const [method, rest] = COMMANDS[name];
    return this.#ask(method, `/session/${this.session}/${rest}`, parameters);
  }

  /** Notes the process of a new window: the one that no other has. */
  async #learn(handle) {
    const known = [...this.pages.values()];
    const { pid } = await sooner(
      () =>
        below(this.driver.pid).find(
          // The kernel keeps fifteen letters of a name.
          (one) =>
            'WebKitWebProcess'.startsWith(one.name) &&
            one.name.length >= 15 &&
            !known.includes(one.pid),
        ),
      'a process for the window',
    );
    this.pages.set(handle, pid);
  }

  async pagePid() {
    return this.pages.get(await this.command('getWindowHandle'));
  }

  async newWindow() {
    const { handle } = await this.command('newWindow', { type: 'window' });
    await this.#learn(handle);
    return handle;
  }

  switchTo(handle) {
    return this.command('switchToWindow', { handle });
  }

  get wrote() {
    return this.driver.wrote;
  }

  /** Ends it as a flat battery would: the window's program first, with all of its processes. */
  async kill() {
    if (this.driver !== undefined) {
      for (const { pid } of below(this.driver.pid)) {
        try {
          process.kill(pid, 'SIGKILL');
        } catch {
          /* it has ended meanwhile */
        }
      }
      await this.driver.kill();
    }
    await this.screen?.kill();
  }

  end() {
    return this.kill();
  }
}
