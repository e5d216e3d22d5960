# SPDX-License-Identifier: MIT
"""Small events, written out and scored by the oracle: what its tests stand on."""
import json
import tempfile
import unittest
from pathlib import Path

import facts
import oracle

ENTRIES = "number,driver,navigator,make,model,year,engine_cc,supercharged,category,team,club,groups,coefficient,born\n"
CAR_1 = "1,A. Thorne,M. Vale,Calder,Six,1934,1500,no,,Terns\n"
CAR_2 = "2,B. Reed,N. Holm,Calder,Eight,1955,1600,yes,,Terns\n"
CAR_3 = "3,C. Wick,O. Marsh,Calder,Four,1955,,no,,\n"

CONTROL = {"day": 1, "id": "TC1", "kind": "time-control", "name": "Saltmill", "target": "02:42:00"}
MINUTES = {"precision": "minute", "early": 60, "late": 10, "missed": 900}


class Scored(unittest.TestCase):
    """Writes small folders and scores them."""

    def score(self, route, readings="", decisions="", entries=CAR_1, starts="", days=1, classes=None, scoring=None,
              order="number", first_start="08:00", unit="km", **view):
        event = {"name": "Trial", "slug": "trial", "timezone": "UTC", "unit": unit,
                 "days": [{"date": f"2027-05-{20 + day}", "first_start": first_start, "interval": "00:01:00",
                           "order": order} for day in range(days)],
                 "classes": classes or {"scheme": "fiva"}, "scoring": scoring or {}, "route": route}
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            (folder / "event.json").write_text(json.dumps(event), encoding="utf-8")
            (folder / "entries.csv").write_text(ENTRIES + entries, encoding="utf-8")
            if starts:
                (folder / "starts.csv").write_text("day,car,time\n" + starts, encoding="utf-8")
            (folder / "readings.csv").write_text(
                "point,car,time,elapsed,faults,id,at,replaces,void,reason\n" + readings, encoding="utf-8")
            (folder / "decisions.csv").write_text(
                "kind,car,point,value,reason,id,at\n" + decisions, encoding="utf-8")
            return oracle.score(facts.load(folder), **view)

    def point(self, name, *given, card=1, **keys):
        shape = self.score(*given, card=card, **keys)
        return next(point for point in shape["points"] if point["point"] == name)

    def row(self, *given, card=1, **keys):
        return self.score(*given, card=card, **keys)

    def assert_point(self, point, **expected):
        self.assertEqual({key: point[key] for key in expected}, expected)
