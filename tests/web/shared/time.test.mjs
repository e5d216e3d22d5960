// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import {
  durationShown,
  instantOf,
  instantOnWatch,
  instantText,
  nearerToNow,
  parseDuration,
  parseTimeOfDay,
  timeOfDay,
  timeText,
  zoneOffset,
} from '../../../web/shared/time.js';

test('a time of day may be typed in every unambiguous way', () => {
  const cases = {
    1042: '10:42',
    942: '9:42',
    104207: '10:42:07',
    94207: '9:42:07',
    '10:42': '10:42',
    '10:42:07': '10:42:07',
    '10:42:07.5': '10:42:07.5',
    '10.42.07': '10:42:07',
    10.42: '10:42',
    104207.25: '10:42:07.25',
    '104207,125': '10:42:07.125',
    ' 10.42.07.5 ': '10:42:07.5',
    2510: '25:10',
    '0000': '00:00',
    '47:59:59.999': '47:59:59.999',
    '9:42': '9:42',
  };
  for (const [typed, meant] of Object.entries(cases)) {
    assert.equal(
      parseTimeOfDay(typed)?.text,
      meant.padStart(meant.indexOf(':') === 1 ? meant.length + 1 : 0, '0'),
      typed,
    );
  }
});

test('what is no time of day is none', () => {
  for (const typed of [
    '',
    '10',
    '1',
    '1060',
    '10:60',
    '4800',
    '104260',
    '1042.5',
    '10:42.07',
    '10:42:07.1234',
    '1042071',
    'noon',
    '-1042',
    '10:4',
    '1:2:3',
    '10::42',
    '10 42',
  ]) {
    assert.equal(parseTimeOfDay(typed), null, typed);
  }
});

test('a time of day is counted in milliseconds from midnight', () => {
  assert.equal(parseTimeOfDay('10:42:07.5').ms, 38527500);
  assert.equal(parseTimeOfDay('25:10').ms, 90600000);
  assert.equal(parseTimeOfDay('00:00:00.001').ms, 1);
});

test('an elapsed time is seconds, or minutes and seconds', () => {
  assert.deepEqual(parseDuration('83.45'), { ms: 83450, text: '83.45' });
  assert.deepEqual(parseDuration('83,45'), { ms: 83450, text: '83.45' });
  assert.deepEqual(parseDuration('1:23.4'), { ms: 83400, text: '00:01:23.4' });
  assert.deepEqual(parseDuration('1.23.45'), { ms: 83450, text: '00:01:23.45' });
  assert.deepEqual(parseDuration('75:00'), { ms: 4500000, text: '01:15:00' });
  assert.deepEqual(parseDuration('1:02:03.004'), { ms: 3723004, text: '01:02:03.004' });
  assert.deepEqual(parseDuration('11'), { ms: 11000, text: '11' });
});

test('what is no elapsed time is none', () => {
  for (const typed of ['', '1:60', '1.60.5', '83.4567', 'x', '172800', '1:2', '-5', '1:2:3']) {
    assert.equal(parseDuration(typed), null, typed);
  }
});

test('times are cut off, never rounded', () => {
  assert.equal(timeText(38527999.9, 0), '10:42:07');
  assert.equal(timeText(38527999.9, 3), '10:42:07.999');
  assert.equal(timeText(38527999.9, 1), '10:42:07.9');
  assert.equal(timeText(90600000, 0), '25:10:00');
});

test('a duration is shown without empty hours', () => {
  assert.equal(durationShown('00:01:23.4'), '1:23.4');
  assert.equal(durationShown('83.45'), '83.45');
  assert.equal(durationShown('01:15:00'), '1:15:00');
  assert.equal(durationShown('00:10:00'), '10:00');
});

test('the time of day runs on past midnight of its day', () => {
  const day = '2027-05-20';
  const zone = 'Atlantic/Azores'; // UTC in summer
  assert.deepEqual(timeOfDay(Date.UTC(2027, 4, 20, 10, 42, 7, 500), day, zone), {
    ms: 38527500,
    rehearsal: false,
    before: false,
  });
  assert.deepEqual(timeOfDay(Date.UTC(2027, 4, 21, 1, 10), day, zone), {
    ms: 90600000,
    rehearsal: false,
    before: false,
  });
});

test('on another day it is the time of day of today, a rehearsal', () => {
  assert.deepEqual(timeOfDay(Date.UTC(2027, 4, 22, 0, 0), '2027-05-20', 'Atlantic/Azores'), {
    ms: 0,
    rehearsal: true,
    before: false,
  });
  assert.deepEqual(timeOfDay(Date.UTC(2027, 4, 19, 23, 59), '2027-05-20', 'Atlantic/Azores'), {
    ms: 86340000,
    rehearsal: true,
    before: true,
  });
});

test('clocks that were put forward in the night show the time on the wall', () => {
  // Berlin, 28 March 2027: two o'clock became three.
  const at = Date.UTC(2027, 2, 28, 8, 42);
  assert.deepEqual(timeOfDay(at, '2027-03-28', 'Europe/Berlin'), {
    ms: 38520000,
    rehearsal: false,
    before: false,
  });
  assert.equal(zoneOffset(Date.UTC(2027, 2, 28, 0, 59), 'Europe/Berlin'), 3600000);
  assert.equal(zoneOffset(Date.UTC(2027, 2, 28, 1, 1), 'Europe/Berlin'), 7200000);
});

test('instants carry the offset of their zone', () => {
  const at = Date.UTC(2027, 4, 20, 10, 42, 7, 123);
  assert.equal(instantText(at, 'Europe/Berlin'), '2027-05-20T12:42:07.123+02:00');
  assert.equal(instantText(at, 'America/St_Johns'), '2027-05-20T08:12:07.123-02:30');
  assert.equal(instantText(at + 0.9, 'UTC'), '2027-05-20T10:42:07.123+00:00');
});

test('a time typed after midnight is the one nearer to now', () => {
  const now = parseTimeOfDay('25:12').ms;
  assert.equal(nearerToNow(parseTimeOfDay('0110'), now).text, '25:10');
  assert.equal(nearerToNow(parseTimeOfDay('2355'), now).text, '23:55');
  assert.equal(nearerToNow(parseTimeOfDay('2510'), now).text, '25:10');
  assert.equal(nearerToNow(parseTimeOfDay('104207'), parseTimeOfDay('10:45').ms).text, '10:42:07');
});

test('an instant of a day’s time, hours past midnight and summer time included', () => {
  assert.equal(
    instantOf('2027-05-20', 38527500, 'Atlantic/Azores'),
    Date.UTC(2027, 4, 20, 10, 42, 7, 500),
  );
  assert.equal(instantOf('2027-05-20', 25 * 3600000, 'Atlantic/Azores'), Date.UTC(2027, 4, 21, 1));
  assert.equal(instantOf('2027-03-28', 10 * 3600000, 'Europe/Berlin'), Date.UTC(2027, 2, 28, 8));
});

test('the time on a watch is that of the day which the machine believes', () => {
  const watch = (hour, now) =>
    instantOnWatch(hour * 3600000, {
      now,
      known: null,
      date: '2027-05-20',
      zone: 'Atlantic/Azores',
    });
  assert.equal(watch(10, Date.UTC(2027, 4, 20, 9)), Date.UTC(2027, 4, 20, 10));
  assert.equal(watch(23, Date.UTC(2027, 4, 21, 1)), Date.UTC(2027, 4, 20, 23));
  assert.equal(watch(1, Date.UTC(2027, 4, 20, 23)), Date.UTC(2027, 4, 21, 1));
  assert.equal(watch(10, Date.UTC(2027, 4, 18, 9)), Date.UTC(2027, 4, 18, 10));
  assert.equal(watch(25, Date.UTC(2027, 4, 20, 23)), Date.UTC(2027, 4, 21, 1));
});

test('and of the point’s day where the machine’s date is wrong, but never of the past', () => {
  const watch = (hour, known) =>
    instantOnWatch(hour * 3600000, {
      now: Date.UTC(2020, 0, 1),
      known,
      date: '2027-05-20',
      zone: 'Atlantic/Azores',
    });
  assert.equal(watch(10, Date.UTC(2027, 4, 18, 21)), Date.UTC(2027, 4, 20, 10));
  assert.equal(watch(10, Date.UTC(2027, 4, 20, 9)), Date.UTC(2027, 4, 20, 10));
  assert.equal(watch(0.75, Date.UTC(2027, 4, 20, 21)), Date.UTC(2027, 4, 21, 0, 45));
  assert.equal(watch(10, Date.UTC(2027, 4, 21, 20)), Date.UTC(2027, 4, 22, 10));
});
