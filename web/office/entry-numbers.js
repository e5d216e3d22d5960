// SPDX-License-Identifier: MIT
// Numbers by age, with exceptions made by hand: the server says who would get which.

import { make } from '../shared/dom.js';
import { field, input, requestForm } from './forms.js';
import { para, table } from './parts.js';

/** Who gets which number. */
function numbersWords(cars) {
  const moved = cars.filter((car) => String(car.number) !== car.was).length;
  return [
    para(
      make(
        'strong',
        {},
        moved
          ? `${moved} of ${cars.length} cars get another number.`
          : 'Every car has its number by age already.',
      ),
    ),
    cars.length
      ? table(
          'Numbers by age',
          ['No.', '#Was', 'Driver', '#Year', '#Engine', 'By'],
          cars.map((car) => [
            car.number,
            car.was || '–',
            car.driver,
            car.year,
            car.engine_cc ?? '–',
            car.by_hand ? 'hand' : 'age',
          ]),
          { id: 'numbers' },
        )
      : '',
  ];
}

/** The form of numbers by age, with the exceptions that are made by hand. */
export function numberForm(office, show) {
  const keep = input('keep', { size: '24' });
  const give = input('give', { size: '24' });
  const skip = input('skip', { size: '24' });
  const first = input('first', { size: '6', inputmode: 'numeric' });
  return requestForm(
    [
      para(
        'The oldest car first; of equal years the smaller engine, one that is not known last; ' +
          'then the order of entry. Once start times, readings or decisions name cars, numbers stay.',
      ),
      field('Cars that keep their number', keep, 'numbers with commas, as 1, 22'),
      field(
        'Numbers by hand',
        give,
        'the number that a car has now and the one that it gets, as 22=1, 7=3',
      ),
      field('Numbers that nobody gets', skip, 'with commas, as 13'),
      field('First number', first, 'empty: 1'),
    ],
    'Show the numbers',
    async () => {
      const value = (control) => control.value.trim();
      const reply = await office.api.post('entries/number', {
        keep: value(keep),
        give: value(give),
        skip: value(skip),
        first: value(first),
      });
      show(
        { ...reply, cars: undefined, added: [], changed: [], gone: [] },
        numbersWords(reply.numbers),
      );
    },
  );
}
