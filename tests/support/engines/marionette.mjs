// SPDX-License-Identifier: MIT
// Firefox without a window, driven over its own protocol, Marionette: JSON on a socket, each message
// behind its length. https://firefox-source-docs.mozilla.org/testing/marionette/Protocol.html

import { existsSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import net from 'node:net';
import path from 'node:path';
import { Program, sooner, within } from './program.mjs';

const FIREFOX = process.env.FIREFOX ?? '/usr/bin/firefox-esr';

// What a first start would ask, fetch or report; and that a page has the focus without a window.
const PREFERENCES = {
  'marionette.port': 0,
  'focusmanager.testmode': true,
  'app.normandy.enabled': false,
  'app.update.enabled': false,
  'browser.aboutwelcome.enabled': false,
  'browser.newtabpage.enabled': false,
  'browser.region.network.url': '',
  'browser.safebrowsing.malware.enabled': false,
  'browser.safebrowsing.phishing.enabled': false,
  'browser.search.update': false,
  'browser.sessionstore.resume_from_crash': false,
  'browser.shell.checkDefaultBrowser': false,
  'browser.startup.page': 0,
  'datareporting.policy.dataSubmissionEnabled': false,
  'extensions.getAddons.cache.enabled': false,
  'extensions.update.enabled': false,
  'intl.accept_languages': 'en-GB',
  'media.gmp-manager.updateEnabled': false,
  'network.captive-portal-service.enabled': false,
  'network.connectivity-service.enabled': false,
  'services.settings.server': 'data:,#remote-settings-dummy/v1',
  'toolkit.telemetry.enabled': false,
  'toolkit.telemetry.reportingpolicy.firstRun': false,
};

/** Reads messages off a socket: to `heard`, each as an array. */
function listen(socket, heard) {
  let bytes = Buffer.alloc(0);
  socket.on('data', (data) => {
    bytes = Buffer.concat([bytes, data]);
    for (;;) {
      const colon = bytes.indexOf(':');
      if (colon < 0) return;
      const end = colon + 1 + Number(bytes.subarray(0, colon).toString());
      if (bytes.length < end) return;
      heard(JSON.parse(bytes.subarray(colon + 1, end).toString()));
      bytes = bytes.subarray(end);
    }
  });
}

export class Firefox {
  /** On the profile `folder`, which need not be one yet. */
  static async open(folder) {
    const firefox = new Firefox();
    const port = path.join(folder, 'MarionetteActivePort');
    rmSync(port, { force: true });
    writeFileSync(
      path.join(folder, 'user.js'),
      Object.entries(PREFERENCES)
        .map(([name, value]) => `user_pref(${JSON.stringify(name)}, ${JSON.stringify(value)});\n`)
        .join(''),
    );
    firefox.program = new Program(
      [
        FIREFOX,
        ...['--headless', '--no-remote', '--marionette', '--remote-allow-system-access'],
        ...['--profile', folder, '--width', '1280', '--height', '900'],
      ],
      { env: { HOME: folder, MOZ_CRASHREPORTER_DISABLE: '1', MOZ_HEADLESS: '1' } },
    );
    await sooner(
      () => existsSync(port) && readFileSync(port, 'latin1').length > 0,
      () => `Firefox starts\n${firefox.program.wrote}`,
    );
    await firefox.#connect(Number(readFileSync(port, 'latin1')));
    await firefox.command('newSession', { acceptInsecureCerts: true });
    return firefox;
  }

  async #connect(port) {
    this.asked = new Map(); // number of a command to its promise's two ends
    this.last = 0;
    this.socket = net.connect(port, '127.0.0.1');
    await within(
      new Promise((resolve, reject) => {
        listen(this.socket, (message) => {
          if (!Array.isArray(message)) return resolve(); // the greeting
          const [, number, error, result] = message;
          this.asked.get(number)?.(error, result);
          this.asked.delete(number);
        });
        this.socket.once('error', reject);
      }),
      'Firefox greets',
    );
    this.socket.on('error', () => {});
    this.socket.on('close', () => {
      for (const end of this.asked.values()) end({ message: 'Firefox has gone' }, null);
    });
  }

  /** A command of WebDriver by its own name; returns what it gives. */
  command(name, parameters = {}) {
    const full = `WebDriver:${name[0].toUpperCase()}${name.slice(1)}`;
    return this.#send(full, parameters).then((result) =>
      result !== null && 'value' in result ? result.value : result,
    );
  }

  #send(name, parameters) {
    const number = ++this.last;
    return within(
      new Promise((resolve, reject) => {
        this.asked.set(number, (error, result) =>
          error ? reject(new Error(`${name}: ${error.message}`)) : resolve(result),
        );
        const text = JSON.stringify([0, number, name, parameters]);
        this.socket.write(`${Buffer.byteLength(text)}:${text}`);
      }),
      name,
    );
  }

  /** The process in which the page of the current window runs. */
  async pagePid() {
    await this.#send('Marionette:SetContext', { value: 'chrome' });
    try {
      return await this.command('executeScript', {
        script: 'return gBrowser.selectedBrowser.browsingContext.currentWindowGlobal.osPid;',
        args: [],
      });
    } finally {
      await this.#send('Marionette:SetContext', { value: 'content' });
    }
  }

  /** Another page, which becomes the one in front. Returns its handle. */
  async newWindow() {
    const { handle } = await this.command('newWindow', { type: 'tab', focus: true });
    return handle;
  }

  switchTo(handle) {
    return this.command('switchToWindow', { handle, focus: true });
  }

  get wrote() {
    return this.program.wrote;
  }

  /** Ends it as a flat battery would. */
  async kill() {
    await this.program.kill();
    this.socket?.destroy();
  }

  end() {
    return this.kill();
  }
}
