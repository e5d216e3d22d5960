// SPDX-License-Identifier: MIT
// What a public page stores on the reader's device, where the browser allows it.

export const keep = {
  get(name) {
    try {
      return JSON.parse(localStorage.getItem('cairn-' + name));
    } catch {
      return null;
    }
  },
  set(name, value) {
    try {
      localStorage.setItem('cairn-' + name, JSON.stringify(value));
    } catch {
      /* full, or refused */
    }
  },
};
