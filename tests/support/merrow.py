# SPDX-License-Identifier: MIT
"""The demo event as it is driven under start lists that an office makes: the same facts in the
order in which they were made, each car's day moved to the start that it was given."""

import copy
import csv
import json
import os
import re
import sys
from datetime import datetime

from tests.support import cairn as program, serving

DEMO = os.path.join(program.ROOT, "seed-demo", "merrow-2027")
MINUTE = 60_000
FIRST, TWIN = "87", "173"  # sister cars, which do everything alike


def clock(text):
    """Milliseconds since midnight."""
    hours, minutes, seconds = re.fullmatch(r"(\d+):(\d\d)(?::([\d.]+))?", text).groups("0")
    return (int(hours) * 60 + int(minutes)) * MINUTE + round(float(seconds) * 1000)


def clock_text(ms):
    text = f"{ms // 3_600_000:02}:{ms // MINUTE % 60:02}:{ms // 1000 % 60:02}"
    return f"{text}.{ms % 1000:03}" if ms % 1000 else text


def rows_of(name):
    with open(os.path.join(DEMO, name + ".csv"), encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def rules():
    with open(os.path.join(DEMO, "event.json"), encoding="utf-8") as file:
        return {**json.load(file), "slug": serving.SLUG}


def entries(rows):
    return "".join(",".join('"' + row[name].replace('"', '""') + '"' for name in rows[0]) + "\n"
                   for row in [dict(zip(rows[0], rows[0])), *rows])


def entry_rows():
    """The demo's cars and the twin."""
    rows = rows_of("entries")
    [first] = [row for row in rows if row["number"] == FIRST]
    return rows + [{**first, "number": TWIN, "driver": "Isolde Marran", "navigator": "Piers Marran"}]


class Drive:
    """What cars and organisers did, day by day."""

    def __init__(self):
        event = rules()
        self.day_of = {item["id"]: item["day"] for item in event["route"]}
        self.route = [item["id"] for item in event["route"]]
        self.planned = self._planned(event)
        self.readings = self._with_twin([row for row in {tuple(row.items()): row
                                                         for row in rows_of("readings")}.values()])
        self.decisions = rows_of("decisions")

    @staticmethod
    def _planned(event):
        """(day, car) to the start that the demo's readings were made for."""
        first = clock(event["days"][0]["first_start"])
        starts = {(1, row["number"]): first + (int(row["number"]) - 1) * MINUTE
                  for row in rows_of("entries")}
        starts.update({(int(row["day"]), row["car"]): clock(row["time"])
                       for row in rows_of("starts")})
        starts.update({(day, TWIN): at for (day, car), at in starts.items() if car == FIRST})
        return starts

    @staticmethod
    def _with_twin(rows):
        def twin(row):
            new = {**row, "car": TWIN, "id": row["id"] + "-twin"}
            return {**new, "replaces": row["replaces"] + "-twin"} if row["replaces"] else new
        return rows + [twin(row) for row in rows if row["car"] == FIRST]

    def day(self, row):
        return self.day_of[row["point"].split("/")[0]]

    def facts(self, day):
        """The readings and decisions of a day in the order in which they were made, as (name, row);
        decisions before the first start come first, those behind the last day's end last."""
        found = [(datetime.fromisoformat(row["at"]), "readings", row)
                 for row in self.readings if self.day(row) == day]
        found += [(datetime.fromisoformat(row["at"]), "decisions", row) for row in self.decisions
                  if datetime.fromisoformat(row["at"]).day == 19 + day]
        return [(name, row) for _, name, row in sorted(found, key=lambda fact: fact[0])]

    def moved(self, row, starts):
        """A reading as it is made under these starts: (day, car) to milliseconds."""
        key = self.day(row), row["car"]
        if not row["time"] or key not in starts or key not in self.planned:
            return row
        return {**row, "time": clock_text(clock(row["time"]) + starts[key] - self.planned[key])}


def blank():
    """The smallest event possible: one item of each kind that the keys of Server name, and one
    car. The office puts in everything else."""
    event = copy.deepcopy(serving.EVENT)
    event.update(name="Blank", awards=[], days=event["days"][:1],
                 route=[item for item in event["route"] if item["id"] in ("TC1", "R1", "S1")])
    del event["classes"]["categories"], event["classes"]["groups"]
    return {"event": event, "entries": "number,driver,navigator,make,model,year\n1,A. B,,C,D,1950\n",
            "readings": "point,car\n", "decisions": "kind,car,point,value,reason\n"}


def main(what, *more):
    """For tests in other languages: `blank FOLDER` writes the blank event; `rules` and `entries`
    print what the office puts; `facts DAY`, with each car's start on standard input as a JSON
    object, prints the facts of a day, [["readings" or "decisions", row], ...]."""
    if what == "blank":
        serving.write_folder(*more, **blank())
    elif what == "rules":
        print(json.dumps(rules(), ensure_ascii=False))
    elif what == "entries":
        print(entries(entry_rows()), end="")
    elif what == "facts":
        day, drive = int(*more), Drive()
        starts = {(day, car): clock(time) for car, time in json.load(sys.stdin).items()}
        facts = [[name, drive.moved(row, starts) if name == "readings" else row]
                 for name, row in drive.facts(day)]
        print(json.dumps([[name, {key: value for key, value in row.items() if value}]
                          for name, row in facts], ensure_ascii=False))
    else:
        sys.exit(f"merrow.py: {what}?")


if __name__ == "__main__":
    main(*sys.argv[1:])
