# SPDX-License-Identifier: MIT
"""Writes the demo event, Round Merrow 2027, into merrow-2027/ beside this file, or into a folder given.

    seed-demo/generate.py [FOLDER]

The same bytes come out every time and on every Python from 3.8 on: all chance is drawn from dice.py.
"""

import csv
import io
import pathlib
import sys

sys.dont_write_bytecode = True

import crews  # noqa: E402
import desks  # noqa: E402
import drive  # noqa: E402
import route  # noqa: E402

FOLDER = (pathlib.Path(sys.argv[1]) if len(sys.argv) > 1
          else pathlib.Path(__file__).resolve().parent / "merrow-2027")


def write_csv(name, columns, rows):
    """One CSV file with LF line ends."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([row[c] for c in columns] for row in rows)
    (FOLDER / name).write_bytes(text.getvalue().encode("utf-8"))


def run():
    """Drives the event: the cars, the field after four days, the rows of readings.csv and decisions.csv."""
    cars = crews.entries()
    field = drive.Field(cars)
    for day in range(1, 5):
        field.run_day(day, field.order(day))
    desks.errors(field.readings)
    desks.number(field.readings)
    return cars, field, desks.decisions(field.readings)


def main():
    cars, field, rulings = run()
    FOLDER.mkdir(exist_ok=True)
    (FOLDER / "event.json").write_bytes(route.event_json().encode("utf-8"))
    write_csv("entries.csv", ["number", "driver", "navigator", "make", "model", "year", "engine_cc", "supercharged",
                              "category", "team", "country", "club"], cars)
    write_csv("starts.csv", ["day", "car", "time"],
              [{"day": d, "car": c, "time": drive.clock_text(t)[:5]} for d, c, t in field.starts])
    write_csv("readings.csv", ["point", "car", "time", "elapsed", "faults", "id", "at", "by", "replaces", "void",
                               "reason"],
              [{**r, "at": desks.stamp(r["at"]), "replaces": r["replaces"]["id"] if r["replaces"] else ""}
               for r in field.readings])
    write_csv("decisions.csv", ["id", "kind", "car", "point", "value", "reason", "at", "by"],
              [{**r, "at": desks.stamp(r["at"])} for r in rulings])


if __name__ == "__main__":
    main()
