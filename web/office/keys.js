// SPDX-License-Identifier: MIT
// Keys: a link and a code for each desk; lists, revokes.

import { button, make } from '../shared/dom.js';
import { Refused } from './api.js';
import { codesPart } from './codes.js';
import { confirmed } from './confirm.js';
import { clearFaults, field, input, onSubmit, select, tryAct } from './forms.js';
import { moment } from './moments.js';
import { para, table } from './parts.js';

/** The code as an image: the server's own drawing, which no script may run in. */
function codeImage(svg) {
  return make('img', {
    class: 'code',
    alt: 'QR code of the link',
    src:
      'data:image/svg+xml;utf8,' +
      encodeURIComponent(svg.replace('<svg ', '<svg xmlns="http://www.w3.org/2000/svg" ')),
  });
}

/** A key that was just made. points: '' for an organiser's */
function keyShown({ link, qr }, points) {
  return make(
    'div',
    { class: 'sheet', id: 'made' },
    make('h2', { tabindex: '-1' }, points ? `Link for ${points}` : 'Link for an organiser'),
    para(
      'It is shown this once. Whoever has it can write: hand it on as you would a key to a door.',
    ),
    make('p', { class: 'link' }, make('a', { href: link }, link)),
    qr ? codeImage(qr) : null,
    para(button('Print this link', () => print())),
  );
}

/** All keys; revoke(key) asks first. */
const keysTable = (office, keys, revoke) =>
  table(
    keys.length === 1 ? '1 key' : `${keys.length} keys`,
    ['No.', 'Role', 'Points', 'Whose', 'Made', 'Is', 'Do'],
    keys.map((key) => [
      key.id,
      key.role,
      key.points.replaceAll(',', ', ') || 'all',
      key.label || '–',
      moment(office, key.created),
      key.revoked ? 'revoked' : 'in force',
      key.revoked
        ? null
        : button('Revoke', () => revoke(key), { 'aria-label': `Revoke key ${key.id}` }),
    ]),
    { id: 'keys' },
  );

export async function showKeys(office, place) {
  const role = select('role', [
    ['timekeeper', 'Timekeeper, for points'],
    ['organiser', 'Organiser, for everything'],
  ]);
  const points = input('points', { size: '30' });
  const label = input('label', { size: '30', maxlength: '60' });
  const base = input('base', { size: '40', value: location.origin });
  const pointsRow = field(
    'Points',
    points,
    "ids with commas, such as TC1,R1; a test's id means all its points",
  );
  const made = make('div', { 'aria-live': 'polite' });
  const list = make('div', { id: 'all-keys' });
  const form = make(
    'form',
    { class: 'sheet', novalidate: true },
    field('For', role),
    pointsRow,
    field('Whose', label),
    field('Address of the server', base, 'as the desks reach it'),
    para(make('button', {}, 'Make the key')),
  );
  const refresh = async () => {
    const { keys } = await office.api.get('keys');
    list.replaceChildren(keysTable(office, keys, revoke));
  };
  const revoke = async (key) => {
    if (
      !(await confirmed(
        `Revoke key ${key.id} (${key.label || key.role})?`,
        [para('Whoever has it can write no more. It cannot be undone; a new key can be made.')],
        'Revoke it',
        'Leave it in force',
      ))
    )
      return;
    clearFaults(list);
    await tryAct(list, async () => {
      await office.api.post(`keys/${key.id}`, { revoke: true }).catch((error) => {
        // No such key is in force: a colleague was faster, or the answer to an earlier try was lost.
        if (!(error instanceof Refused) || error.status !== 404) throw error;
      });
      await refresh();
      office.say(`Key ${key.id} is revoked.`);
      list.querySelector('.scroll').focus();
    });
  };
  role.addEventListener('change', () => {
    pointsRow.hidden = role.value === 'organiser';
  });
  onSubmit(form, async () => {
    const organiser = role.value === 'organiser';
    const key = await office.api.post('keys', {
      role: role.value,
      label: label.value.trim(),
      points: organiser ? '' : points.value.replaceAll(' ', ''),
      base: base.value.trim(),
    });
    made.replaceChildren(keyShown(key, organiser ? '' : points.value));
    made.querySelector('h2').focus();
    await refresh();
  });
  place.append(
    make('h2', {}, 'A new key'),
    form,
    made,
    make('h2', {}, 'Keys'),
    list,
    codesPart(office),
  );
  await refresh();
  return { refresh: async () => {}, busy: () => true };
}
