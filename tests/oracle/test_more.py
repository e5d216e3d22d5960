#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Hand-worked checks of the oracle: other values for some cars, faults, decisions, attempts and bests."""
import unittest

from small_event import CAR_1, CAR_2, CAR_3, CONTROL, MINUTES, Scored

# Columns: …, category, team, club, groups, coefficient, born.
LOW = "1,A. Thorne,M. Vale,Calder,Six,1934,1500,no,,,,low;ladies,,\n"
HIGH = "2,B. Reed,N. Holm,Calder,Eight,1955,1600,no,,,,high,,\n"
GROUPS = {"scheme": "fiva", "groups": [{"id": "low", "name": "Low"}, {"id": "high", "name": "High"},
                                       {"id": "ladies", "name": "Ladies"}]}

TC1 = {**CONTROL, "target": "01:00:00", "penalty": MINUTES}
TC2 = {**TC1, "id": "TC2", "target": "00:30:00"}
# 36 km/h: 3 km in 5:00, 6 km in 10:00.
SECTION = {"day": 1, "id": "R1", "kind": "regularity", "name": "Moor", "speeds": [{"from": 0, "speed": 36}],
           "checks": [{"at": 3}, {"at": 6}], "penalty": {"cap": 60, "missed": 120}}
PASSAGE = {"day": 1, "id": "PC1", "kind": "passage-control", "name": "Bridge", "penalty": {"missed": 300}}


def states(card):
    """The scored points of a card; what was decided in an item has rows of its own."""
    return [(point["point"], point["state"], point["penalty"]) for point in card["points"]
            if point["kind"] not in ("penalty", "fails")]


class OtherValues(Scored):
    def both(self, route, readings="", decisions="", **given):
        return [self.row(route, readings, decisions, LOW + HIGH, classes=GROUPS, card=car, **given) for car in (1, 2)]

    def test_the_first_line_that_fits_holds_and_replaces_key_by_key(self):
        section = {**SECTION, "for": [{"group": "low", "speeds": [{"from": 0, "speed": 30}], "penalty": {"late": 2}},
                                      {"group": ["ladies", "high"], "penalty": {"late": 5}}]}
        readings = "".join(f"R1/start,{car},08:00:00\nR1/1,{car},08:06:07\n" for car in (1, 2))
        low, high = self.both([section], readings)
        # 3 km at 30 are 6:00: 7 late at 2; at 36 67 late at 5, held to 60.
        self.assertEqual((low["points"][0]["penalty"], high["points"][0]["penalty"]), ("14.000", "60.000"))

    def test_a_control_that_is_off_counts_no_target_and_its_reading_makes_doubtful(self):
        route = [{**TC1, "for": [{"period": "D", "off": True}]}, TC2]
        low, high = self.both(route, "TC1,1,09:00\nTC2,1,08:30\n")
        self.assertEqual(states(low), [("TC2", "clean", "0.000")])
        self.assertEqual((low["doubtful"], low["points"][0]["due"], high["points"][1]["due"]), (1, "08:30:00", "09:31:00"))

    def test_a_check_that_is_off_is_no_point_of_these_cars(self):
        section = {**SECTION, "measured": "previous", "for": [{"class": "D", "checks": [None, {"at": 6}]}]}
        readings = "R1/start,1,08:00:00\nR1/1,1,08:09:00\nR1/2,1,08:10:03\n"
        low, _ = self.both([section], readings, "allowance,1,R1/1,00:05:00,held\npenalty,1,R1/1,7,x\n")
        self.assertEqual((states(low), low["doubtful"], low["penalty"]), ([("R1/2", "scored", "3.000")], 1, "3.000"))

    def test_a_pad_that_is_off_has_no_target_in_the_sum(self):
        pads = {"day": 1, "id": "T1", "kind": "set-time", "name": "Pads", "targets": ["10", "12", "8"],
                "for": [{"group": "low", "targets": ["10", None, "9"]}], "lost": "next-too"}
        low, _ = self.both([pads], "T1/start,1,08:00:00\nT1/1,1,08:00:10\nT1/3,1,08:00:20\n")
        self.assertEqual(states(low), [("T1/1", "clean", "0.000"), ("T1/3", "scored", "1.000")])

    def test_by_test_and_by_group(self):
        route = [{**SECTION, "for": [{"group": "low", "off": True}]}, PASSAGE]
        given = {"entries": LOW + HIGH, "classes": GROUPS}
        readings = "R1/start,2,08:00:00\nPC1,1,\nPC1,2,\n"
        test = self.score(route, readings, by="test", **given)["groups"][0]
        self.assertEqual([row["car"] for part in ("standings", "unplaced", "pending") for row in test[part]], [2])
        groups = self.score(route, readings, by="group", **given)["groups"]
        self.assertEqual([(group["group"], [row["car"] for row in group["standings"]]) for group in groups],
                         [("low", [1]), ("high", [2]), ("ladies", [1])])

    def test_a_retirement_off_the_route_is_one_after_the_point_before(self):
        route = [TC1, {**PASSAGE, "day": 2, "for": [{"group": "low", "off": True}]},
                 {**TC2, "day": 2, "target": "01:00:00"}]
        # On day 1 for car 1: a rejoin on day 2 ends it. For car 2 it is on day 2.
        decisions = "".join(f"retire,{car},PC1,,axle\nrejoin,{car},,2,mended\n" for car in (1, 2))
        readings = "TC1,1,09:00\nTC2,1,09:00\nTC1,2,09:01\nTC2,2,09:01\n"
        low, high = self.both(route, readings, decisions, days=2)
        self.assertEqual((low["status"], high["status"]), ("finished", "retired"))


class Faults(Scored):
    def test_outside_the_cap_and_before_test_cap(self):
        section = {**SECTION, "faults": {"stop": 50, "offence": {"fails": 2}}, "test_cap": 100}
        card = self.row([section], "R1/start,1,08:00:00,,stop=1\nR1/1,1,08:07:00,,stop=1;offence=1\nR1/2,1,08:10:00\n")
        # 60 and 50 at the check, 50 at the start: 160 held to 100.
        self.assertEqual(states(card), [("R1/1", "scored", "110.000"), ("R1/2", "clean", "0.000")])
        self.assertEqual((card["penalty"], card["fails"]), ("100.000", 2))

    def test_a_free_fault_spoils_clean(self):
        point = self.point("PC1", [{**PASSAGE, "faults": {"unclear": 0}}], "PC1,1,,,unclear=1\n")
        self.assert_point(point, state="scored", penalty="0.000")

    def test_missed_for_a_fault_still_gives_the_departure(self):
        route = [{**TC1, "faults": {"wrong-way": "missed", "zone": 50}}, TC2]
        card = self.row(route, "TC1,1,09:05,,wrong-way=1;zone=1\nTC2,1,09:35\n")
        self.assertEqual(states(card), [("TC1", "missed", "950.000"), ("TC2", "clean", "0.000")])
        keys = {"scoring": {"finisher": {"share": "2/3"}}}
        self.assertEqual(self.row(route, "TC1,1,09:05,,wrong-way=1\nTC2,1,09:35\n", **keys)["status"], "not-classified")

    def test_on_the_way_out_it_is_the_controls(self):
        route = [{**TC1, "faults": {"sign": 30}}, TC2]
        self.assert_point(self.point("TC1", route, "TC1,1,09:00\nTC1/out,1,09:10,,sign=2\n"), penalty="60.000")

    def test_missed_at_a_start_adds_missed_once(self):
        section = {**SECTION, "faults": {"gate": "missed"}}
        card = self.row([section], "R1/start,1,08:00:00,,gate=2\nR1/1,1,08:05:00\nR1/2,1,08:10:00\n")
        self.assertEqual((states(card)[0][1], card["penalty"]), ("clean", "120.000"))

    def test_a_lap_may_be_missed_for_a_fault(self):
        laps = {"day": 1, "id": "L1", "kind": "consistency", "name": "Loop", "laps": 2,
                "faults": {"cut": "missed", "cone": 5}, "penalty": {"missed": 40}}
        card = self.row([laps], "L1/1,1,,60\nL1/2,1,,60,cut=1;cone=2\n")
        self.assertEqual((states(card), card["penalty"]), ([("L1/2", "missed", "40.000")], "50.000"))

    def test_told_by_a_judge(self):
        section = {**SECTION, "faults": {"stop": 50}}
        readings = "R1/start,1,08:00:00\nR1/1,1,08:05:00\n"
        card = self.row([section], readings, "faults,1,R1/1,stop=2,judge\nfaults,1,R1/2,stop=1,judge\n")
        self.assertEqual(states(card), [("R1/1", "scored", "100.000"), ("R1/2", "missed", "170.000")])
        card = self.row([section], readings, "faults,1,R1/1,stop=2,judge\nwaive,1,R1/1,,x\n")
        self.assertEqual(states(card)[0], ("R1/1", "waived", "0.000"))
        card = self.row([section], readings, "faults,1,R1/2,stop=2,judge\nretire,1,R1/1,,x\n")
        self.assertEqual(states(card)[1], ("R1/2", "absent", "120.000"))


class Decisions(Scored):
    READINGS = "R1/start,1,08:00:00\nR1/1,1,08:05:04\nR1/2,1,08:10:00\nPC1,1,\n"

    def given(self, decisions, **keys):
        return self.row([{**SECTION, "test_cap": 3}, PASSAGE], self.READINGS, decisions, **keys)

    def test_with_a_point_they_are_part_of_the_item_after_test_cap(self):
        year = {"scoring": {"coefficient": {"by": "year", "kinds": ["regularity"]}}}
        card = self.given("penalty,1,R1,10,speed\npenalty,1,R1/2,-1,x\npenalty,1,,5,noise\n", **year)
        # (3 + 10 - 1) x 1.34 + 5; the check that is named is not clean.
        self.assertEqual((card["penalty"], card["days"]), ("21.080", ["12.000"]))
        self.assertEqual([(point["point"], point["penalty"]) for point in card["points"] if point["kind"] == "penalty"],
                         [("R1", "10.000"), ("R1/2", "-1.000")])
        self.assertEqual([state for _, state, _ in states(card)], ["scored", "scored", "clean"])

    def test_fails_in_an_item_and_in_the_total(self):
        card = self.given("fails,1,R1,2,x\nfails,1,PC1,1,x\nfails,1,,3,x\n")
        self.assertEqual((card["fails"], states(card)[2]), (6, ("PC1", "scored", "0.000")))

    def test_nothing_where_the_point_or_the_whole_is_ruled(self):
        self.assertEqual(self.given("penalty,1,R1/1,10,x\nnotional,1,R1/1,1,y\n")["penalty"], "1.000")
        self.assertEqual(self.given("penalty,1,R1/1,10,x\npenalty,1,R1,10,x\nwaive,1,R1,,y\n")["penalty"], "0.000")
        self.assertEqual(self.given("penalty,1,R1,10,x\nwaive,1,R1/1,,y\n")["penalty"], "10.000")

    def test_average_of_the_other_tests_of_the_kind(self):
        pads = [{"day": 1, "id": f"T{n}", "kind": "set-time", "name": "Pads", "targets": ["10"],
                 "penalty": {"missed": 100}} for n in (1, 2, 3, 4)]
        pads[3]["counts"] = "ties"
        readings = "T1/1,1,,13\nT2/1,1,,18\nT4/1,1,,50\n"
        decisions = "notional,1,T3,average,device\npenalty,1,T1,2,x\n"
        card = self.row([*pads[:3], pads[3], SECTION], readings, decisions)
        self.assertEqual(states(card)[2], ("T3/1", "notional", "6.500"))
        # With T1 waived the mean is T2's; with both, nothing.
        self.assertEqual(states(self.row(pads, readings, decisions + "waive,1,T1,,x\n"))[2][2], "8.000")
        both = decisions + "waive,1,T1,,x\nwaive,1,T2,,x\n"
        self.assertEqual(states(self.row(pads, readings, both))[2][2], "0.000")


class Attempts(Scored):
    TEST = {"day": 1, "id": "S1", "kind": "special-test", "name": "Airstrip", "attempts": 2,
            "faults": {"cone": 5, "wrong": "maximum", "gate": "missed"}, "maximum": "90", "penalty": {"missed": 120}}

    def run_in(self, readings, decisions="", live=False, **keys):
        return self.point("S1", [{**self.TEST, **keys}], readings, decisions, live=live)

    def test_the_best_has_the_fewest_fails_then_the_least_cost(self):
        both = "S1/finish,1,,40,cone=1\nS1/finish-2,1,,44\n"
        self.assert_point(self.run_in(both), penalty="44.000", state="scored", actual="00:00:44")
        fails = {"faults": {"cone": {"fails": 1}}}
        self.assert_point(self.run_in("S1/finish,1,,40,cone=1\nS1/finish-2,1,,80\n", **fails), penalty="80.000")

    def test_each_attempt_has_its_own_faults_cap_and_maximum(self):
        both = "S1/finish,1,,100,cone=4\nS1/finish-2,1,,50,wrong=1;cone=1\n"
        self.assert_point(self.run_in(both, counts="sum"), penalty="200.000")
        self.assert_point(self.run_in(both, counts="sum", penalty={"cap": 95}), penalty="185.000")

    def test_last_and_sum(self):
        both = "S1/finish,1,,40\nS1/finish-2,1,,50\n"
        self.assert_point(self.run_in(both, counts="last"), penalty="50.000")
        self.assert_point(self.run_in(both, counts="sum"), penalty="90.000")
        one = "S1/finish,1,,40\nS1/finish-2,1,,50,gate=1\n"
        self.assert_point(self.run_in(one, counts="last"), penalty="40.000")
        self.assert_point(self.run_in(one, counts="sum"), penalty="160.000", state="scored")
        self.assert_point(self.run_in("", counts="sum"), penalty="240.000", state="missed")
        self.assert_point(self.run_in(""), penalty="120.000", state="missed")

    def test_while_an_attempt_is_open(self):
        one = "S1/finish,1,,40\n"
        self.assert_point(self.run_in(one, live=True), penalty="40.000", state="scored")
        self.assert_point(self.run_in(one, live=True, counts="sum"), penalty="40.000", state="awaiting")
        closed = "close,,S1/finish,,x\n"
        self.assert_point(self.run_in("", closed, live=True), penalty="0.000", state="awaiting")

    def test_absent_at_some_costs_missed_in_the_test(self):
        retired = "retire,1,S1/finish,,axle\n"
        self.assert_point(self.run_in("S1/finish,1,,40\n", retired, counts="sum"), penalty="160.000", state="scored")
        self.assert_point(self.run_in("", "retire,1,S1/start,,axle\n", counts="sum"), penalty="240.000", state="absent")


class Bests(Scored):
    TEST = {"day": 1, "id": "S1", "kind": "special-test", "name": "Airstrip",
            "faults": {"cone": 5, "wrong": "maximum"}, "penalty": {"missed": "maximum"}}
    PLUS = {"best": "class", "plus": "00:00:30"}
    CARS = CAR_1 + CAR_2 + CAR_3 + CAR_3.replace("3,C.", "4,D.")

    def costs(self, readings, decisions="", **keys):
        cards = [self.row([{**self.TEST, **keys}], readings, decisions, self.CARS, card=car) for car in (1, 2, 3, 4)]
        return [card["penalty"] for card in cards]

    def test_a_maximum_by_the_best_of_the_class(self):
        # Class D is car 1 alone, without a time: no best, 0. Class E: best 50, most 80.
        readings = "S1/finish,1,,40,wrong=1\nS1/finish,2,,50\nS1/finish,3,,100,cone=1\n"
        self.assertEqual(self.costs(readings, maximum=self.PLUS), ["0.000", "50.000", "85.000", "80.000"])

    def test_a_wrong_test_is_no_time(self):
        readings = "S1/finish,2,,30,wrong=1\nS1/finish,3,,60\n"
        self.assertEqual(self.costs(readings, maximum=self.PLUS)[1:], ["90.000", "60.000", "90.000"])

    def test_the_disqualified_are_no_best(self):
        readings = "S1/finish,2,,30\nS1/finish,3,,60\n"
        self.assertEqual(self.costs(readings, "disqualify,2,,,x\n", maximum=self.PLUS)[2:], ["60.000", "90.000"])

    def test_behind_the_best_run_without_faults(self):
        readings = "S1/finish,1,,40,cone=3\nS1/finish,2,,44\nS1/finish,3,,46.5,cone=1\n"
        keys = {"method": "behind-best", "penalty": {"precision": "tenth", "late": "0.1", "missed": 9}}
        self.assertEqual(self.costs(readings, best="faultless", **keys), ["15.000", "0.000", "7.500", "9.000"])
        self.assertEqual(self.costs(readings, **keys), ["15.000", "4.000", "11.500", "9.000"])
        # Nobody without faults: of all.
        self.assertEqual(self.costs(readings.replace("44\n", "44,cone=1\n"), best="faultless", **keys)[1], "9.000")

    def test_behind_the_best_result(self):
        # Half a point a second: 20 + 15, 22, 23 + 5: behind 22 it is 13, 0 and 6; the cap holds the difference.
        readings = "S1/finish,1,,40,cone=3\nS1/finish,2,,44\nS1/finish,3,,46,cone=1\n"
        keys = {"method": "behind-best", "best": "result", "penalty": {"late": "0.5", "cap": 10, "missed": 40}}
        self.assertEqual(self.costs(readings, **keys), ["10.000", "0.000", "6.000", "40.000"])

    def test_a_maximum_by_the_best_result_holds_the_sum(self):
        # Results 60, 62 and 70 + 35; the most is 60 and what 30 s cost.
        readings = "S1/finish,1,,60\nS1/finish,2,,62\nS1/finish,3,,70,cone=7\n"
        most = {"maximum": {"best": "overall", "plus": "30"}, "best": "result"}
        self.assertEqual(self.costs(readings, **most), ["60.000", "62.000", "90.000", "90.000"])
        self.assertEqual(self.costs(readings, method="behind-best", **most), ["0.000", "2.000", "30.000", "30.000"])


if __name__ == "__main__":
    unittest.main()
