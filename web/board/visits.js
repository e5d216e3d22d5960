// SPDX-License-Identifier: MIT
// What this view of the board showed at the reader's last visit.

import { keep } from './keep.js';

// The view that this page shows, in whatever language; none where it was searched.
const asked = new URLSearchParams(location.search);
for (const [name, value] of [...asked])
  if (!value || name === 'lang' || value === 'overall') asked.delete(name);
export const view = asked.has('q') ? '' : location.pathname.replace('index.html', '') + asked;
// What the view showed at the last visit, null before the first: see since.js. Within five minutes of
// a visit that was told of changes, what these were compared with.
export const visits = () => {
  const kept = keep.get('looks');
  return Array.isArray(kept) ? kept : [];
};
export const lastVisit = () => {
  const visit = visits().find((one) => one && one.view === view);
  if (!visit) return null;
  return visit.base && Date.now() - visit.left < 300000 ? visit.base : visit.last;
};
