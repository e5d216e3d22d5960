// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import test from 'node:test';

import { readNmea } from '../../../web/desk/nmea.js';

/** A sentence with the sum that belongs to it. */
function summed(body) {
  const sum = [...body].reduce((all, c) => all ^ c.charCodeAt(0), 0);
  return `$${body}*${sum.toString(16).toUpperCase().padStart(2, '0')}`;
}

test('published sentences are read', () => {
  // Printed in receivers' manuals and descriptions of NMEA 0183; from memory, and their sums hold.
  assert.deepEqual(
    readNmea('$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A'),
    { ms: Date.UTC(1994, 2, 23, 12, 35, 19), fix: 'good' },
  );
  assert.deepEqual(readNmea('$GPZDA,201530.00,04,07,2002,00,00*60'), {
    ms: Date.UTC(2002, 6, 4, 20, 15, 30),
    fix: 'untold',
  });
});

test('talker, line end and decimals do not matter', () => {
  const ms = Date.UTC(2002, 6, 4, 20, 15, 30);
  assert.equal(readNmea(summed('GNZDA,201530.1299,04,07,2002,00,00') + '\r\n').ms, ms + 129);
  assert.equal(readNmea(summed('GLZDA,201530,4,7,2002,,')).ms, ms);
});

test('a receiver without satellites says so', () => {
  assert.equal(readNmea(summed('GPRMC,123519,V,,,,,,,230394,,')).fix, 'none');
  assert.equal(readNmea(summed('GPRMC,,V,,,,,,,,,')), null);
  assert.equal(readNmea(summed('GPZDA,,,,,,')), null);
});

test('what is no such sentence is passed over', () => {
  for (const line of [
    '$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47',
    '$GPZDA,201531.00,04,07,2002,00,00*60',
    '$GPZDA,201530.00,04,07,2002,00,00',
    'GPZDA,201530.00,04,07,2002,00,00*60',
    '$*00',
    '',
    '$'.repeat(400),
    summed('GPZDA,235960.00,31,12,2016,00,00'),
    summed('GPZDA,240000.00,31,12,2016,00,00'),
    summed('GPZDA,120000.00,30,02,2016,00,00'),
    summed('GPZDA,120000.00,01,01,0016,00,00'),
    summed('GPZDA,12:00:0,01,01,2016,00,00'),
    summed('GPconstructor,1'),
  ]) {
    assert.equal(readNmea(line), null, line);
  }
});
