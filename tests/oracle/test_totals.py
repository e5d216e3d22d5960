#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Hand-worked checks of the oracle: coefficients, day caps, tests for ties, tie rules, finishers, teams."""
import unittest

from small_event import CONTROL, MINUTES, Scored

PASSAGE = {"day": 1, "id": "PC1", "kind": "passage-control", "name": "Bridge", "penalty": {"missed": 100}}
TC1 = {**CONTROL, "target": "01:00:00", "penalty": MINUTES}


def pad(name, **keys):
    return {"day": 1, "id": name, "kind": "set-time", "name": "Pad", "targets": ["10"], "penalty": {"missed": 90}, **keys}


def loop(name, **keys):
    return {"day": 1, "id": name, "kind": "consistency", "name": "Loop", "laps": 2, **keys}


def car(number, year=1950, engine="", category="", team="", club="", groups="", coefficient="", born=""):
    return f"{number},D. {number},,Calder,Six,{year},{engine},no,{category},{team},{club},{groups},{coefficient},{born}\n"


class Coefficients(Scored):
    ROUTE = [pad("T1"), PASSAGE, TC1]
    READINGS = "T1/1,1,,14\nTC1,1,09:02\n"  # 4, missed 100, 20

    def total(self, entry=car(1, coefficient="1.1"), decisions="", classes=None, readings=READINGS, **coefficient):
        given = {"by": "entry", "kinds": "all", **coefficient}
        return self.row(self.ROUTE, readings, decisions, entry, classes=classes, scoring={"coefficient": given})["penalty"]

    def test_on_everything_but_decisions_without_a_point(self):
        self.assertEqual(self.total(), "136.400")
        self.assertEqual(self.total(car(1)), "124.000")
        self.assertEqual(self.total(decisions="penalty,1,,10,x\npenalty,1,TC1,10,x\n"), "157.400")

    def test_on_controls_that_are_named(self):
        self.assertEqual(self.total(kinds=["passage-control"]), "134.000")
        self.assertEqual(self.total(kinds=["time-control", "set-time"]), "126.400")

    def test_each_item_rounded(self):
        # 4.4, 110 and 22 to whole points.
        self.assertEqual(self.total(apply="test", round="whole"), "136.000")

    def test_absent_points_by_the_day(self):
        retired = {"decisions": "retire,1,T1,,axle\n", "readings": "T1/1,1,,14\n"}  # 4, absent 100 and 900
        self.assertEqual(self.total(**retired), "1104.400")
        self.assertEqual(self.total(**retired, apply="test", round="whole"), "1104.000")
        self.assertEqual(self.total(**retired, kinds=["time-control", "passage-control"]), "1004.000")

    def test_by_category(self):
        classes = {"scheme": "fiva", "categories": [{"id": "sport", "name": "Sport"}, {"id": "tour", "name": "Tour"}]}
        given = {"by": "category", "table": {"sport": "1.5"}, "classes": classes}
        self.assertEqual(self.total(car(1, category="sport"), **given), "186.000")
        self.assertEqual(self.total(car(1, category="tour"), **given), "124.000")


class DayCap(Scored):
    def test_what_is_over_is_taken_off_the_total(self):
        route = [pad("T1"), pad("T2"), PASSAGE, {**PASSAGE, "id": "PC2", "day": 2}]
        keys = {"day_cap": 120, "drop_worst": {"count": 1, "when": "always"},
                "coefficient": {"by": "year", "kinds": ["set-time"]}}
        # Day 1: 90 dropped, 30 and 100: 10 over 120. 30 x 1.5 + 100 + 100 + 5 - 10.
        card = self.row(route, "T2/1,1,,40\n", "penalty,1,,5,x\n", car(1), scoring=keys, days=2)
        self.assertEqual((card["penalty"], card["days"]), ("240.000", ["120.000", "100.000"]))


class ForTies(Scored):
    def test_a_test_for_ties_is_in_no_total_and_no_day(self):
        route = [pad("T1"), pad("TX", counts="ties")]
        readings = "T1/1,1,,12\nTX/1,1,,60\nT1/1,2,,12\nTX/1,2,,50\n"
        keys = {"ties": ["test:TX"], "drop_worst": {"count": 1, "when": "always", "kinds": ["set-time"]}}
        rows = self.score(route, readings, entries=car(1) + car(2), scoring={**keys, "drop_worst": None})["standings"]
        self.assertEqual([(row["car"], row["penalty"], row["days"]) for row in rows],
                         [(2, "2.000", ["2.000"]), (1, "2.000", ["2.000"])])
        self.assertEqual(self.row(route, readings, entries=car(1) + car(2), scoring=keys)["penalty"], "0.000")


class Ties(Scored):
    def order(self, route, readings, entries, *ties, **given):
        rows = self.score(route, readings, entries=entries, scoring={"ties": list(ties)}, **given)["standings"]
        return [(row["car"], row["position"]) for row in rows]

    def test_count_back(self):
        # 0 0 3, then 0 1 2 and 0 0.5 2.5: two zeros before one; of one zero each, one with a one.
        route = [pad(f"T{n}", penalty={"precision": "tenth", "late": "0.1"}) for n in (1, 2, 3)]
        off = {1: (0, 0.5, 2.5), 2: (0, 1, 2), 3: (3, 0, 0)}
        readings = "".join(f"T{n + 1}/1,{number},,{10 + late}\n" for number, lates in off.items()
                           for n, late in enumerate(lates))
        self.assertEqual(self.order(route, readings, car(1) + car(2) + car(3), "count-back"), [(3, 1), (2, 2), (1, 3)])

    def test_a_faster_reference_lap(self):
        readings = "L1/1,1,,60\nL1/2,1,,61\nL1/1,2,,55\nL1/2,2,,56\n"
        self.assertEqual(self.order([loop("L1")], readings, car(1) + car(2) + car(3), "time:L1")[:2], [(2, 1), (1, 2)])

    def test_a_shorter_elapsed_even_where_it_is_waived(self):
        test = {"day": 1, "id": "S1", "kind": "special-test", "name": "Strip", "method": "over-bogey", "bogey": "40"}
        # Held to 40, held to 40, 45 waived.
        readings = "S1/finish,1,,38\nS1/finish,2,,40\nS1/finish,3,,45\n"
        given = {"decisions": "waive,3,S1,,baulked\n"}
        self.assertEqual(self.order([test], readings, car(1) + car(2) + car(3), "time:S1", **given),
                         [(1, 1), (2, 1), (3, 3)])
        given = {"decisions": "cancel,,S1,,wrong board\n"}
        self.assertEqual(self.order([test], readings, car(1) + car(2) + car(3), "time:S1", **given),
                         [(1, 1), (2, 1), (3, 1)])

    def test_older_and_younger_drivers(self):
        cars = car(1, born="1960") + car(2) + car(3, born="1960-01-02") + car(4, born="1959-12-31")
        readings = "".join(f"PC1,{number}\n" for number in (1, 2, 3, 4))
        self.assertEqual(self.order([PASSAGE], readings, cars, "older-driver"), [(4, 1), (1, 2), (3, 3), (2, 4)])
        self.assertEqual(self.order([PASSAGE], readings, cars, "younger-driver"), [(3, 1), (1, 2), (4, 3), (2, 4)])

    def test_a_test_that_is_off_for_any_is_passed_over(self):
        # T1 is off for car 3. Among three it says nothing; T2 leaves 1 and 2 together, and then T1 parts them.
        groups = {"scheme": "fiva", "groups": [{"id": "short", "name": "Short"}]}
        route = [pad("T1", **{"for": [{"group": "short", "off": True}]}), pad("T2"), pad("T3")]
        readings = "T1/1,1,,12\nT2/1,1,,11\nT3/1,1,,10\nT1/1,2,,11\nT2/1,2,,11\nT3/1,2,,11\nT2/1,3,,13\nT3/1,3,,10\n"
        cars = car(1) + car(2) + car(3, groups="short")
        self.assertEqual(self.order(route, readings, cars, "first-difference", classes=groups), [(2, 1), (1, 2), (3, 3)])


class Finishers(Scored):
    def status(self, readings, **rule):
        route = [TC1, PASSAGE, pad("T1"), pad("T2"), pad("TX", counts="ties")]
        return self.row(route, readings, scoring={"finisher": {"share": "1/2", **rule}})["status"]

    def test_the_share_may_be_of_tests_or_of_all(self):
        one_test = "T1/1,1,,10\n"
        self.assertEqual([self.status(one_test), self.status(one_test, of="tests"), self.status(one_test, of="all")],
                         ["not-classified", "finished", "not-classified"])
        self.assertEqual(self.status("TC1,1,09:00\nT1/1,1,,10\n", of="all"), "finished")

    def test_of_the_points_on_the_cars_own_route(self):
        route = [TC1, PASSAGE, {**PASSAGE, "id": "PC2", "for": [{"period": "D", "off": True}]}]
        keys = {"scoring": {"finisher": {"share": "2/3"}}}
        readings = "TC1,1,09:00\n"
        self.assertEqual(self.row(route, readings, entries=car(1, 1940), **keys)["status"], "not-classified")
        self.assertEqual(self.row([TC1, *route[2:]], readings, entries=car(1, 1940), **keys)["status"], "finished")
        self.assertEqual(self.row([TC1, *route[2:]], readings, entries=car(1, 1950), **keys)["status"], "not-classified")


class Clubs(Scored):
    def test_teams_by_club(self):
        cars = car(1, team="A", club="X") + car(2, team="A", club="Y") + car(3, club="X")
        route = [PASSAGE, {**PASSAGE, "id": "PC2", "penalty": {"missed": 0}}]
        teams = self.score(route, "PC1,1\nPC1,2\nPC2,3\n", entries=cars, by="team",
                           scoring={"teams": {"count": 2, "by": "club"}})
        self.assertEqual([(row["team"], row["penalty"], row["cars"]) for row in teams["standings"]],
                         [("X", "100.000", [1, 3])])
        self.assertEqual([row["team"] for row in teams["unplaced"]], ["Y"])


if __name__ == "__main__":
    unittest.main()
