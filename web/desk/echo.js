// SPDX-License-Identifier: MIT
// What the number in the field means, before Enter: a typing error shows while it can be corrected.

import { doubts } from './checks.js';
import { valueShown } from './lines.js';
import { durationShown } from '../shared/time.js';
import { doubtText, lapText } from './wording.js';
import { t } from './words.js';

function carText(desk, list, car) {
  const entry = desk.cars.get(car);
  if (!entry) {
    const [found] = doubts(
      { car },
      { cars: desk.cars, rows: [], earlier: [], expected: new Map(), clock: [] },
    );
    return doubtText(car, found);
  }
  const here = list.find((c) => c.car === car);
  const parts = [car, entry.vehicle];
  if (!here && list.length) parts.push(t('flag.not-expected'));
  if (here) {
    if (here.due) parts.push(t('echo.due', { due: here.due.replace(/:00$/, '') }));
    parts.push(
      here.state === 'seen'
        ? t('echo.seen', { time: (here.time || here.elapsed || '').split('.')[0] })
        : t(here.state === 'out' ? 'flag.retired' : 'echo.unseen'),
    );
  }
  return parts.join(', ');
}

/**
 * recorder  at a station;  list  the cars expected there
 */
export function echoText(recorder, list) {
  const { command, desk, lapCar } = recorder;
  const { station } = desk;
  const elapsed = recorder.measure === 'elapsed';
  const lap = (car) => lapText(recorder.stamps.nextAt(station, car));
  const { kind, car } = command;
  if (kind === 'empty') {
    return station.laps && lapCar !== null ? t('echo.lap', { car: lapCar, lap: lap(lapCar) }) : '';
  }
  if (kind === 'bad') return t(car ? 'echo.bad' : 'echo.bad.number', { car });
  const parts = [carText(desk, list, car)];
  if (kind === 'give') {
    const blank = recorder.blankNo(command.blank);
    parts.push(
      blank
        ? t('echo.give', { no: blank.no, time: valueShown(blank, station.precision) })
        : t('give.unknown'),
    );
    if (!command.blank) parts.push(t('echo.which'));
  }
  if (kind === 'value') {
    parts.push(
      elapsed
        ? t('echo.elapsed', { time: durationShown(command.value.text) })
        : t('echo.typed', { time: recorder.meant(command.value).text }),
    );
  } else if (elapsed) parts.push(t('echo.open'));
  if (station.laps && kind === 'car') parts.push(t('echo.next', { lap: lap(car) }));
  return parts.join(', ');
}
