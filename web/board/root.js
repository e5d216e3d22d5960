// SPDX-License-Identifier: MIT
// The page's root element: its attributes say of which event the page is, in which language and zone.

export const root = document.documentElement;
