// SPDX-License-Identifier: MIT
// A real Chromium without a window, and a record of the errors of its pages.

import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { chromium } from 'playwright-core';
import { isBrowser, logger, started, watch } from './hang_watch.mjs';

// Debian's, built without what a window needs: a start costs a third of the other's. CHROMIUM names
// another, such as /usr/bin/chromium.
const OPTIONS = {
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium-headless-shell',
  headless: true,
  // The sandbox refuses to work for root, and there only.
  chromiumSandbox: process.getuid() !== 0,
  args: ['--disable-gpu', '--disable-dev-shm-usage'],
  logger,
  timeout: 90_000, // for its start
};

// How long a page may take over one thing: no more than a guard against waiting for ever, since a
// machine busy with other tests may be slow without anything being wrong.
const GUARD_MS = 90_000;

const PAGE = {
  locale: 'en-GB',
  timezoneId: 'Europe/London',
  viewport: { width: 1280, height: 900 },
};

/** Chromium whose contexts keep nothing. Close it. */
export function launch() {
  return chromium.launch(OPTIONS);
}

function guarded(context) {
  context.setDefaultTimeout(GUARD_MS);
  return watch(context);
}

/** A context of `browser` for pages as people see them; `more` are Playwright's options. */
export async function contextOf(browser, more = {}) {
  return guarded(await browser.newContext({ ...PAGE, ...more }));
}

/** A browser with a profile on disk, which outlives its windows and its processes. */
export class Profile {
  constructor() {
    this.folder = mkdtempSync(path.join(tmpdir(), 'cairn-profile-'));
    this.context = null;
  }

  /** Opens a browser on the profile; returns its context. */
  async open(more = {}) {
    this.context = guarded(
      await chromium.launchPersistentContext(this.folder, { ...OPTIONS, ...PAGE, ...more }),
    );
    return this.context;
  }

  /** The browser's own process. */
  pid() {
    const mine = started()
      .filter(
        (process) => isBrowser(process) && process.words.includes(`--user-data-dir=${this.folder}`),
      )
      // A helper has the words of the browser until it runs its own program.
      .filter(({ parent }, _, all) => !all.some(({ pid }) => pid === parent));
    if (mine.length !== 1) throw new Error(`${mine.length} browsers have this profile`);
    return mine[0].pid;
  }

  /** Kills the browser as a flat battery would. */
  async kill() {
    const gone = new Promise((resolve) => {
      this.context.once('close', resolve);
    });
    process.kill(this.pid(), 'SIGKILL');
    await gone;
    this.context = null;
  }

  /** Closes the browser, keeps the profile. */
  async close() {
    if (this.context !== null) await this.context.close();
    this.context = null;
  }

  async end() {
    await this.close();
    rmSync(this.folder, { recursive: true, force: true, maxRetries: 20, retryDelay: 100 });
  }
}

/** Notes a page's errors: what it writes to the console as an error, what its scripts throw,
 *  requests that fail, answers of 400 and more, breaches of the content security policy (which
 *  Chromium writes to the console). `allow` is a list of patterns of what a test provokes. */
export class PageErrors {
  constructor(page, allow = []) {
    this.allow = allow;
    this.found = [];
    page.on('console', (message) => {
      if (message.type() === 'error' || /content security policy/i.test(message.text())) {
        this.note(`console: ${message.text()} ${message.location().url ?? ''}`);
      }
    });
    page.on('pageerror', (error) => this.note(`script: ${error.stack ?? error}`));
    const unchanged = new WeakSet();
    page.on('requestfailed', (request) => {
      // A 304 has no body; where nobody reads it, Chromium calls it aborted.
      if (unchanged.has(request)) return;
      this.note(`request: ${request.url()} ${request.failure()?.errorText}`);
    });
    page.on('response', (response) => {
      if (response.status() === 304) unchanged.add(response.request());
      if (response.status() >= 400) this.note(`answer: ${response.url()} ${response.status()}`);
    });
  }

  note(text) {
    if (!this.allow.some((pattern) => pattern.test(text))) this.found.push(text);
  }

  /** The errors so far, which are removed from the record. */
  take() {
    return this.found.splice(0);
  }
}

/** Waits until an asynchronous function in the page says that something is so. What Playwright has for
 *  this takes the promise itself for a yes. */
export async function until(page, holds) {
  for (const end = Date.now() + GUARD_MS; !(await page.evaluate(holds));) {
    assert.ok(Date.now() < end, `it does not come about: ${holds}`);
    await page.waitForTimeout(20);
  }
}

/** Slows a page: `cpu` times slower; `latency` in ms and `kbit` a second where given. */
export async function throttle(page, { cpu = 1, latency = 0, kbit = 0 }) {
  const session = await page.context().newCDPSession(page);
  await session.send('Emulation.setCPUThrottlingRate', { rate: cpu });
  if (latency > 0 || kbit > 0) {
    await session.send('Network.enable');
    const bytes = kbit > 0 ? (kbit * 1000) / 8 : -1;
    await session.send('Network.emulateNetworkConditions', {
      offline: false,
      latency,
      downloadThroughput: bytes,
      uploadThroughput: bytes,
    });
  }
  return session;
}
