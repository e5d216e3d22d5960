// SPDX-License-Identifier: MIT
// The answers that there are to a doubt, and what each would send: readings that withdraw or correct,
// or a decision. Knows no page.

export const valueOf = (reading) =>
  [reading.time || reading.elapsed || 'seen', reading.faults].filter(Boolean).join(', ');

/** Readings of a point that the doubt only counts: a device gone wild made them. */
export const hiddenOf = (doubt) => doubt.readings_count - doubt.readings.length;

/** More than these are not withdrawn from here: they would not go into one body. */
export const MOST_WITHDRAWN = 4000;

/** A reading that is of no car of the list: it stands aside. */
export const isWithoutCar = ({ kind }) => kind === 'unknown-car' || kind === 'no-car';

/** Those to a reading without a car of the list: give it to one, or withdraw it. */
function answersWithoutCar(doubt, controls) {
  const [{ id, time, elapsed, faults }] = doubt.readings;
  return [
    {
      words: doubt.kind === 'no-car' ? 'It was car number' : 'It was another car',
      control: controls.car,
      readings: () => [
        { point: doubt.point, car: controls.car.value.trim(), time, elapsed, faults, replaces: id },
      ],
    },
    {
      words: 'Nothing of it is right: it is withdrawn',
      // It may have no number, or none of the list: that is taken from a desk, and this is one.
      readings: () => [{ point: doubt.point, desk: 'office', replaces: id, void: true }],
    },
  ];
}

/**
 * The answers to a doubt: {words, control, beside, readings or decisions: () → rows}.
 *   controls  {car, time, faults, points}: fields, each belonging to one answer; the faults stand
 *             beside the time
 *   passage   whether the point is a passage control
 *   all       () → the readings that the answers rest on
 */
export function answersTo(doubt, controls, passage, all) {
  if (isWithoutCar(doubt)) return answersWithoutCar(doubt, controls);
  const withdraw = (reading) => ({
    point: doubt.point,
    car: doubt.car,
    replaces: reading.id,
    void: true,
  });
  const alone = doubt.readings_count === 1;
  const many = doubt.readings_count > MOST_WITHDRAWN;
  const list =
    many || (alone && doubt.readings.length)
      ? []
      : doubt.readings.map((reading) => ({
          words: `${valueOf(reading)} holds (${reading.by || 'nobody named'}); the others are withdrawn`,
          readings: () =>
            all()
              .filter((other) => other.id !== reading.id)
              .map(withdraw),
        }));
  if (doubt.readings.length && !many)
    list.push({
      words: 'Nothing of it is right: all are withdrawn',
      readings: () => all().map(withdraw),
    });
  if (doubt.readings.length) {
    list.push({
      words: 'It was another car',
      control: controls.car,
      readings: () => {
        const counted = doubt.readings.find((one) => one.counts) || doubt.readings[0];
        const { time, elapsed, faults } = counted;
        return [
          {
            point: doubt.point,
            car: controls.car.value.trim(),
            time,
            elapsed,
            faults,
            replaces: counted.id,
          },
        ];
      },
    });
  }
  if (passage && !doubt.readings.length)
    list.push({ words: 'It was here', readings: () => [{ point: doubt.point, car: doubt.car }] });
  if (!many)
    list.push({
      words: 'It was here at this time',
      control: controls.time,
      beside: controls.faults,
      readings: () => {
        const [first, ...others] = all();
        return [
          {
            point: doubt.point,
            car: doubt.car,
            time: controls.time.value.trim(),
            faults: controls.faults.value.trim(),
            ...(first ? { replaces: first.id } : {}),
          },
          ...others.map(withdraw),
        ];
      },
    });
  list.push({
    words: 'It costs this car nothing',
    decisions: () => [{ kind: 'waive', car: doubt.car, point: doubt.point }],
  });
  list.push({
    words: 'It costs this car so many points',
    control: controls.points,
    decisions: () => [
      { kind: 'notional', car: doubt.car, point: doubt.point, value: controls.points.value.trim() },
    ],
  });
  return list;
}

/** The rows of an answer, each as `stamp` completes it, without what was left empty. */
export function rowsOf(answer, stamp) {
  const given = (row) =>
    Object.fromEntries(
      Object.entries(stamp(row)).filter(([, value]) => value !== undefined && value !== ''),
    );
  return {
    readings: (answer.readings ? answer.readings() : []).map(given),
    decisions: (answer.decisions ? answer.decisions() : []).map(given),
  };
}
