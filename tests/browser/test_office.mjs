// SPDX-License-Identifier: MIT
// The organiser's office from the link on, by keyboard alone: what is shown
// before something is kept is what comes about, and two organisers at once lose nothing.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { Served, contextOf, events, launch } from '../support/setup.mjs';
import { Clerk, TABLET } from '../support/office.mjs';

// What the tests provoke: Chromium writes every refusal to the console.
const REFUSED = [/ 412/, /status of 412/];

describe('the office', { timeout: 400_000 }, () => {
  let browser, clerk, context, other, page, served;

  before(async () => {
    served = await Served.start(events.hostile);
    await served.ask('readings', [
      { point: 'TC1', car: 3, time: '08:55', id: 'd-1', by: 'quay' },
      { point: 'TC1', car: 5, time: '08:52', id: 'd-2' },
      { point: 'TC1', car: 8, time: '08:58', id: 'd-3' },
    ]);
    browser = await launch();
    context = await contextOf(browser, { viewport: TABLET, hasTouch: true });
    clerk = await Clerk.open(context, served, 'C. Clerk', { allow: REFUSED });
    ({ page } = clerk);
    other = await Clerk.open(await contextOf(browser, { viewport: TABLET }), served, 'D. Deputy', {
      allow: REFUSED,
    });
  });
  after(async () => {
    await browser.close();
    await served.end();
  });

  const decisions = async () => (await served.ask('decisions')).decisions;
  const says = (words) =>
    page.waitForFunction((wanted) => document.getElementById('say').textContent === wanted, words);

  test('opens by its link, which does not stay in the address', async () => {
    assert.equal(await page.evaluate(() => location.hash), '#room');
    assert.equal(await page.title(), 'Control room – Gannet Trial 2031 <i>& friends</i>');
    assert.deepEqual(await clerk.walk(40), []);
    await clerk.choose('Day', 'Day 2, 2031-06-07');
    await page.waitForSelector('#points caption >> text=Points of day 2');
    await clerk.choose('Day', 'Day 1, 2031-06-06');
    await page.waitForSelector('#points caption >> text=Points of day 1');
    const [, name, expected, seen] = (await clerk.rows('#points')).find(
      ([point]) => point === 'TC1',
    );
    assert.deepEqual([name, expected, seen], ['Old quay', '6', '5']);
  });

  const SHOWS = 'Show what it does';
  const log = (number) => () => page.waitForSelector(`[aria-label="Undo decision ${number}"]`);
  const STALE = /Somebody else was first; nothing was changed/;
  const DOUBT = 'Car 3 at TC1: readings differ';

  /** Opens the doubt on car 3, picks the answer, gives the reason, shows the effect. */
  async function rule(who, answer, reason) {
    await who.section('review');
    await who.press(`Look at ${DOUBT}`);
    await who.on(DOUBT);
    await who.pick(answer);
    if (reason !== null) await who.type('Reason', reason);
    await who.press(SHOWS);
    await who.on('Keep this ruling');
  }
  const ruled = (who) =>
    who.page.waitForFunction(
      (title) => document.querySelector('#doubt h2')?.textContent !== title,
      DOUBT,
    );

  test('a doubt is ruled as its effect was shown, and the ruling is undone', async () => {
    const was = await clerk.standings();
    await clerk.section('review');
    assert.deepEqual((await clerk.rows('#doubts'))[0].slice(0, 2), [
      DOUBT,
      '<script>alert(1)</script> / O\'Lund & "Sons"',
    ]);
    await clerk.press(`Look at ${DOUBT}`);
    await clerk.press(SHOWS);
    assert.match(
      await page.locator('.faults').innerText(),
      /Choose what is right.*Give the reason/s,
    );
    await clerk.pick('It costs this car so many points');
    await clerk.type('Points of penalty', '12');
    await clerk.type('Reason', 'The marshal saw it');
    await clerk.press(SHOWS);
    const shown = await clerk.keep('Keep this ruling', () => ruled(clerk));
    assert.equal(shown.get('3')[1][0], '12.000');
    const [made] = (await decisions()).slice(-1);
    assert.deepEqual(
      [made.kind, made.car, made.point, made.by],
      ['notional', '3', 'TC1', 'C. Clerk'],
    );
    await clerk.section('decisions');
    await clerk.press(`Undo decision ${made.number}`);
    await clerk.on(`Undo decision ${made.number}, notional result, car 3 at TC1`);
    await clerk.type('Reason', 'It was car 5', '#act');
    await clerk.press(SHOWS);
    await clerk.keep('Keep this', log(made.number + 1));
    await clerk.on(`Undo decision ${made.number + 1}`);
    assert.deepEqual(await clerk.standings(), was);
  });

  test('an allowance and a penalty are decided', async () => {
    await clerk.section('decisions');
    await clerk.choose('Kind', 'Allowance: the car was held up');
    await clerk.press(SHOWS);
    assert.match(
      await page.locator('.faults').innerText(),
      /Enter the car's number.*Enter the point or test.*Enter the value.*Give the reason/s,
    );
    await clerk.type('Car number', '5');
    await clerk.type('Point or test', 'TC1');
    await clerk.type('Value', '00:02:00');
    await clerk.type('Reason', 'Level crossing');
    await clerk.press(SHOWS);
    const allowed = await clerk.keep('Keep this decision', log(4));
    assert.deepEqual(
      allowed.get('5').map(([penalty]) => penalty),
      ['20.000', '0.000'],
    );
    await clerk.choose('Kind', 'Penalty');
    await clerk.type('Car number', '77');
    await clerk.type('Value', '7.5');
    await clerk.type('Reason', 'Noise');
    await clerk.press(SHOWS);
    await clerk.on('There is a problem');
    assert.match(await page.locator('.faults').innerText(), /77/);
    await clerk.type('Car number', '8');
    await clerk.press(SHOWS);
    const fined = await clerk.keep('Keep this decision', log(5));
    assert.equal(fined.get('8')[1][0], '57.500');
    assert.deepEqual((await clerk.rows('#log'))[0].slice(0, 7), [
      '5',
      'Penalty',
      '8',
      '–',
      '7.5',
      'Noise',
      'C. Clerk',
    ]);
  });

  test('who decides later than a colleague is told, and loses nothing', async () => {
    await clerk.choose('Kind', 'Penalty');
    await clerk.type('Car number', '2');
    await clerk.type('Value', '3');
    await clerk.type('Reason', 'Lamp out');
    await clerk.press(SHOWS);
    await clerk.on('Keep this decision');
    await other.section('decisions');
    await other.choose('Kind', 'Disqualified');
    await other.type('Car number', '5');
    await other.type('Reason', 'Tyres');
    await other.press(SHOWS);
    await other.on('Keep this decision');
    await other.page.keyboard.press('Enter');
    await other.page.waitForSelector('[aria-label="Undo decision 6"]');
    await page.keyboard.press('Enter');
    await clerk.on('There is a problem');
    assert.match(await page.locator('.faults').innerText(), STALE);
    assert.equal((await decisions()).length, 6);
    assert.deepEqual(
      await Promise.all(
        ['Car number', 'Value', 'Reason'].map((label) =>
          page.getByLabel(label, { exact: true }).inputValue(),
        ),
      ),
      ['2', '3', 'Lamp out'],
    );
    await clerk.press(SHOWS);
    await clerk.keep('Keep this decision', log(7));
    await other.press('Undo decision 6');
    await other.type('Reason', 'They were right', '#act');
    await other.press(SHOWS);
    await other.on('Keep this');
    await other.page.keyboard.press('Enter');
    await other.page.waitForSelector('[aria-label="Undo decision 8"]');
  });

  test('two organisers on one doubt withdraw no reading unseen', async () => {
    const holds = (time, by) => `${time} holds (${by}); the others are withdrawn`;
    await rule(clerk, holds('08:48:00', 'nobody named'), 'The card says so');
    await served.ask('readings', [{ point: 'TC1', car: 3, time: '08:54', id: 'd-4', by: 'mole' }]);
    await page.keyboard.press('Enter');
    await clerk.on('There is a problem');
    assert.match(await page.locator('.faults').innerText(), STALE);
    assert.match(await page.locator('#doubt').innerText(), /mole/);
    assert.equal(await page.getByLabel('Reason', { exact: true }).inputValue(), 'The card says so');
    await clerk.pick(holds('08:54', 'mole'));
    await clerk.press(SHOWS);
    await clerk.on('Keep this ruling');
    await rule(other, holds('08:55', 'quay'), 'Asked the quay');
    await other.page.keyboard.press('Enter');
    await ruled(other);
    await page.keyboard.press('Enter');
    await clerk.on('There is a problem');
    assert.match(
      await page.locator('.faults').innerText(),
      /Somebody else was first.*not doubtful any more. Your reason was: The card says so/s,
    );
    const gone = served
      .readings()
      .filter((row) => row.void === 'yes')
      .map((row) => row.replaces);
    assert.deepEqual(gone.sort(), ['d-4', 'seed-3']);
  });

  test('the start list of the next day is kept as it was shown, and published', async () => {
    await clerk.section('decisions');
    await clerk.choose('Kind', 'Close: no further cars');
    await clerk.type('Point or test', 'day:1');
    await clerk.type('Reason', 'The last car is in');
    await clerk.press(SHOWS);
    await clerk.keep('Keep this decision', log(9));
    await clerk.section('starts');
    await clerk.choose('Day', 'Day 2, 2031-06-07');
    await clerk.choose('Order', 'By the standings reversed, the best last');
    await clerk.type('How many are reversed', 'three');
    await clerk.press('Show the list');
    await clerk.on('There is a problem');
    await clerk.type('How many are reversed', '3');
    await clerk.type('First start', '09:30');
    await clerk.press('Show the list');
    await clerk.on('Keep this list');
    const cars = async () => (await clerk.rows('#list')).map(([, car]) => Number(car));
    const wanted = async () => {
      const order = (await served.ask('standings')).standings.map((row) => row.car);
      return [...order.slice(0, 3).reverse(), ...order.slice(3)];
    };
    const first = await cars();
    assert.deepEqual(first.slice(0, (await wanted()).length), await wanted());
    const before = (await served.ask('starts/2')).starts;
    await served.ask('decisions', [
      { kind: 'penalty', car: first[2], value: '5000', reason: 'short cut' },
    ]);
    await page.keyboard.press('Enter');
    await clerk.on('There is a problem');
    assert.match(await page.locator('.faults').innerText(), STALE);
    assert.deepEqual((await served.ask('starts/2')).starts, before);
    assert.equal(await page.getByLabel('First start', { exact: true }).inputValue(), '09:30');
    await clerk.press('Show the list');
    await clerk.on('Keep this list');
    const second = await clerk.rows('#list');
    assert.notDeepEqual(await cars(), first);
    await page.keyboard.press('Enter');
    await clerk.on('Publish it as a notice');
    const { starts } = await served.ask('starts/2');
    assert.deepEqual(
      starts.map((start) => [start.time, String(start.car), start.crew.join(' / ')]),
      second.map((row) => row.slice(0, 3)),
    );
    assert.deepEqual([starts[0].time, starts[1].time], ['09:30:00', '09:31:00']);
    await page.emulateMedia({ media: 'print' });
    assert.ok(
      (await page.locator('#list').isVisible()) && !(await page.locator('form').isVisible()),
    );
    await page.emulateMedia({ media: null });
    await clerk.looks('a kept start list');
    await clerk.press('Publish it as a notice');
    await clerk.on('Publish it as a notice: Start list of day 2?');
    await clerk.looks('a start list before it is published', { large: false });
    await clerk.press('Publish it');
    await clerk.on('It is published as a notice');
    const [notice] = (await served.ask('notices')).notices;
    assert.deepEqual([notice.kind, notice.title], ['bulletin', 'Start list of day 2']);
    assert.deepEqual(
      notice.text.split('\n'),
      starts.map(
        (start) => `${start.time}  car ${start.car}  ${start.crew.join(' / ')}, ${start.vehicle}`,
      ),
    );
    const paper = await fetch(await page.locator('a >> text=PDF').evaluate((link) => link.href));
    assert.equal(paper.headers.get('content-type'), 'application/pdf');
  });

  test('a pasted entry list is previewed, then applied whole', async () => {
    const entries = () =>
      fetch(`${served.api}/entries`, {
        headers: { Authorization: `Bearer ${served.organiser}` },
      }).then((answer) => answer.text());
    const before = await entries();
    await clerk.section('cars');
    await clerk.press('Import a list');
    await clerk.type('Paste a list', 'number;driver;make;model;year\n9;H. Fenn;Calder;Six;early\n');
    await clerk.press('Show what would change');
    await page.waitForSelector('h3 >> text=It cannot be taken');
    assert.match(await page.locator('#office').innerText(), /early/);
    await clerk.type(
      'Paste a list',
      'number;driver;make;model;year\n9;H. Fenn;Calder;Six;1931\n12;T. Rill;Brixham;Tourer;1936\n',
    );
    await clerk.press('Show what would change');
    await page.waitForSelector('h3 >> text=It can be taken');
    assert.match(
      await page.locator('#office').innerText(),
      /2 rows: 0 refused, 1 added, 1 changed, 0 the same\.[^]*added\t12\tT. Rill[^]*changed\t9\tH. Fenn\tyear: 1930 → 1931/,
    );
    assert.equal(await entries(), before);
    await clerk.press('Take this list');
    await page.waitForSelector('#entries caption >> text=7 cars');
    const [was, is] = [before, await entries()].map((text) => text.trimEnd().split('\n'));
    assert.deepEqual(is.slice(0, 6), was.slice(0, 6));
    assert.match(is[6], /^9,H. Fenn,,Calder,Six,1931,1996,club,/);
    assert.match(is[7], /^12,T. Rill,,Brixham,Tourer,1936,/);
  });

  test('of a device gone wild some readings are shown, the others counted, and all withdrawn', async () => {
    const title = 'Car 9 at TC1: readings differ';
    await served.ask(
      'readings',
      Array.from({ length: 60 }, (_, i) => ({
        point: 'TC1',
        car: 9,
        time: `09:${String(i).padStart(2, '0')}`,
        id: `wild-${i}`,
      })),
    );
    await clerk.section('prizes');
    await clerk.section('review');
    await clerk.press(`Look at ${title}`);
    await clerk.on(title);
    assert.equal(await page.locator('#doubt table').first().locator('tbody tr').count(), 50);
    assert.match(await page.locator('#doubt').innerText(), /and 10 more\./);
    await clerk.pick('Nothing of it is right: all are withdrawn');
    await clerk.type('Reason', 'The device was tested');
    await clerk.press(SHOWS);
    await clerk.on('Keep this ruling');
    await clerk.keep('Keep this ruling', () =>
      page.waitForFunction(
        (words) => document.querySelector('#doubt h2')?.textContent !== words,
        title,
      ),
    );
    const { readings } = await served.ask('readings?point=TC1&car=9');
    assert.deepEqual([readings.length, readings.filter((one) => one.replaced).length], [120, 60]);
  });

  test('the prizes stand as they are read out', async () => {
    await clerk.section('prizes');
    const { prizes } = await served.ask('prizes');
    const rows = await clerk.rows('#prizes');
    assert.deepEqual(
      rows.map(([name, of, place]) => [name, of, place]),
      prizes.map((prize) => [
        prize.name,
        prize.group ?? '',
        prize.place === null ? '–' : `${prize.place}${prize.shared ? ' (shared)' : ''}`,
      ]),
    );
    prizes.forEach((prize, i) => {
      if (prize.car) assert.ok(rows[i][3].startsWith(`${prize.car} ${prize.crew[0]}`));
    });
    assert.ok(prizes.some((prize) => prize.car) && prizes.some((prize) => prize.team));
  });

  test("a timekeeper's key is made with its link and code, and is revoked though an answer is lost", async () => {
    await clerk.section('keys');
    await clerk.type('Points', 'X9');
    await clerk.press('Make the key');
    await clerk.on('There is a problem');
    clerk.errors.take();
    await clerk.type('Points', 'TC1, PC1');
    await clerk.type('Whose', 'Quay');
    await clerk.press('Make the key');
    await clerk.on('Link for TC1, PC1');
    const link = await page.locator('#made .link a').evaluate((a) => a.href);
    assert.ok(link.startsWith(`${served.origin}/${served.slug}/control#`), link);
    await page.waitForFunction(() => document.querySelector('#made img.code').naturalWidth > 0);
    const write = () =>
      fetch(`${served.api}/readings`, {
        method: 'POST',
        body: '[]',
        headers: {
          Authorization: `Bearer ${link.split('#')[1]}`,
          'Content-Type': 'application/json',
        },
      });
    assert.equal((await write()).status, 200);
    await page.locator('#keys tbody tr', { hasText: 'Quay' }).waitFor();
    const [id] = (await clerk.rows('#keys')).find((row) => row[3] === 'Quay');
    await clerk.looks('a key that was made', { large: false });
    await page.route(`**/keys/${id}`, async (route) => {
      await route.fetch();
      await route.abort();
    });
    const revoke = async () => {
      await clerk.press(`Revoke key ${id}`);
      await clerk.on(`Revoke key ${id} (Quay)?`);
      await clerk.press('Revoke it');
    };
    await revoke();
    await clerk.on('There is a problem');
    assert.match(
      await page.locator('.faults').innerText(),
      /nobody can tell whether this was kept/,
    );
    assert.equal((await write()).status, 401);
    await page.unroute(`**/keys/${id}`);
    await revoke();
    await says(`Key ${id} is revoked.`);
    assert.equal((await clerk.rows('#keys')).find(([number]) => number === id)[5], 'revoked');
    assert.equal(await page.locator('.faults').count(), 0);
    clerk.errors.take();
  });

  test('every section is accessible, in order for a keyboard, and whole on a tablet and a phone', async () => {
    const names = await page
      .locator('#sections a')
      .evaluateAll((links) => links.map((link) => link.hash.slice(1)));
    assert.ok(names.length >= 12 && new Set(names).size === names.length, names.join());
    for (const name of names) {
      await clerk.section(name);
      assert.deepEqual(await clerk.walk(30), [], name);
      await clerk.looks(name, { large: false });
    }
  });

  test('fails and a penalty in a test, and faults told by a judge, are decided', async () => {
    const decided = [];
    for (const [kind, point, value] of [
      ['Penalty', 'S1', '4.5'],
      ['Fails', '', '2'],
      ['Faults told by a judge', 'S1/finish', 'cone=1'],
    ]) {
      await clerk.section('decisions');
      await clerk.choose('Kind', kind);
      await clerk.type('Car number', '8');
      if (point) await clerk.type('Point or test', point);
      await clerk.type('Value', value);
      await clerk.type('Reason', 'Judge of facts');
      await clerk.press(SHOWS);
      const number = (await decisions()).length + 1;
      await clerk.keep('Keep this decision', log(number));
      decided.push(number);
    }
    const rows = (await clerk.rows('#log')).slice(0, 3).map((row) => row.slice(1, 5));
    assert.deepEqual(rows, [
      ['Faults told by a judge', '8', 'S1/finish', 'cone=1'],
      ['Fails', '8', '–', '2'],
      ['Penalty', '8', 'S1', '4.5'],
    ]);
    for (const number of decided.reverse()) {
      await clerk.press(`Undo decision ${number}`);
      await clerk.type('Reason', 'Only tried', '#act');
      await clerk.press(SHOWS);
      await clerk.keep('Keep this', log((await decisions()).length + 1));
    }
  });
});
