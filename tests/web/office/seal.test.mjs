// SPDX-License-Identifier: MIT
// A seal holds for the very bytes that were sealed, and for no others.

import assert from 'node:assert/strict';
import { createHash, generateKeyPairSync, sign, webcrypto } from 'node:crypto';
import test from 'node:test';
import { checkSeal, readNotice } from '../../../web/office/seal.js';

// Node before 20 has it by import alone.
Object.defineProperty(globalThis, 'crypto', { configurable: true, get: () => webcrypto });

const { publicKey, privateKey } = generateKeyPairSync('ed25519');
const signer = publicKey.export({ format: 'der', type: 'spki' }).subarray(-32).toString('hex');

/** A notice's document around this text of its content, as the server writes it. */
function sealed(content) {
  const bytes = Buffer.from(content);
  const hash = createHash('sha256').update(bytes).digest('hex');
  const signature = sign(null, bytes, privateKey).toString('hex');
  return `{"content":${content},"hash":"${hash}","signature":"${signature}","signer":"${signer}"}\n`;
}
const CONTENT = '{"number":3,"title":"Étape, \\"hash\\":","list":[1.50,2]}';

test('what was sealed is read as it was sent, to the letter', () => {
  const read = readNotice(sealed(CONTENT));
  assert.equal(read.sealed, CONTENT);
  assert.equal(read.content.title, 'Étape, "hash":');
  assert.equal(read.signer, signer);
});

test('a whole seal is good, and a changed letter breaks it', async () => {
  assert.equal(await checkSeal(readNotice(sealed(CONTENT))), 'good');
  const changed = sealed(CONTENT).replace('"number":3', '"number":4');
  assert.equal(await checkSeal(readNotice(changed)), 'broken');
});

test('a hash that fits does not make up for a signature that does not', async () => {
  const other = sealed(CONTENT.replace('3', '4'));
  const [, signature] = /"signature":"([0-9a-f]+)"/.exec(sealed(CONTENT));
  const forged = other.replace(/"signature":"[0-9a-f]+"/, `"signature":"${signature}"`);
  assert.equal(await checkSeal(readNotice(forged)), 'broken');
});

test('where the browser has no means it says that it did not check', async (t) => {
  t.mock.getter(globalThis, 'crypto', () => ({}));
  assert.equal(await checkSeal(readNotice(sealed(CONTENT))), 'unchecked');
});
