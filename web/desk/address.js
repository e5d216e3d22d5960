// SPDX-License-Identifier: MIT
// The page's address: a link has its key behind '#', and a tab keeps its point as ?point=ID, so that it
// is at the same point after a reload whatever other tabs do.

/** The station that the address names; '' where it names none. */
export const stationInAddress = () => new URLSearchParams(location.search).get('point') || '';

/** Writes the station into the address. The key, which must not stay on the screen, goes with
 * `key` false. */
export function writeAddress(station, key = true) {
  const point = station && '?point=' + encodeURIComponent(station).replaceAll('%2F', '/');
  const address = location.pathname + point + (key ? location.hash : '');
  if (address !== location.pathname + location.search + location.hash)
    history.replaceState(null, '', address);
}
