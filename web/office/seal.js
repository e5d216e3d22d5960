// SPDX-License-Identifier: MIT
// Checks the seal of a notice in the browser, over the very bytes that the server sent.

const bytesOf = (hex) => new Uint8Array((hex.match(/../g) || []).map((pair) => parseInt(pair, 16)));
const hexOf = (bytes) =>
  [...new Uint8Array(bytes)].map((byte) => byte.toString(16).padStart(2, '0')).join('');

// A document is these three pieces and what lies between them; see schema/openapi.yaml.
const BEGIN = '{"content":';
const END = ',"hash":"';

/** Takes a notice's document apart: `content` as an object, `sealed` as the text that was sealed. */
export function readNotice(text) {
  const { content, hash, signature, signer } = JSON.parse(text);
  return {
    content,
    hash,
    signature,
    signer,
    sealed: text.slice(BEGIN.length, text.lastIndexOf(END)),
  };
}

/** Checks it. Returns 'good'; 'broken'; 'unchecked' where this browser cannot: over plain http from
 * another machine it has no means, and an old one does not know Ed25519. */
export async function checkSeal({ sealed, hash, signature, signer }) {
  const subtle = globalThis.crypto && crypto.subtle;
  if (!subtle) return 'unchecked';
  const bytes = new TextEncoder().encode(sealed);
  if (hexOf(await subtle.digest('SHA-256', bytes)) !== hash) return 'broken';
  let key;
  try {
    key = await subtle.importKey('raw', bytesOf(signer), { name: 'Ed25519' }, false, ['verify']);
  } catch {
    return 'unchecked';
  }
  return (await subtle.verify('Ed25519', key, bytesOf(signature), bytes)) ? 'good' : 'broken';
}
