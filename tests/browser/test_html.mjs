// SPDX-License-Identifier: MIT
// Every kind of public page is valid HTML, and its links lead somewhere.

import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { Served, crawl, events, inline } from '../support/setup.mjs';
import { addHostileWords } from '../support/hostile.mjs';
import { faultsOf } from '../support/html.mjs';

// Rows are alike, and the validator takes long over hundreds.
const ROWS = 12;
const shortened = ({ address, source }) => ({
  address,
  source: source.replace(
    /(<tbody[^>]*>)(.*?)(<\/tbody>)/gs,
    (whole, head, rows, foot) =>
      head +
      rows
        .split(/(?=<tr[\s>])/)
        .slice(0, ROWS + 1)
        .join('') +
      foot,
  ),
});

// Of the small event's pages some of each kind; of the demo's long ones, one.
for (const [name, each] of [
  ['hostile', 3],
  ['demo', 1],
]) {
  describe(`the ${name} event's pages`, () => {
    let served, found;
    before(async () => {
      served = await Served.start(events[name]);
      if (name === 'hostile') await addHostileWords(served);
      found = await crawl(served.origin, each);
    });
    after(() => served.end());

    test('are several, of several kinds', () => {
      const kinds = new Set(found.pages.map((page) => page.kind));
      assert.ok(kinds.size >= 8, [...kinds].join(' '));
    });

    test('are valid HTML', async () => {
      const faults = [];
      for (const page of found.pages) faults.push(...(await faultsOf(shortened(page))));
      assert.deepEqual(faults.slice(0, 20), []);
    });

    test('hold no script and no style of their own', () => {
      const faults = found.pages.flatMap(({ address, source }) =>
        inline(source).map((fault) => `${address}: ${fault}`),
      );
      assert.deepEqual(faults, []);
    });

    test('come with a policy that would stop such', () => {
      for (const { address, headers } of found.pages) {
        const policy = headers.get('content-security-policy') ?? '';
        assert.match(policy, /default-src '(none|self)'/, address);
        assert.doesNotMatch(policy, /unsafe-(inline|eval)/, address);
      }
    });
  });
}

test('the validator finds what is wrong', async () => {
  const source =
    '<!DOCTYPE html>\n<html lang="en"><head><title>x</title></head>' +
    '<body><ul><p id="a" id="a">one</p></ul><img src="x"></body></html>\n';
  const faults = await faultsOf({ address: 'made-up', source });
  for (const rule of ['element-permitted-content', 'no-dup-attr', 'wcag/h37']) {
    assert.ok(
      faults.some((fault) => fault.includes(` ${rule}:`)),
      `${rule}: ${faults}`,
    );
  }
  assert.deepEqual(
    inline('<p onclick="x()" style="y"><script>z</script><style></style>').length,
    3,
  );
});
