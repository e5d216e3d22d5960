// SPDX-License-Identifier: MIT
// The whole Round Merrow as its organiser plays it in the office by keyboard: from an event
// with one car to a signed final classification, four days with a ruling of every kind, two
// enquiries, a protest upheld after the provisional one, a prize that two cars share. Desks and
// further rulings come by the API; the folder that is left scores to the same bytes.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import path from 'node:path';
import { after, before, describe, test } from 'node:test';
import { DEMO, ROOT, Served, cairn, contextOf, launch } from '../support/setup.mjs';
import { Clerk, TABLET } from '../support/office.mjs';

const SHOWS = 'Show what it does';
const BATCH = 1000; // rows of an upload
const TWIN = 173;

// The rulings that the organiser makes in the office, one of each kind, by their ids in the demo.
const BY_HAND = {
  'cc-001': 'Retired',
  'cc-004': 'Close: no further cars',
  'cc-009': 'Penalty',
  'cc-011': 'Back from a day on',
  'cc-012': 'Allowance: the car was held up',
  'cc-032': 'revoke',
  'cc-036': 'Cancel for everybody',
  'cc-040': 'Notional result',
  'cc-045': 'Disqualified',
  'cc-052': 'Waive: costs this car nothing',
};

// As the whole event by the API has them.
const ORDERS = {
  1: [['Order', 'By number']],
  2: [
    ['Order', 'By number, reversed'],
    ['First start', '08:31'],
    ['Interval', '00:00:30'],
  ],
  3: [
    ['Order', 'By era, the oldest first'],
    ['Other intervals', 'C=00:01:30, E-2=45'],
    ['Gaps', '40=00:10:00'],
    ['Late starters', '9=end, 31=07:45'],
  ],
  4: [
    ['Order', 'By the standings reversed, the best last'],
    ['How many are reversed', '15'],
  ],
};

/** What tests/support/merrow.py prints. */
const merrow = (args, input = '') =>
  execFileSync('/usr/bin/python3', ['-B', '-m', 'tests.support.merrow', ...args], {
    cwd: ROOT,
    encoding: 'utf8',
    input,
    maxBuffer: 1 << 26,
  });

describe('the whole event in the office', { timeout: 400_000 }, () => {
  let browser, clerk, page, served, timekeeper;

  before(async () => {
    served = await Served.start((folder) => merrow(['blank', folder]));
    browser = await launch();
    clerk = await Clerk.open(
      await contextOf(browser, { viewport: TABLET, hasTouch: true }),
      served,
      'C. Clerk',
    );
    ({ page } = clerk);
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  const decisions = async () => (await served.ask('decisions')).decisions;
  const dialog = (words) => page.locator('dialog[open]', { hasText: words }).waitFor();

  /** Without what no folder holds: the revision, and that a final notice is posted. */
  const plain = (body) =>
    body.replace(/"revision":\d+/, '').replace('status":"final"', 'status":"provisional"');

  /** The folder as it is exported scores as the server does. */
  async function compare(name, bys) {
    const folder = path.join(served.folder, name);
    cairn('export', served.data, served.slug, folder);
    for (const by of bys) {
      const answer = await fetch(`${served.api}/standings?by=${by}`, {
        headers: { Authorization: `Bearer ${served.organiser}` },
      });
      assert.equal(
        plain(await answer.text()),
        plain(cairn('score', folder, '--live', '--by', by, '--format', 'json')),
        `${name} ${by}`,
      );
    }
  }

  test('rules and entries are put', async () => {
    const rules = merrow(['rules']);
    await clerk.section('rules');
    await clerk.press('As text');
    await page.getByLabel('event.json').fill(rules);
    await clerk.press('Check it');
    await page.locator('#tried h2', { hasText: 'can be taken' }).waitFor();
    await clerk.press('Take these rules');
    await page.locator('#tried').getByText('The rules are taken').waitFor();
    assert.deepEqual(await served.ask('rules'), JSON.parse(rules));
    await clerk.section('cars');
    await clerk.press('Import a list');
    await page.getByLabel('Paste a list').fill(merrow(['entries']));
    await clerk.press('Show what would change');
    await page.getByText('173 rows: 0 refused, 172 added, 1 changed, 0 the same.').waitFor();
    await clerk.press('Take this list');
    await page.waitForSelector('#entries caption >> text=173 cars');
    await clerk.section('keys');
    await clerk.type('Points', (await served.ask('rules')).route.map((item) => item.id).join(', '));
    await clerk.type('Whose', 'All desks');
    await clerk.press('Make the key');
    await page.waitForSelector('#made .link a');
    timekeeper = (await page.locator('#made .link a').evaluate((a) => a.href)).split('#')[1];
  });

  /** A start list as it was shown, kept and published; each car's start. */
  async function startList(day) {
    await clerk.section('starts');
    await clerk.choose('Day', `Day ${day}, ${(await served.ask('rules')).days[day - 1].date}`);
    for (const [label, words] of ORDERS[day])
      await (label === 'Order' ? clerk.choose : clerk.type).call(clerk, label, words);
    await clerk.press('Show the list');
    await clerk.on('Keep this list');
    const shown = (await clerk.rows('#list')).map((row) => row.slice(0, 2));
    await page.keyboard.press('Enter');
    await clerk.on('Publish it as a notice');
    await page.keyboard.press('Enter');
    await clerk.press('Publish it');
    await clerk.on('It is published as a notice');
    const { starts } = await served.ask(`starts/${day}`);
    assert.deepEqual(
      starts.map((start) => [start.time, String(start.car)]),
      shown,
    );
    return Object.fromEntries(starts.map((start) => [start.car, start.time]));
  }

  async function send(rows) {
    for (let at = 0; at < rows.length; at += BATCH) {
      const answer = await fetch(`${served.api}/readings`, {
        method: 'POST',
        body: JSON.stringify(rows.slice(at, at + BATCH)),
        headers: { Authorization: `Bearer ${timekeeper}`, 'Content-Type': 'application/json' },
      });
      assert.deepEqual([answer.status, (await answer.json()).refused], [200, []]);
    }
  }

  const logged = (number) => () => page.waitForSelector(`[aria-label="Undo decision ${number}"]`);

  /** Decides in the office: what is shown before is what comes about. */
  async function rule(words, { car, point, value, reason }) {
    const number = (await decisions()).length + 1;
    await clerk.section('decisions');
    await clerk.choose('Kind', words);
    for (const [label, text] of [
      ['Car number', car],
      ['Point or test', point],
      ['Value', value],
      ['Reason', reason],
    ])
      if (text !== undefined) await clerk.type(label, String(text));
    await clerk.press(SHOWS);
    return clerk.keep('Keep this decision', logged(number));
  }

  async function undo(number, reason) {
    const last = (await decisions()).length;
    await clerk.section('starts'); // a list that was open does not have others' decisions yet
    await clerk.section('decisions');
    await clerk.press(`Undo decision ${number}`);
    await clerk.type('Reason', reason, '#act');
    await clerk.press(SHOWS);
    await clerk.keep('Keep this', logged(last + 1));
    await clerk.on(`Undo decision ${last + 1}`);
  }

  async function record(kind, { car, point, text }) {
    const number = (await served.ask('enquiries')).enquiries.length + 1;
    await clerk.section('enquiries');
    await clerk.choose('What it is', kind);
    await clerk.type('Car number', String(car));
    if (point !== undefined) await clerk.type('Point or test', point);
    await clerk.type('What the crew says', text);
    await clerk.press('Record it');
    await page.waitForSelector(`#case-${number}`);
    return number;
  }

  /** Answers from the review; `rests`: the decision that is named to the crew. */
  async function reply(title, outcome, text, rests) {
    await clerk.section('review');
    await clerk.press(`Answer ${title}`);
    await page.waitForSelector('#answer');
    await clerk.choose('Outcome', outcome);
    await clerk.type('Answer', text);
    if (rests !== undefined) {
      await page
        .getByLabel('The decision that it rests on', { exact: true })
        .selectOption(String(rests));
    }
    await clerk.press('Look at it, then send');
    await dialog(text);
    await clerk.press('Send the answer');
    await page.locator('#answered tbody tr', { hasText: title }).waitFor();
  }

  /** One ruling of the demo: by hand the first of its kind, the others by the API. */
  async function decide(row) {
    const words = BY_HAND[row.id];
    if (words === undefined) {
      assert.equal((await served.ask('decisions', [row])).accepted, 1);
    } else if (words === 'revoke') {
      await undo((await decisions()).find((made) => made.id === row.value).number, row.reason);
    } else if (row.kind === 'notional') {
      const number = await record('Enquiry', { ...row, text: 'The hose lay beside the pad.' });
      await rule(words, row);
      await reply(
        `Enquiry ${number}, car ${row.car} at ${row.point}`,
        'upheld',
        'It did.',
        (await decisions()).length,
      );
      const told = (await served.ask('enquiries')).enquiries.find((one) => one.number === number);
      assert.match(
        told.answer.text,
        /It did\.\n\nIt rests on decision \d+ \(notional of car 135 at T3\/2, 22\.400\)/,
      );
    } else {
      await rule(words, row);
    }
  }

  for (const day of [1, 2, 3, 4]) {
    test(`day ${day} is driven`, async () => {
      const first = JSON.parse(merrow(['facts', String(day)], '{}'));
      const early = first.findIndex(([name]) => name === 'readings');
      for (const [, row] of first.slice(0, early)) await decide(row);
      const best = (await served.ask('standings?after=TC18')).standings
        .slice(0, 15)
        .map((row) => row.car);
      const starts = await startList(day);
      if (day === 4) {
        const order = Object.entries(starts)
          .sort(([, a], [, b]) => a.localeCompare(b))
          .map(([car]) => Number(car));
        assert.deepEqual(order.slice(0, 15), best.reverse());
      }
      const waiting = [];
      for (const [name, row] of JSON.parse(
        merrow(['facts', String(day)], JSON.stringify(starts)),
      ).slice(early)) {
        if (name === 'readings') {
          waiting.push(row);
          continue;
        }
        await send(waiting.splice(0));
        await decide(row);
      }
      await send(waiting);
      await compare(`day-${day}`, ['overall']);
    });
  }

  test('a crew asks with its code, and is answered', async () => {
    const { code } = (await served.ask('codes')).codes.find((one) => one.car === 62);
    const told = await fetch(`${served.api}/cars/62/enquiries`, {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify({ code, point: 'TC10', text: 'How long was the crossing shut?' }),
    });
    assert.equal(told.status, 200);
    await reply(
      `Enquiry ${(await told.json()).number}, car 62 at TC10`,
      'answered',
      'Three minutes, which you were allowed.',
    );
  });

  /** Posts a classification after a look at it. */
  async function post(kind) {
    const number =
      Math.max(...(await served.ask('notices')).notices.map((notice) => notice.number)) + 1;
    await clerk.section('notices');
    await page.locator(`#post-${kind}`).press('Enter');
    await dialog(`Post notice ${number}`);
    await clerk.press(`Post it as ${kind}`);
    await page
      .locator('#notice', { hasText: `Notice ${number}:` })
      .getByText('The seal is whole')
      .waitFor();
    const { content } = await served.ask(`notices/${number}`);
    assert.equal(content.kind, kind);
    assert.match(cairn('verify', served.data, served.slug, String(number)), new RegExp(kind));
    return content;
  }

  test('the provisional classification, then every doubt is settled', async () => {
    await rule('Penalty', {
      car: TWIN,
      value: '20',
      reason: 'Engine run in parc fermé',
    });
    const { overall } = await post('provisional');
    assert.deepEqual(overall.standings, (await served.ask('standings')).standings);
    let open;
    const find = async () => {
      open = (await served.ask('doubts')).doubts.filter((doubt) => doubt.open);
    };
    const titles = { differ: 'readings differ', out: 'read while out of the event' };
    await find();
    assert.equal(open.length, 6);
    while (open.length > 0) {
      const [doubt, left] = [open[0], open.length];
      const title = `Car ${doubt.car} at ${doubt.point}: ${titles[doubt.kind]}`;
      const right = doubt.readings.find((reading) => reading.counts);
      await clerk.section('review');
      await clerk.press(`Look at ${title}`);
      await clerk.on(title);
      await clerk.pick(
        doubt.kind === 'out'
          ? 'Nothing of it is right: all are withdrawn'
          : [right.time || right.elapsed, right.faults].filter(Boolean).join(', ') +
              ` holds (${right.by || 'nobody named'}); the others are withdrawn`,
      );
      await clerk.type('Reason', 'The first clock was checked');
      await clerk.press(SHOWS);
      await clerk.keep('Keep this ruling', () =>
        page.waitForFunction(
          (words) => document.querySelector('#doubt h2')?.textContent !== words,
          title,
        ),
      );
      await find();
      assert.equal(open.length, left - 1);
    }
  });

  test('a protest is upheld, and the final classification is posted', async () => {
    const protest = await record('Protest', { car: TWIN, text: "The engine was our sister's." });
    await clerk.section('notices');
    await page.locator('#post-final').press('Enter');
    await page.waitForSelector('#way .calm');
    assert.match(
      await page.locator('#way').innerText(),
      new RegExp(`case ${protest} of car ${TWIN}`),
    );
    const fine = (await decisions()).find(
      (made) => made.car === String(TWIN) && made.value === '20',
    );
    await undo(fine.number, 'Protest upheld: it was another car');
    await reply(`Protest ${protest}, car ${TWIN}`, 'upheld', 'The penalty is taken back.');
    // A second protest period as short as a test has time for.
    await clerk.section('rules');
    await clerk.press('Totals and ranking');
    await clerk.type('Protest period', '00:00:01');
    await clerk.press('Check it');
    await page.locator('#tried h2', { hasText: 'can be taken' }).waitFor();
    await clerk.press('Take these rules');
    await page.locator('#tried').getByText('The rules are taken').waitFor();
    const second = await post('provisional');
    assert.ok(
      second.differences.some(
        (row) => row.car === TWIN && row.before.penalty !== row.after.penalty,
      ),
    );
    while ((await served.ask('classifications/final')).obstacles.length)
      await page.waitForTimeout(50);
    const final = await post('final');
    assert.deepEqual([final.differences, final.overall.standings], [[], second.overall.standings]);
    // As the demo's folder scores.
    const [here, there] = [final.overall, JSON.parse(cairn('score', DEMO, '--format', 'json'))].map(
      (told) => told.standings.slice(0, 3).map((row) => [row.car, row.penalty]),
    );
    assert.deepEqual(here, there);
  });

  test('the sisters share their prize, and the folder scores to the same bytes', async () => {
    await clerk.section('prizes');
    const shared = (await clerk.rows('#prizes')).filter(([, , place]) => place === '1 (shared)');
    assert.deepEqual(shared.map((row) => row[3].split(' ')[0]).sort(), [String(TWIN), '87']);
    await compare('end', ['overall', 'class', 'category', 'day', 'test', 'team']);
    assert.deepEqual(clerk.errors.take(), []);
  });
});
