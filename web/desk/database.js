// SPDX-License-Identifier: MIT
// The browser's own database, with promises in place of its events.

/** What a request comes to. */
export const answerOf = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

/** Resolves once a transaction's changes are kept; rejects where they are not. Who has learned of
 * that from one of its requests need not wait for it. */
export function keptBy(transaction) {
  const kept = new Promise((resolve, reject) => {
    transaction.oncomplete = resolve;
    transaction.onabort = transaction.onerror = () => reject(transaction.error);
  });
  kept.catch(() => {});
  return kept;
}

/**
 * Opens the database of that name. upgrade(database, from) makes what a newer version has; `from`
 * is 0 where there is none yet. Another page that holds an older version open lets it go, as this
 * one will.
 */
export async function openDatabase(name, version, upgrade) {
  const request = indexedDB.open(name, version);
  request.onupgradeneeded = ({ oldVersion }) => upgrade(request.result, oldVersion);
  const database = await answerOf(request);
  database.onversionchange = () => database.close();
  return database;
}
