# SPDX-License-Identifier: MIT
"""Reads CSV texts with Python's csv module, for tests/reference/csv_python.c.

    python3 csv_rows.py IN OUT

IN is a JSON list of {"text", "separator"}. OUT gets a JSON list of {"rows", "bad"}: the rows
before the first that strict reading refuses, blank lines left out, and whether there was one.
"""

import csv
import io
import json
import sys


def read_rows(text, separator):
    """(rows, whether a row was refused)."""
    rows = []
    # newline="" leaves line ends to the csv module, as its documentation asks.
    lines = io.StringIO(text.removeprefix("\ufeff"), newline="")
    try:
        for row in csv.reader(lines, delimiter=separator, strict=True):
            if row:
                rows.append(row)
    except csv.Error:
        return rows, True
    return rows, False


def main(arguments):
    source, target = arguments
    with open(source, encoding="utf-8") as file:
        texts = json.load(file)
    answers = []
    for entry in texts:
        rows, bad = read_rows(entry["text"], entry["separator"])
        answers.append({"rows": rows, "bad": bad})
    with open(target, "w", encoding="utf-8") as file:
        json.dump(answers, file)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
