// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import vm from 'node:vm';
import { Linter } from 'eslint';

const SCRIPT = readFileSync(new URL('../../../web/shared/old-browser.js', import.meta.url), 'utf8');
const HAS = { structuredClone() {}, HTMLDialogElement() {}, indexedDB: {} };

/** Whether a browser that has these is told that it is too old. */
function isTold(has) {
  let told = false;
  const document = {
    getElementById(id) {
      assert.equal(id, 'old-browser');
      return {
        removeAttribute(name) {
          assert.equal(name, 'hidden');
          told = true;
        },
      };
    },
  };
  vm.runInNewContext(SCRIPT, { window: has, document });
  return told;
}

test('a browser that has all is told nothing, one that lacks any of it is told', () => {
  assert.equal(isTold(HAS), false);
  for (const name of Object.keys(HAS)) {
    assert.equal(isTold({ ...HAS, [name]: undefined }), true, name);
  }
});

test('a browser of 2012 can read the script that says it is too old', () => {
  const found = new Linter().verify(SCRIPT, {
    languageOptions: { ecmaVersion: 5, sourceType: 'script' },
  });
  assert.deepEqual(found, []);
});
