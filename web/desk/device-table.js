// SPDX-License-Identifier: MIT
// The table of a timing device: which column is what, and the readings that its rows hold.

import { parseDuration, parseTimeOfDay } from '../shared/time.js';
import { parseFaults } from './command.js';

// What devices call their columns, in the languages of the desk.
const NAMES = {
  car: /^(car|no\.?|nr\.?|num|number|bib|start ?(no|nr|number)|startnummer|nummer|numéro|n°|numero|voiture|vettura|auto|wagen)$/i,
  time: /^(time|time of day|clock|tod|uhrzeit|zeit|tageszeit|heure|ora|orario)$/i,
  elapsed: /^(elapsed|duration|run ?time|net( time)?|laufzeit|dauer|durée|temps|durata|tempo)$/i,
  point:
    /^(point|control|check|location|punkt|kontrolle|ort|contrôle|lieu|controllo|punto|luogo)$/i,
  faults: /^(faults?|penalt(y|ies)|fehler|fautes?|errori|penalità)$/i,
};
export const COLUMNS = ['car', 'time', 'elapsed', 'point', 'faults'];

/** Which column is what, guessed: {header: is the first row names, columns: {car: 0, time: 2}}. */
export function guessColumns(rows) {
  const columns = {};
  const names = rows[0] || [];
  for (const what of COLUMNS) {
    const at = names.findIndex((name) => NAMES[what].test(name));
    if (at >= 0) columns[what] = at;
  }
  if (Object.keys(columns).length > 0) return { header: true, columns };
  const header = names.length > 0 && !names.some((cell) => /\d/.test(cell));
  const sample = rows[header ? 1 : 0] || [];
  // Without names: the first whole number is the car, the first with a colon the time.
  const car = sample.findIndex((cell) => /^\d{1,4}$/.test(cell));
  const time = sample.findIndex((cell) => /[:]/.test(cell) && parseTimeOfDay(cell));
  if (car >= 0) columns.car = car;
  if (time >= 0) columns.time = time;
  else {
    const elapsed = sample.findIndex((cell, at) => at !== car && parseDuration(cell));
    if (elapsed >= 0) columns.elapsed = elapsed;
  }
  return { header, columns };
}

/**
 * The readings that a table holds.
 *   rows, header, columns  as above
 *   points  those of the desk;  point  the one for rows that name none
 * Returns [{line, reading or null, wrong: word of what cannot be read}].
 */
export function readRows(rows, { header, columns, points, point }) {
  const known = new Map(points.map((p) => [p.id, p]));
  return rows.slice(header ? 1 : 0).map((row) => {
    const cell = (what) => (columns[what] === undefined ? '' : row[columns[what]] || '');
    const wrong = (word) => ({ line: row.line, reading: null, wrong: word, cells: row });
    const at = known.get(cell('point') || point);
    if (!at) return wrong('point');
    if (!/^0*[1-9]\d{0,3}$/.test(cell('car'))) return wrong('car');
    const reading = { point: at.id, car: Number(cell('car')) };
    if (cell('time') && at.takes.includes('time')) {
      const time = parseTimeOfDay(cell('time'));
      if (!time) return wrong('time');
      reading.time = time.text;
    } else if (cell('elapsed') && at.takes.includes('elapsed')) {
      const elapsed = parseDuration(cell('elapsed'));
      if (!elapsed) return wrong('elapsed');
      reading.elapsed = elapsed.text;
    } else if (!at.takes.includes('sighting')) {
      return wrong('nothing');
    }
    if (cell('faults')) {
      const counts = parseFaults(cell('faults'));
      if (!counts || Object.keys(counts).some((f) => !at.faults.includes(f)))
        return wrong('faults');
      reading.faults = cell('faults');
    }
    return { line: row.line, reading, wrong: '' };
  });
}
