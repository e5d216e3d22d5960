// SPDX-License-Identifier: MIT
// What the number in the field means, before Enter: a typing error shows while it can be corrected.

import { doubts } from './checks.js';
import { dueShown, seenShown } from './expected.js';
import { valueShown } from './lines.js';
import { durationShown, timeMs, timeShown } from '../shared/time.js';
import { doubtText, earlyText, lapText } from './wording.js';
import { t } from './words.js';

/** How early or late the car is by now: told to the second while its number stands in the field. */
function earlyNow(view, station, due) {
  const now = view.now();
  if (now.rehearsal || station.part === 'start') return '';
  return earlyText(timeMs(due), now.ms, station.precision);
}

function carText({ desk, view }, list, car) {
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
    if (here.due) {
      parts.push(t('echo.due', { due: dueShown(here.due) }));
      if (here.state !== 'seen') parts.push(earlyNow(view, desk.station, here.due));
    }
    parts.push(
      here.state === 'seen'
        ? t('echo.seen', { time: seenShown(here) })
        : t(here.state === 'out' ? 'flag.retired' : 'echo.unseen'),
    );
  }
  return parts.filter(Boolean).join(', ');
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
  const parts = [carText(recorder, list, car)];
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
        : t('echo.typed', { time: timeShown(recorder.meant(command.value).text) }),
    );
  } else if (elapsed) parts.push(t('echo.open'));
  if (station.laps && kind === 'car') parts.push(t('echo.next', { lap: lap(car) }));
  return parts.join(', ');
}
