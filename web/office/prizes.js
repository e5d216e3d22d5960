// SPDX-License-Identifier: MIT
// The prizes in the order in which they are read out.

import { button, make } from '../shared/dom.js';
import { neverBusy, para, table } from './parts.js';
import { penaltyText } from './shown.js';

const who = (prize) =>
  prize.team
    ? `${prize.team} (cars ${prize.cars.join(', ')})`
    : prize.car
      ? `${prize.car} ${prize.crew.join(' / ')}`
      : 'nobody';

const cost = ({ penalty, fails }) =>
  penalty === undefined
    ? ''
    : penaltyText(penalty) + (fails ? ` and ${fails} fail${fails === 1 ? '' : 's'}` : '');

export async function showPrizes(office, place) {
  const body = make('div', {});
  const refresh = async (unless = neverBusy) => {
    const list = await office.api.get('prizes');
    if (unless()) return;
    body.replaceChildren(
      ...(list.prizes.length
        ? [
            para(`The results are ${list.status}, revision ${list.revision}.`),
            table(
              'Prizes, as they are read out',
              ['Prize', 'Of', '#Place', 'Who', 'Vehicle', '#Penalty'],
              list.prizes.map((prize) => [
                prize.name,
                prize.group || '',
                prize.place === null ? '–' : `${prize.place}${prize.shared ? ' (shared)' : ''}`,
                who(prize),
                prize.vehicle ? `${prize.vehicle}, ${prize.year}` : '',
                cost(prize),
              ]),
              { id: 'prizes' },
            ),
            para(button('Print the list', () => print())),
          ]
        : [
            para(
              'There are no prizes yet. They stand in the rules as “awards”: each has a name, what it is for and how many places it has.',
            ),
          ]),
    );
  };
  place.append(body);
  await refresh();
  return { refresh, busy: () => body.contains(document.activeElement) };
}
