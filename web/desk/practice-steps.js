// SPDX-License-Identifier: MIT
// A made-up minute at a control, for the evening before: three cars, and what to press for each. It
// knows no store and no server, so that nothing of it can get anywhere.

// What is asked for in turn, and with which car.
const STEPS = [
  { does: 'stamp', car: '7' },
  { does: 'blank' },
  { does: 'give', car: '12' },
  { does: 'stamp', car: '3' },
  { does: 'strike', car: '3' },
];

/** Before anything was pressed. `rows`: {car: '' where it is not known yet, time, struck}. */
export function beginPractice() {
  return { at: 0, asked: false, other: false, rows: [] };
}

/** What is to be done now: {does, car}; null where all is done. */
export const stepOf = (state) => STEPS[state.at] ?? null;

/** What becomes of the newest row, or one more. */
function rowsAfter({ does, car = '' }, rows, time) {
  if (does === 'stamp' || does === 'blank') return [{ car, time, struck: false }, ...rows];
  const [newest, ...others] = rows;
  return [does === 'give' ? { ...newest, car } : { ...newest, struck: true }, ...others];
}

/**
 * After a press.
 *   does   stamp, blank, give or strike;  typed  what stood in the field;  time  of the press
 * What was not asked for changes nothing but `other`. A strike is asked about once, as at the desk.
 */
export function pressed(state, does, typed, time) {
  const step = stepOf(state);
  if (!step) return state;
  const wanted = step.does === 'stamp' || step.does === 'give' ? step.car : '';
  if (does !== step.does || typed !== wanted) return { ...state, asked: false, other: true };
  if (does === 'strike' && !state.asked) return { ...state, asked: true, other: false };
  return {
    at: state.at + 1,
    asked: false,
    other: false,
    rows: rowsAfter(step, state.rows, time),
  };
}
