# SPDX-License-Identifier: MIT
"""The pages show what the API says, row by row and figure by figure, and stay within their sizes.
"""

import csv
import gzip
import io
import os
import random
import re
import unittest
from datetime import datetime
from decimal import Decimal

from tests.support import board
from tests.support.serving import API, SLUG, ServedTest


def place(row):
    return ("=" if row["equal"] else "") + str(row["position"])


def crew(row):
    return " / ".join(row["crew"]) + f"\n{row['vehicle']}, {row['year']}"


class PagesTest(ServedTest):
    def tables(self, path, name=None):
        answer = self.server.get(path)
        self.assertEqual(answer.status, 200, path)
        return board.tables(answer.text, name)

    def api(self, path):
        return self.server.get(f"{API}/{path}").json()


class OnTheRoadTest(PagesTest):
    files = board.files(datetime.fromisoformat("2027-05-22T10:45:00+00:00"))

    def to_come(self):
        """The tests that are to come for the first car on the road, and for the last, by car."""
        rows = self.api("standings")["standings"]
        through = {row["car"]: [step["of"] for step in self.api(f"cars/{row['car']}")["total"]
                                if step["penalty"] is None] for row in rows}
        first = min(through, key=lambda car: len(through[car]))
        last = max(through, key=lambda car: len(through[car]))
        return through, first, last

    def test_head_to_head_tells_who_is_ahead_where_all_have_come_to(self):
        _, first, last = self.to_come()
        text = self.server.get(f"/{SLUG}/compare?cars={first},{last}").text
        item, ahead, gap, behind = re.search(
            r"Without what came after (\w+): Car (\d+) is ([0-9.]+) ahead of car (\d+)\.",
            text).groups()
        after = self.api(f"standings?after={item}")
        told = {row["car"]: Decimal(row["penalty"])
                for row in after["standings"] + after["pending"]}
        self.assertEqual({int(ahead), int(behind)}, {first, last})
        self.assertEqual(told[int(behind)] - told[int(ahead)], Decimal(gap))
        alike = self.server.get(f"/{SLUG}/compare?cars={first}").text
        self.assertNotIn("Without what came after", alike)

    def test_head_to_head_ends_where_the_cars_have_come_to(self):
        through, first, last = self.to_come()
        ahead = set(through[last]) - set(through[first])
        self.assertTrue(ahead)
        text = self.server.get(f"/{SLUG}/compare?cars={first},{last}").text
        twin, = board.tables(text, "gaps")
        cells = {row[0].split(" ")[0]: row[1:] for row in twin.rows}
        for test in ahead:  # known of one: its cost, no gap, and a dash for the other
            self.assertRegex(cells[test][0], r"^[0-9]+\.[0-9]{3}$")
            self.assertEqual(cells[test][1], "–")
        for test in through[first]:  # known of neither: not there
            self.assertNotIn(test, cells)
        lines = re.findall(r'<path class="line l\d" d="M([^"]+)"', text)
        steps = [len(line.split(" ")) // 2 for line in lines]
        route = self.server.get(API).json()["route"]
        bound = min(n for n, item in enumerate(route) if item["id"] in ahead)
        self.assertEqual(steps[0], steps[1])
        self.assertLessEqual(steps[0], bound)
        self.assertGreater(steps[0], bound - 10)


class BoardTest(PagesTest):
    files = board.files()

    def setUp(self):
        self.steps = {}  # by car: the steps of its total, by what they are of
        self.points = {}  # by car

    def assert_placed(self, table, rows, day=None):
        """A ranking's rows are those of the API, in their order."""
        self.assertEqual(table.column("Place"), [place(row) for row in rows])
        self.assertEqual(table.column("Car"), [str(row["car"]) for row in rows])
        self.assertEqual(table.column("Crew"), [crew(row) for row in rows])
        for head, key in (("Penalty", "penalty"), ("To leader", "behind_leader"),
                          ("To car ahead", "behind_next")):
            if head in table.heads:
                self.assertEqual(table.column(head), [
                    "–" if day and not self.drove(row["car"], day) else row[key] for row in rows],
                    head)

    def assert_others(self, table, rows, test=None, day=None):
        self.assertEqual(table.column("Car"), [str(row["car"]) for row in rows])
        self.assertEqual(table.column("Crew"), [crew(row) for row in rows])
        self.assertEqual(table.column("Penalty"),
                         ["–" if test and not self.was_at(row["car"], test) or
                          day and not self.drove(row["car"], day) else row["penalty"]
                          for row in rows])

    def drove(self, car, day):
        """Whether anything is known of a car's day: some point is neither awaited nor one that it
        missed, being out, at no charge."""
        if car not in self.points:
            self.points[car] = self.api(f"cars/{car}")["points"]
        return any(point["state"] not in ("awaiting", "absent") or point["penalty"] != "0.000"
                   for point in self.points[car] if point["day"] == day)

    def was_at(self, car, test):
        """Whether, by its card, the car has come to that test and was not out at all of it."""
        if car not in self.steps:
            self.steps[car] = {step["of"]: step for step in self.api(f"cars/{car}")["total"]}
        step = self.steps[car][test]
        return step["penalty"] is not None and not step["why"].startswith("absent")

    def assert_group(self, found, group):
        """Removes the group's tables from the front of the list."""
        self.assert_placed(found.pop(0), group["standings"], group.get("day"))
        for key in ("pending", "unplaced"):
            if group.get(key):
                self.assert_others(found.pop(0), group[key], group.get("test"), group.get("day"))

    def test_the_board_stands_after_the_last_test_that_nearly_all_have_done(self):
        text = self.server.get(f"/{SLUG}/").text
        after = re.search(r'data-after="([A-Z0-9]+)"', text).group(1)
        told = self.api(f"standings?after={after}")
        running = [row for row in sum((self.api("standings")[key] for key in
                                       ("standings", "unplaced")), [])
                   if row["status"] in ("running", "finished")]
        through, of = map(int, re.search(r"; (\d+) of (\d+) are through", re.sub("<[^>]*>", "", text)).groups())
        self.assertEqual(of, len(running))
        self.assertGreaterEqual(through * 10, of * 9)
        waiting = {row["car"] for row in told["pending"]} & {row["car"] for row in running}
        self.assertEqual(of - through, len(waiting))
        # The next test that is seen has not been done by so many.
        route = [item["id"] for item in self.server.get(API).json()["route"]
                 if item["kind"] not in ("time-control", "passage-control")]
        following = route[route.index(after) + 1]
        late = self.api(f"standings?after={following}")
        still = {row["car"] for row in late["pending"]} & {row["car"] for row in running}
        self.assertGreater(len(still) * 10, of)

    def test_every_ranking_has_the_rows_of_the_api(self):
        text = self.server.get(f"/{SLUG}/").text
        after = re.search(r'data-after="([A-Z0-9]+)"', text).group(1)
        for by in ("overall", "class", "category", "group", "day", "test"):
            for page, api in ((f"by={by}", f"by={by}" + ("" if by == "test" else f"&after={after}")),
                              (f"by={by}&view=live", f"by={by}"),
                              (f"by={by}&after=R3", f"by={by}&after=R3")):
                with self.subTest(page):
                    found = self.tables(f"/{SLUG}/?{page}")
                    told = self.api(f"standings?{api}")
                    groups = told.get("groups", [told])
                    for group in groups:
                        self.assert_group(found, group)
                    self.assertEqual(found, [])

    def test_a_car_of_several_groups_has_a_row_in_each_and_the_first_is_jumped_to(self):
        tables = self.tables(f"/{SLUG}/?by=group&view=live")
        ids = [row for table in tables for row in table.ids]
        self.assertEqual(len(ids), len(set(ids)))
        groups = self.api("standings?by=group")["groups"]
        members = [[row["car"] for key in ("standings", "unplaced") for row in group[key]]
                   for group in groups]
        self.assertEqual([group["group"] for group in groups], ["even", "early"])
        both = set(members[0]) & set(members[1])
        self.assertGreater(len(both), 5)
        for car in members[0] + members[1]:
            self.assertIn(f"n{car}", ids)
        self.assertEqual({row for row in ids if "-" in row}, {f"n{car}-1" for car in both})

    def test_a_change_in_a_group_is_against_the_same_group(self):
        text = self.server.get(f"/{SLUG}/?by=group").text
        before = re.search(r"lost since ([A-Z0-9]+)\.", text).group(1)
        was = {group["group"]: {row["car"]: row["position"] for row in group["standings"]}
               for group in self.api(f"standings?by=group&after={before}")["groups"]}
        after = re.search(r'data-after="([A-Z0-9]+)"', text).group(1)
        told = self.api(f"standings?by=group&after={after}")["groups"]
        tables = [table for table in self.tables(f"/{SLUG}/?by=group") if "others" not in
                  table.classes and table.rows]
        moved = 0
        for group, table in zip(told, tables, strict=True):
            for row, cells in zip(group["standings"], table.rows, strict=True):
                old = was[group["group"]].get(row["car"])
                change = old - row["position"] if old else 0
                moved += change != 0
                self.assertEqual(cells[1], f"▲{change}" if change > 0 else
                                 f"▼{-change}" if change < 0 else "")
        self.assertGreater(moved, 5)

    def test_places_in_the_era_and_what_is_awaited_are_told(self):
        told = self.api("standings")
        table = self.tables(f"/{SLUG}/?view=live", "board")[0]
        for row, cells in zip(told["standings"], table.rows):
            self.assertEqual(cells[7], f"{row['class']} {row['class_position']}")
            note = cells[8]
            if row["awaiting"]:
                self.assertRegex(note, rf"\b{row['awaiting']} readings? awaited")
            if row["doubtful"]:
                self.assertIn(f"{row['doubtful']} doubtful", note)
            self.assertIn("finished" if row["status"] == "finished" else row["through"], note)

    def test_the_change_is_that_of_the_places_after_the_test_before(self):
        text = self.server.get(f"/{SLUG}/?after=R3").text
        before = re.search(r"places lost since ([A-Z0-9]+)", text).group(1)
        was = {row["car"]: row["position"]
               for row in self.api(f"standings?after={before}")["standings"]}
        for row, cells in zip(self.api("standings?after=R3")["standings"],
                              board.tables(text, "board")[0].rows):
            change = was.get(row["car"], row["position"]) - row["position"]
            told = f"{'▲' if change > 0 else '▼'}{abs(change)}" if change else ""
            self.assertEqual(cells[1], told, row["car"])

    def test_teams_have_the_rows_of_the_api(self):
        told = self.api("standings?by=team")
        found = self.tables(f"/{SLUG}/?by=team&view=live")[0]
        rows = told["standings"] + told["unplaced"]
        self.assertEqual(found.column("Team"), [row["team"] for row in rows])
        self.assertEqual(found.column("Penalty"), [row["penalty"] for row in rows])
        self.assertEqual(found.column("Cars"), [", ".join(map(str, r["cars"])) for r in rows])

    def test_the_figures_are_those_of_the_page(self):
        for query in ("", "?view=live", "?class=D-2", "?after=R3", "?lang=de"):
            with self.subTest(query):
                told = self.server.get(f"{API}/board{query}").json()
                table = self.tables(f"/{SLUG}/{query}", "board")[0]
                self.assertEqual([row[2] for row in table.rows], [str(n) for n in told["car"]])
                sign = "," if "lang=de" in query else "."
                self.assertEqual([row[4] for row in table.rows],
                                 [p.replace(".", sign) for p in told["penalty"]])
                self.assertEqual([row[8] for row in table.rows], told["note"])
                self.assertEqual([row[0].startswith("=") for row in table.rows],
                                 [equal == 1 for equal in told["equal"]])

    def test_every_card_has_the_points_of_the_api(self):
        cars = [row["car"] for key in ("standings", "unplaced")
                for row in self.api("standings")[key]]
        self.assertGreater(len(cars), 150)
        for car in cars:
            told = self.api(f"cars/{car}")
            rows = [row for table in self.tables(f"/{SLUG}/cars/{car}", "card")
                    for row in table.rows]
            self.assertEqual(len(rows), len(told["points"]), car)
            for row, point in zip(rows, told["points"]):
                self.assertEqual(row[0].split(" ")[0], point["point"])
                self.assertEqual(row[1], point["due"] or "")
                self.assertEqual(row[2], point["actual"] or "")
                self.assertEqual(row[3].lstrip("+"), point["deviation"] or "")
                self.assertEqual(row[4], "–" if point["state"] == "awaiting" else point["penalty"])
                self.assertEqual(row[5].split("\n")[0], self.state(point) + point["why"])
            steps = self.tables(f"/{SLUG}/cars/{car}", "steps")[0]
            self.assertEqual(steps.column("Penalty"), [step["penalty"] or "–"
                                                       for step in told["total"]] + [told["penalty"]])

    def test_what_a_car_has_not_come_to_is_to_come(self):
        """On its card, a test that a car has not driven does not look like one without penalty."""
        tests = {item["id"] for item in self.server.get(API).json()["route"]
                 if item["kind"] not in ("time-control", "passage-control")}
        seen = 0
        for row in self.api("standings")["standings"]:
            told = self.api(f"cars/{row['car']}")
            states = {}
            for point in told["points"]:
                states.setdefault(point["point"].split("/")[0], set()).add(point["state"])
            bars = {step["of"]: step["penalty"] for step in told["total"]}
            text = self.server.get(f"/{SLUG}/cars/{row['car']}").text
            twin = board.tables(text, "twin")[0]
            shown = {line[0].split(" ")[0]: line[3] for line in twin.rows}
            drawn = re.findall(r'<text x="0"[^>]*>([A-Z0-9]+)<', text)
            for test in tests & set(states):
                to_come = states[test] == {"awaiting"}
                seen += to_come
                self.assertEqual(bars[test] is None, to_come, (row["car"], test))
                self.assertEqual(shown[test] == "–", to_come, (row["car"], test))
                if drawn:
                    self.assertEqual(test not in drawn, to_come, (row["car"], test))
        self.assertGreater(seen, 100)

    def test_a_card_tells_what_the_sum_of_a_day_holds(self):
        self.assertIn("A day’s sum holds each test as it was driven, a dropped one too, before "
                      "any coefficient.", self.server.get(f"/{SLUG}/cars/91").text)

    @staticmethod
    def state(point):
        fails = f", {point['fails']} fail{'' if point['fails'] == 1 else 's'}"
        return point["state"] + (fails if point["fails"] else "")

    def test_every_test_has_the_rows_of_the_api(self):
        for item in self.server.get(API).json()["route"]:
            if item["kind"] in ("time-control", "passage-control"):
                continue
            with self.subTest(item["id"]):
                told = self.api(f"tests/{item['id']}")
                found = self.tables(f"/{SLUG}/tests/{item['id']}", "results")
                for group in told["groups"]:
                    self.assert_group(found, group)
                self.assertEqual(found, [])
        self.assertGreater(sum(step["penalty"] is None for steps in self.steps.values()
                               for step in steps.values()), 100)

    def test_start_lists_have_the_rows_of_the_api(self):
        for day in range(1, 5):
            told = self.api(f"starts/{day}")["starts"]
            table = self.tables(f"/{SLUG}/starts/{day}", "starts")[0]
            self.assertEqual([row[:2] for row in table.rows],
                             [[row["time"], str(row["car"])] for row in told])

    def test_head_to_head_ends_at_the_totals(self):
        cars = [row["car"] for row in self.api("standings")["standings"][:12:2]]
        text = self.server.get(f"/{SLUG}/compare?cars={','.join(map(str, cars))}").text
        totals = [self.api(f"cars/{car}")["penalty"] for car in cars]
        versus, = board.tables(text, "versus")
        self.assertEqual(versus.column("Penalty"), totals)
        thousandths = [int(total.replace(".", "")) for total in totals]
        best = min(thousandths)
        self.assertEqual([int(gap.replace(".", "")) for gap in
                          versus.column("Behind the best of them")],
                         [total - best for total in thousandths])
        twin, = board.tables(text, "gaps")
        last = [cell.split("\n+") for cell in twin.rows[-1][1:]]
        self.assertEqual([int(gap.replace(".", "")) for _, gap in last],
                         [total - best for total in thousandths])

    def test_head_to_head_takes_what_people_type(self):
        for query, wanted in (("cars=22,31", ["22", "31"]), ("cars=31, 22,31,x,9999", ["31", "22"]),
                              ("cars=1,2,4,5,6,7,8", ["1", "2", "4", "5", "6", "7"]),
                              ("cars=22&add=31", ["22", "31"]), ("cars=", []), ("", [])):
            found = self.tables(f"/{SLUG}/compare?" + query.replace(" ", "%20"), "versus")
            self.assertEqual(found[0].column("Car") if found else [], wanted, query)
        many = self.server.get(f"/{SLUG}/compare?cars=22&add=a").text
        self.assertGreater(many.count("compare?cars=22,"), 5)

    def test_find_keeps_the_rows_that_fit(self):
        for typed in ("117", "thorne", "calder", "faug%C3%A8re", "faugere"):
            rows = [row for table in self.tables(f"/{SLUG}/?q={typed}") for row in table.rows]
            everyone = [row for table in self.tables(f"/{SLUG}/") for row in table.rows]
            if typed == "117":
                self.assertEqual([row for row in rows if "117" in row], rows)
                self.assertEqual(len(rows), 1)
            else:
                self.assertTrue(rows or typed == "calder")
                self.assertLess(len(rows), len(everyone))
        self.assertEqual(self.tables(f"/{SLUG}/?q=nobodyofthatname")[0].rows, [])

    def test_a_decision_and_a_correction_are_told_with_their_reason(self):
        decisions = list(csv.DictReader(io.StringIO(self.files["decisions"])))
        revoked = {row["value"] for row in decisions if row["kind"] == "revoke"}
        told = 0
        for row in decisions:
            if (row["kind"] in ("allowance", "waive", "notional", "penalty") and
                    row["id"] not in revoked):
                rulings, = self.tables(f"/{SLUG}/cars/{row['car']}", "rulings")
                self.assertIn(row["reason"], rulings.column("Reason"))
                told += 1
        readings = list(csv.DictReader(io.StringIO(self.files["readings"])))
        by_id = {row["id"]: row for row in readings}
        for row in readings:
            if row["replaces"] and by_id[row["replaces"]]["point"][0] in "TS":
                old = by_id[row["replaces"]]
                rulings, = self.tables(f"/{SLUG}/cars/{old['car']}", "rulings")
                self.assertIn(row["reason"], rulings.column("Reason"))
                told += 1
        self.assertGreater(told, 10)

    def test_pages_keep_to_their_sizes(self):
        """The demo's names repeat so little that the text of its rows alone is over 7 KB
        compressed; the board's budget is tested by FullFieldTest."""
        def size(path):
            return len(gzip.compress(self.server.get(path).body, 9))
        self.assertLessEqual(size(f"/{SLUG}/"), 12800)
        leader = self.api("standings")["standings"][0]["car"]
        self.assertLessEqual(size(f"/{SLUG}/cars/{leader}"), 12 << 10)
        self.assertLessEqual(size(f"/{SLUG}/compare?cars=75,91,139,48,104,92"), 12 << 10)
        self.assertLessEqual(size(f"{API}/board"), 1536)

    def test_what_pages_load_keeps_to_its_size(self):
        def loaded(path):
            return set(re.findall(r'(?:src|href)="(/_/[^"]+)"', self.server.get(path).text))

        def size(paths):
            return sum(len(gzip.compress(self.server.get(path).body, 9)) for path in paths)
        files = loaded(f"/{SLUG}/")
        self.assertEqual({os.path.basename(path) for path in files},
                         {"style.css", "page.js", "board.js"})
        self.assertLessEqual(size(files), 12 << 10)
        for path in (f"/{SLUG}/cars/91", f"/{SLUG}/event"):
            files = loaded(path)
            self.assertLessEqual(len(files), 3, path)
            self.assertLessEqual(size(f for f in files if f.endswith(".js")), 6 << 10, path)


class FullFieldTest(ServedTest):
    """Two hundred cars that have driven everything."""

    @staticmethod
    def field():
        dice = random.Random(7)
        first = ("Ada", "Bram", "Cora", "Dirk", "Edda", "Finn", "Greta", "Hugo", "Ines", "Jost")
        last = ("Ashdown", "Birkett", "Calloway", "Denholm", "Esk", "Farrow", "Garth", "Hollis",
                "Ives", "Jarrow", "Keld", "Lowther", "Marl", "Nairn", "Orton", "Pell", "Quayle")
        cars = ("Calder,Six", "Brixham,Tourer", "Averne,Light", "Corvane,Twelve", "Marl,Ten")
        entries, readings = [], []
        for number in range(1, 201):
            names = ",".join(f"{dice.choice(first)} {dice.choice(last)}" for _ in range(2))
            entries.append(f"{number},{names},{dice.choice(cars)},{dice.randint(1925, 1969)},1500")
            readings += [f"TC1,{number},{8 + (45 + number) // 60:02}:{(45 + number) % 60:02},",
                         f"S1/finish,{number},,00:01:{dice.randint(10, 59)}.{dice.randint(0, 9)}"]
        return {"entries": "number,driver,navigator,make,model,year,engine_cc,category\n" +
                "".join(f"{row},open\n" for row in entries),
                "readings": "point,car,time,elapsed\n" + "".join(f"{r}\n" for r in readings),
                "decisions": "kind,car,point,value,reason\n"}

    @classmethod
    def setUpClass(cls):
        cls.files = cls.field()
        super().setUpClass()

    def test_the_board_keeps_to_its_size(self):
        text = self.server.get(f"/{SLUG}/?view=live").text
        rows = sum(len(table.rows) for table in board.tables(text))
        self.assertEqual(rows, 200)
        self.assertLessEqual(len(gzip.compress(text.encode(), 9)), 10 << 10)
        packed = self.server.get(f"/{SLUG}/?view=live", Accept_Encoding="gzip")
        self.assertLessEqual(len(packed.body), 10 << 10)
        figures = self.server.get(f"{API}/board?view=live", Accept_Encoding="gzip")
        self.assertLessEqual(len(figures.body), 1536)


if __name__ == "__main__":
    unittest.main()
