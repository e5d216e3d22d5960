// SPDX-License-Identifier: MIT
// Takes the pictures of the README: `make pictures`. They show the demo event and nothing else.

import { mkdirSync } from 'node:fs';
import path from 'node:path';
import { ROOT, Served, contextOf, events, launch } from '../support/setup.mjs';

const FOLDER = path.join(ROOT, 'seed-demo/pictures');
const WIDE = { width: 1080, height: 720 };
const PHONE = { width: 390, height: 720 };

const served = await Served.start(events.demo);
const browser = await launch();

/** Opens a page and takes what fits its window. `ready` is something to wait for. */
async function take(name, address, viewport, ready = 'main', act = async () => {}) {
  const context = await contextOf(browser, { viewport });
  const page = await context.newPage();
  await page.goto(served.origin + address);
  await page.waitForSelector(ready);
  await act(page);
  await page.screenshot({ path: path.join(FOLDER, name + '.png') });
  await context.close();
}

try {
  mkdirSync(FOLDER, { recursive: true });
  const event = `/${served.slug}`;
  await take('standings', `${event}/`, WIDE);
  await take('card', `${event}/cars/91`, PHONE);
  await take('compare', `${event}/compare?cars=91,75,139`, WIDE);
  await take('test', `${event}/tests/R5?car=91`, WIDE);
  await take('starts', `${event}/starts/2`, PHONE);
  await take(
    'desk',
    `${event}/control#${served.addKey('--role', 'timekeeper', '--points', 'TC5,R3')}`,
    WIDE,
    'html[data-ready="true"]',
    async (page) => {
      await page.waitForSelector('#expected tr');
      await page.keyboard.type('91');
    },
  );
  await take('office', `${event}/office#${served.organiser}`, WIDE, '#points tbody tr');
} finally {
  await browser.close();
  await served.end();
}
