# SPDX-License-Identifier: MIT
"""Sums up what lcov traced, a folder a line, with its aim, and names the files with most left.

    python3 tests/harness/coverage.py TRACE FOLDER:PERCENT…

Ends with 1 where a folder is below its aim, or the trace holds nothing of it.
"""

import re
import sys

SHOWN = 12


def lines_of(trace):
    """(lines, lines that ran) by path, of a trace file."""
    found = {}
    path = None
    with open(trace, encoding="utf-8") as file:
        for line in file:
            if line.startswith("SF:"):
                path = line[3:].strip()
            elif line.startswith("DA:"):
                count = int(line[3:].split(",")[1])
                total, ran = found.get(path, (0, 0))
                found[path] = (total + 1, ran + (count > 0))
    return found


def main(trace, aims):
    files = lines_of(trace)
    good = True
    for aim in aims:
        folder, percent = aim.split(":")
        inside = {path: counts for path, counts in files.items()
                  if re.search(rf"(^|/){re.escape(folder)}/[^/]+$", path)}
        total = sum(lines for lines, _ in inside.values())
        ran = sum(lines for _, lines in inside.values())
        share = 100 * ran / total if total else 0
        met = total > 0 and share >= float(percent)
        good = good and met
        print(f"{folder}/: {share:.1f} % of {total} lines, aim {percent} %{'' if met else ' (missed)'}")
        left = sorted(inside.items(), key=lambda item: item[1][1] - item[1][0])[:SHOWN]
        for path, (lines, seen) in left:
            if lines > seen:
                print(f"  {lines - seen:5d} of {lines:5d} lines never ran: {path.rsplit('/', 1)[-1]}")
    return 0 if good else 1


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1], sys.argv[2:]))
