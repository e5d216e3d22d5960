// SPDX-License-Identifier: MIT
// A station is what the switcher offers: a point, or all laps of a consistency test together, where
// a car's readings go from one point to the next by themselves.

/** points: as the server lists them. Returns [{id, name, day, points, laps, precision, …}]. */
export function stationsOf(points) {
  const stations = [];
  for (const point of points) {
    const lap = point.kind === 'consistency' && ['start', 'lap'].includes(point.part);
    const before = stations.at(-1);
    if (lap && before && before.laps && before.item === point.item) {
      before.points.push(point.id);
      continue;
    }
    stations.push({ ...point, id: lap ? point.item : point.id, laps: lap, points: [point.id] });
  }
  // A lap alone is a point like any other.
  return stations.map((p) =>
    p.laps && p.points.length === 1 ? { ...p, id: p.points[0], laps: false } : p,
  );
}

/** The point at which the car's next reading belongs, and which of how many laps that is. */
export function nextPoint(station, holding, car) {
  const read = new Set(holding.filter((r) => r.car === car).map((r) => r.point));
  const at = station.points.findIndex((id) => !read.has(id));
  const index = at < 0 ? station.points.length - 1 : at;
  return { point: station.points[index], index, of: station.points.length - 1, done: at < 0 };
}

/** Points at which a time counts from the car's start of the same test. */
const FROM_START = ['pad', 'lap', 'finish'];

/** The ids of those of the points at which a car starts into the test of this one, if what counts here
 *  is the time since; else none. */
export function startsOf(points, { item, day, part }) {
  if (!FROM_START.includes(part)) return [];
  return points
    .filter((p) => p.item === item && p.day === day && p.part === 'start')
    .map((p) => p.id);
}
