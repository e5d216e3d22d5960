// SPDX-License-Identifier: MIT
// event.json as an object whose values are reached by paths such as route[3].speeds[0].speed, and
// written out again for people.

/** The keys and places of a path, in order. */
export const stepsOf = (path) =>
  [...path.matchAll(/([^.[\]]+)/g)].map(([step]) =>
    /^\d+$/.test(step) && path.includes(`[${step}]`) ? Number(step) : step,
  );

/** The value at a path; undefined where there is none. */
export function valueAt(root, path) {
  return stepsOf(path).reduce(
    (at, step) => (at === undefined || at === null ? undefined : at[step]),
    root,
  );
}

/** Sets the value at a path, and makes what it stands in; undefined takes it away, and with it what
 * it leaves empty: an empty object is no rule. */
export function setAt(root, path, value) {
  const steps = stepsOf(path);
  const last = steps.pop();
  const above = [];
  let at = root;
  for (const [i, step] of steps.entries()) {
    above.push([at, step]);
    if (at[step] === undefined || at[step] === null || typeof at[step] !== 'object') {
      if (value === undefined) return;
      at[step] = typeof (steps[i + 1] ?? last) === 'number' ? [] : {};
    }
    at = at[step];
  }
  if (value !== undefined) {
    at[last] = value;
    return;
  }
  delete at[last];
  for (const [owner, step] of above.reverse()) {
    const inner = owner[step];
    if (Array.isArray(inner) || Array.isArray(owner) || Object.keys(inner).length > 0) return;
    delete owner[step];
  }
}

const WIDTH = 140;

const flat = (value) =>
  Array.isArray(value)
    ? `[${value.map(flat).join(', ')}]`
    : value !== null && typeof value === 'object'
      ? `{${Object.entries(value)
          .map(([key, one]) => `${JSON.stringify(key)}: ${flat(one)}`)
          .join(', ')}}`
      : JSON.stringify(value);

function laidOut(value, depth, used) {
  const line = flat(value);
  if (value === null || typeof value !== 'object' || (depth > 0 && used + line.length <= WIDTH))
    return line;
  const inner = '\n' + '  '.repeat(depth + 1);
  const parts = Array.isArray(value)
    ? value.map((one) => laidOut(one, depth + 1, inner.length))
    : Object.entries(value).map(([key, one]) => {
        const name = JSON.stringify(key) + ': ';
        return name + laidOut(one, depth + 1, inner.length + name.length);
      });
  if (!parts.length) return line;
  const [open, close] = Array.isArray(value) ? '[]' : '{}';
  return open + inner + parts.join(',' + inner) + '\n' + '  '.repeat(depth) + close;
}

/** The text of event.json: what fits stands on one line. */
export const tidy = (root) => laidOut(root, 0, 0) + '\n';

/** Where two documents differ: [{path, before, after}], undefined where it is not there. */
export function differences(before, after, path = '') {
  if (JSON.stringify(before) === JSON.stringify(after)) return [];
  const both =
    before !== null &&
    after !== null &&
    typeof before === 'object' &&
    typeof after === 'object' &&
    Array.isArray(before) === Array.isArray(after);
  if (!both) return [{ path, before, after }];
  const keys = Array.isArray(before)
    ? [...Array(Math.max(before.length, after.length)).keys()]
    : [...new Set([...Object.keys(before), ...Object.keys(after)])];
  return keys.flatMap((key) =>
    differences(
      before[key],
      after[key],
      typeof key === 'number' ? `${path}[${key}]` : path ? `${path}.${key}` : key,
    ),
  );
}
