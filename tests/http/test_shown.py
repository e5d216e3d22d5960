# SPDX-License-Identifier: MIT
"""An event that shows penalties as time: on every page and paper and in CSV; JSON has points."""

import copy
import re
import subprocess
import unittest

from tests.support import board
from tests.support.serving import API, EVENT, SLUG, ServedTest


def as_time(penalty):
    """A penalty of the API as people are shown it."""
    sign, ms = "-" * penalty.startswith("-"), abs(round(float(penalty) * 1000))
    seconds, part = divmod(ms, 1000)
    minutes, seconds = divmod(seconds, 60)
    decimals = f".{part:03d}".rstrip("0") if part else ""
    return f"{sign}{minutes // 60}:{minutes % 60:02d}:{seconds:02d}{decimals}"


def timed():
    event = copy.deepcopy(EVENT)
    event["scoring"]["shown"] = "time"
    event["scoring"]["defaults"]["passage-control"] = {"missed": {"fails": 1}}
    test, = [item for item in event["route"] if item["kind"] == "special-test"]
    test.update(attempts=2, penalty={**test.get("penalty", {}),
                                     "late": [{"to": "10", "rate": 2}, {"rate": 3}]})
    return event


class ShownTest(ServedTest):
    files = {"event": timed()}

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.server.post("decisions", [{"kind": "close", "point": f"day:{day}", "reason": "all are in"}
                                      for day in (1, 2)])

    def rows(self, query=""):
        return self.server.get(f"{API}/standings?{query}").json()

    def text(self, path):
        answer = self.server.get(path)
        self.assertEqual(answer.status, 200, path)
        return answer.text

    def paper(self, path, key=None):
        data = self.server.get(f"{API}/paper/{path}", key).body
        done = subprocess.run(["pdftotext", "-layout", "-", "-"], input=data, check=True,
                              stdout=subprocess.PIPE, timeout=60)
        return " ".join(done.stdout.decode("utf-8").split())

    def test_json_has_points(self):
        rows = self.rows()["standings"]
        self.assertTrue(all(re.fullmatch(r"-?\d+\.\d{3}", row["penalty"]) for row in rows))
        self.assertGreater(len({row["fails"] for row in rows}), 1)
        self.assertEqual(self.server.get(API).json()["shown"], "time")
        figures = self.server.get(f"{API}/board?view=live").json()
        self.assertEqual(figures["penalty"], [row["penalty"] for row in rows])

    def test_the_board_has_times_with_fails_in_words(self):
        rows = self.rows()["standings"]
        table, = [table for table in board.tables(self.text(f"/{SLUG}/?view=live"), "board")]
        self.assertEqual(table.column("Penalty"), [as_time(row["penalty"]) for row in rows])
        for row, gap, note in zip(rows, table.column("To leader"), table.column("Note"),
                                  strict=True):
            fails = row["fails"] - rows[0]["fails"]
            words = f"{fails} fail" + "s" * (fails != 1)
            self.assertEqual(gap, words if fails else as_time(row["behind_leader"]))
            if row["fails"]:
                self.assertIn(f"{row['fails']} fail", note)
        self.assertIn(' data-time=""', self.text(f"/{SLUG}/"))

    def test_other_pages_have_times(self):
        first, second = self.rows()["standings"][:2]
        card = self.text(f"/{SLUG}/cars/{second['car']}")
        self.assertIn(as_time(second["penalty"]), card)
        self.assertNotIn(second["penalty"], card)
        test = self.server.get(f"{API}/tests/S1").json()["groups"][0]["standings"][0]
        self.assertIn(as_time(test["penalty"]), self.text(f"/{SLUG}/tests/S1"))
        both = self.text(f"/{SLUG}/compare?cars={first['car']},{second['car']}")
        self.assertIn(as_time(first["penalty"]), both)
        for path in (f"cars/{first['car']}", "tests/S1", "screen", "?by=team", "?by=day",
                     f"compare?cars={first['car']},{second['car']}"):
            cells = [cell for table in board.tables(self.text(f"/{SLUG}/{path}"))
                     for row in table.rows for cell in row]
            self.assertFalse([cell for cell in cells if re.fullmatch(r"[+−-]?\d+\.\d{3}", cell)],
                             path)

    def test_how_a_test_is_scored_has_times_for_prices_alone(self):
        page = self.text(f"/{SLUG}/tests/S1")
        self.assertIn("2 attempts; the best one counts.", page)
        self.assertIn("costs 0:00:02 up to 10 s, then 0:00:03.", page)
        self.assertIn("A missed point costs 0:", page)

    def test_csv_has_times(self):
        rows = self.rows()["standings"]
        for path in ("standings?format=csv", f"cars/{rows[0]['car']}?format=csv",
                     "standings?by=team&format=csv", "tests/S1?format=csv"):
            text = self.text(f"{API}/{path}")
            self.assertRegex(text, r",\d+:\d\d:\d\d", path)
            self.assertNotRegex(text, r",-?\d+\.\d{3},", path)

    def test_papers_have_times_with_fails_beside_them(self):
        rows = self.rows()["standings"]
        failed = next(row for row in rows if row["fails"] == 1)
        for path, key in (("standings", None), (f"cars/{failed['car']}", None),
                          ("prizes", self.server.organiser)):
            text = self.paper(path, key)
            self.assertRegex(text, r"\d:\d\d:\d\d", path)
            self.assertNotRegex(text, r" \d+\.\d{3}\b", path)
        self.assertIn(f"{as_time(failed['penalty'])}, 1 fail", self.paper("standings"))

    def test_a_classification_has_times_on_its_paper_and_points_in_what_is_sealed(self):
        answer = self.server.post("notices", {"kind": "provisional", "title": "Day 1"})
        self.assertEqual(answer.status, 200, str(answer))
        number = answer.json()["number"]
        sealed = self.server.get(f"{API}/notices/{number}").json()["content"]
        for row in sealed["overall"]["standings"]:
            self.assertRegex(row["penalty"], r"^-?\d+\.\d{3}$")
            self.assertIn(as_time(row["penalty"]), self.paper(f"notices/{number}"))


if __name__ == "__main__":
    unittest.main()
