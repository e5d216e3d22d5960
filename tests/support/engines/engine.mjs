// SPDX-License-Identifier: MIT
// A browser of another engine with a profile on disk, and its pages: one face for both drivers.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { note } from '../hang_watch.mjs';
import { GUARD_MS, sooner } from './program.mjs';

// Keys that write nothing, and those of the number pad, as WebDriver names them.
const KEYS = {
  Enter: '\uE007',
  Escape: '\uE00C',
  ArrowUp: '\uE013',
  ArrowDown: '\uE015',
  PageUp: '\uE00E',
  PageDown: '\uE00F',
  F4: '\uE034',
  NumpadMultiply: '\uE024',
  NumpadAdd: '\uE025',
  NumpadSubtract: '\uE027',
};

export class Page {
  constructor(engine, handle) {
    Object.assign(this, { engine, handle });
  }

  async #driver() {
    const { engine } = this;
    if (engine.front !== this.handle) {
      await engine.driver.switchTo(this.handle);
      engine.front = this.handle;
    }
    return engine.driver;
  }

  async command(name, parameters) {
    return (await this.#driver()).command(name, parameters);
  }

  open(address) {
    return this.command('navigate', { url: address });
  }

  /** As the reload key does; what a driver calls "refresh" passes by a page's worker in Firefox. */
  async reload() {
    await this.look(() => {
      window.isOld = true;
      setTimeout(() => location.reload());
    });
    // While one page goes and the other comes there is none to look into.
    await sooner(
      () => this.look(() => window.isOld === undefined).catch(() => false),
      'the page is loaded again',
    );
  }

  /** What a function of one expression or more gives in the page; it gets `values`. */
  look(does, ...values) {
    return this.command('executeScript', {
      script: `return (${does}).apply(null, arguments);`,
      args: values,
    });
  }

  /** Waits until a function holds in the page, and returns what it gives. */
  until(holds, ...values) {
    return sooner(
      () => this.look(holds, ...values),
      () => `it holds: ${holds}`,
    );
  }

  /** Presses keys one after the other, as fast as the driver can: names of KEYS, or what they write. */
  async press(...keys) {
    await this.command('performActions', {
      actions: [
        {
          type: 'key',
          id: 'keys',
          actions: keys
            .map((key) => KEYS[key] ?? key)
            .flatMap((value) => [
              { type: 'keyDown', value },
              { type: 'keyUp', value },
            ]),
        },
      ],
    });
  }

  /** Closes the page; its engine must have another. */
  async close() {
    await this.command('closeWindow');
    this.engine.front = null;
  }

  /** Holds up the page's process, as a phone does with a page behind another. */
  async suspend() {
    const pid = await (await this.#driver()).pagePid();
    process.kill(pid, 'SIGSTOP');
    this.engine.suspended.add(pid);
    this.pid = pid;
  }

  resume() {
    process.kill(this.pid, 'SIGCONT');
    this.engine.suspended.delete(this.pid);
  }
}

export class Engine {
  /** `driver` is Firefox or WebKit. */
  constructor(driver) {
    this.kind = driver;
    this.folder = mkdtempSync(path.join(tmpdir(), 'cairn-engine-'));
    this.driver = null;
    this.suspended = new Set();
    this.unnote = note(() => `${driver.name} wrote:\n${this.driver?.wrote}`);
  }

  /** Starts it on its profile. Returns its first page. */
  async open() {
    this.driver = await this.kind.open(this.folder);
    await this.driver.command('setTimeouts', { script: GUARD_MS, pageLoad: GUARD_MS });
    this.front = await this.driver.command('getWindowHandle');
    return new Page(this, this.front);
  }

  /** One more page, in front of the others. */
  async newPage() {
    const page = new Page(this, await this.driver.newWindow());
    await page.look(() => 0);
    return page;
  }

  /** Ends it as a flat battery would; what was suspended would not hear of it. */
  async kill() {
    await this.driver?.kill();
    this.driver = null;
    for (const pid of this.suspended) {
      try {
        process.kill(pid, 'SIGKILL');
      } catch {
        /* it has ended with its browser */
      }
    }
    this.suspended.clear();
  }

  async end() {
    await this.kill();
    this.unnote();
    rmSync(this.folder, { recursive: true, force: true, maxRetries: 20, retryDelay: 100 });
  }
}
