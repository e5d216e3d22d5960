// SPDX-License-Identifier: MIT
// What every browser test starts from, in one import.

export * from './cairn.mjs';
export * from './chromium.mjs';
export * from './crawl.mjs';
export * from './accessibility.mjs';
