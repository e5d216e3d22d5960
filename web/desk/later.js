// SPDX-License-Identifier: MIT
// What is seldom used comes after the page stands, as a second script, seldom.js, or when it is first
// asked for. The service worker keeps it with the rest, so it is there without a network too.

const failed = {};
let seldom = null; // what the second script has, once it is here

/** The script of that name, beside this one. One that could not be had is asked for anew under
 *  another address: some browsers keep the failure. */
export async function load(name) {
  const tries = failed[name] || 0;
  try {
    return await import(new URL(name + '.js' + (tries ? '?' + tries : ''), import.meta.url));
  } catch (error) {
    failed[name] = tries + 1;
    throw error;
  }
}

/** What the second script exports. */
export async function later() {
  seldom ||= await load('seldom');
  return seldom;
}

/** The same at once; null where it is not here yet. */
export const atHand = () => seldom;
