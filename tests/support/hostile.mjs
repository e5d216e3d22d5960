// SPDX-License-Identifier: MIT
// Texts full of markup in every field where somebody may type.

const SCRIPT = '<script>alert(1)</script>';

/** Posts notices, decisions and readings with such words to the small hostile event. */
export async function addHostileWords(served) {
  await served.ask('notices', { title: `${SCRIPT} "'&`, text: `</p>${SCRIPT}<b x='` });
  await served.ask('decisions', [
    { kind: 'penalty', car: 3, value: '5', reason: `${SCRIPT}&"'`, by: SCRIPT },
    { kind: 'waive', car: 3, point: 'T1', reason: '</td><b>' },
  ]);
  await served.ask('readings', [
    { point: 'TC2', car: 3, time: '09:33', by: SCRIPT, note: SCRIPT },
    { point: 'PC1', car: 3, by: SCRIPT },
  ]);
}
