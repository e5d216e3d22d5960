// SPDX-License-Identifier: MIT
// Says so where the browser is too old for the page that it stands on. Written as a browser of 2012
// reads it, for the page's own script may not even parse there; the words stand in the page.

(function () {
  // Together Safari 15.4, Firefox 98 and Chrome 98, by which all else that the pages need is there.
  if (window.structuredClone && window.HTMLDialogElement && window.indexedDB) return;
  document.getElementById('old-browser').removeAttribute('hidden');
})();
