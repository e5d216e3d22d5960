#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Hand-worked checks of the oracle itself, most of them with the contract's own numbers."""
import unittest

import values
from differ import differences
from small_event import CAR_1, CAR_2, CAR_3, CONTROL, MINUTES, Scored


class Values(unittest.TestCase):
    def test_a_time_of_day_runs_past_24_up_to_47(self):
        self.assertEqual(values.time_of_day("25:10:00"), (25 * 60 + 10) * 60000)
        self.assertRaises(ValueError, values.time_of_day, "48:00")

    def test_a_duration_may_be_plain_seconds(self):
        self.assertEqual(values.duration("83.45"), 83450)
        self.assertEqual(values.duration("00:01:23.45"), 83450)

    def test_more_than_three_decimals_is_an_error(self):
        self.assertRaises(ValueError, values.duration, "1.2345")
        self.assertRaises(ValueError, values.penalty, "0.0005")

    def test_a_time_is_truncated_to_the_preceding_unit(self):
        self.assertEqual(values.truncated(values.time_of_day("10:42:59.9"), 1000), values.time_of_day("10:42:59"))

    def test_rounding_is_half_up(self):
        self.assertEqual([values.half_up(values.Fraction(n, 2)) for n in (1, 2, 3, 5)], [1, 1, 2, 3])

    def test_penalties_have_three_decimals(self):
        self.assertEqual([values.show_penalty(n) for n in (12000, -15500, 1, -1)],
                         ["12.000", "-15.500", "0.001", "-0.001"])

    def test_times_show_the_decimals_of_the_precision_or_more(self):
        self.assertEqual(values.show_time(-1000, 1000), "-00:00:01")
        self.assertEqual(values.show_time(11700, 10), "00:00:11.70")
        self.assertEqual(values.show_time(1305, 1000), "00:00:01.305")

    def test_instants_compare_across_offsets(self):
        self.assertEqual(values.instant("2027-05-20T10:00:00+02:00"), values.instant("2027-05-20T08:00:00Z"))


class TimeControls(Scored):
    def control(self, time, rule=None, **keys):
        return self.point("TC1", [{**CONTROL, "penalty": rule or MINUTES}], f"TC1,1,{time},,,,,,,\n", **keys)

    def test_card_at_10_42_59_counts_as_10_42(self):
        self.assert_point(self.control("10:42:59"), due="10:42:00", actual="10:42:00", penalty="0.000", state="clean")

    def test_card_at_10_41_59_is_a_minute_early(self):
        self.assert_point(self.control("10:41:59"), actual="10:41:00", deviation="-00:01:00", penalty="60.000")

    def test_units_are_counted_from_a_due_time_at_half_a_minute(self):
        point = self.control("10:01:29", starts="1,1,07:18:30\n")
        self.assert_point(point, due="10:00:30", actual="10:00:30", penalty="0.000")

    def test_cap_may_name_one_side(self):
        rule = {**MINUTES, "cap": {"late": 25}}
        self.assert_point(self.control("10:47:00", rule), penalty="25.000")
        self.assert_point(self.control("10:40:00", rule), penalty="120.000")

    def test_grace_is_free_and_then_all_is_charged_or_the_excess(self):
        rule = {**MINUTES, "grace": "00:02:00"}
        self.assert_point(self.control("10:44:00", rule), penalty="0.000", state="clean")
        self.assert_point(self.control("10:45:00", rule), penalty="30.000")
        self.assert_point(self.control("10:45:00", {**rule, "grace_deducted": True}), penalty="10.000")

    def test_early_may_cost_a_fail_once(self):
        point = self.control("10:38:00", {**MINUTES, "early": {"fails": 1}})
        self.assert_point(point, penalty="0.000", fails=1, state="scored")

    def test_beyond_max_lateness_it_is_missed_but_still_sets_the_departure(self):
        route = [{**CONTROL, "target": "01:00:00", "halt": "00:10:00", "penalty": MINUTES},
                 {**CONTROL, "id": "TC2", "target": "00:30:00", "penalty": MINUTES}]
        readings = "TC1,1,09:31:00,,,,,,,\nTC2,1,10:11:00,,,,,,,\n"
        keys = {"scoring": {"max_lateness": "00:30:00"}}
        self.assert_point(self.point("TC1", route, readings, **keys), state="missed", penalty="900.000")
        self.assert_point(self.point("TC2", route, readings, **keys), scheduled="09:40:00", due="10:11:00",
                          state="missed")

    def test_a_skipped_control_passes_on_its_target_and_halt(self):
        route = [{**CONTROL, "target": "01:00:00", "halt": "00:10:00"}, {**CONTROL, "id": "TC2", "target": "00:30:00"}]
        self.assert_point(self.point("TC2", route, "TC2,1,09:40:00,,,,,,,\n"), due="09:40:00", state="clean")

    def test_scheduled_timing_carries_lateness_until_a_main_control(self):
        route = [{**CONTROL, "target": "01:00:00", "penalty": MINUTES},
                 {**CONTROL, "id": "TC2", "target": "01:00:00", "main": True, "penalty": MINUTES},
                 {**CONTROL, "id": "TC3", "target": "01:00:00", "penalty": MINUTES}]
        readings = "TC1,1,09:04:00,,,,,,,\nTC2,1,10:02:30,,,,,,,\nTC3,1,11:01:00,,,,,,,\n"
        keys = {"scoring": {"timing": "scheduled"}}
        self.assert_point(self.point("TC1", route, readings, **keys), penalty="40.000")
        self.assert_point(self.point("TC2", route, readings, **keys), scheduled="10:00:00", due="10:04:00",
                          deviation="00:00:00", state="clean")
        self.assert_point(self.point("TC3", route, readings, **keys), due="11:00:00", penalty="10.000")

    def test_a_departure_alone_gives_the_departure_and_nothing_else(self):
        route = [{**CONTROL, "target": "01:00:00"}, {**CONTROL, "id": "TC2", "target": "00:30:00"}]
        readings = "TC1/out,1,09:07:20,,,,,,,\nTC2,1,09:37:20,,,,,,,\n"
        self.assert_point(self.point("TC1", route, readings), state="missed")
        self.assert_point(self.point("TC2", route, readings), due="09:37:20", state="clean")

    def test_allowances_move_due_once_in_target_timing(self):
        route = [{**CONTROL, "target": "01:00:00"}, {**CONTROL, "id": "TC2", "target": "01:00:00"}]
        readings, decisions = "TC1,1,09:02:00,,,,,,,\n", "allowance,1,TC1,00:02:00,held up,,\n"
        self.assert_point(self.point("TC1", route, readings, decisions), due="09:02:00", state="clean")
        self.assert_point(self.point("TC2", route, readings, decisions), scheduled="10:02:00", due="10:02:00")


class Sections(Scored):
    SECTION = {"day": 1, "id": "R1", "kind": "regularity", "name": "Hollin Moor",
               "speeds": [{"from": 0, "speed": 48}, {"from": 3.2, "speed": 42.5}],
               "checks": [{"at": 5.37}, {"at": 9.02}],
               "penalty": {"cap": 60, "missed": 120}}

    def test_the_ideal_is_exact_and_rounded_once(self):
        # 3.2 km at 48 is 240 s; 2.17 km at 42.5 is 183.81 s; 5.82 km at 42.5 is 492.99 s.
        readings = "R1/start,1,08:10:00.9,,,,,,,\nR1/1,1,08:17:06.2,,,,,,,\nR1/2,1,08:22:12,,,,,,,\n"
        self.assert_point(self.point("R1/1", [self.SECTION], readings), due="08:17:04", actual="08:17:06",
                          deviation="00:00:02", penalty="2.000")
        self.assert_point(self.point("R1/2", [self.SECTION], readings), due="08:22:13", deviation="-00:00:01",
                          penalty="1.000")

    def test_measured_from_the_previous_check(self):
        readings = "R1/start,1,08:10:00,,,,,,,\nR1/1,1,08:17:06,,,,,,,\nR1/2,1,08:22:15,,,,,,,\n"
        section = {**self.SECTION, "measured": "previous"}
        self.assert_point(self.point("R1/2", [section], readings), due="08:22:15", state="clean")

    def test_a_cancelled_check_still_serves_as_the_point_measured_from(self):
        readings = "R1/start,1,08:10:00,,,,,,,\nR1/1,1,08:17:06,,,,,,,\nR1/2,1,08:22:15,,,,,,,\n"
        section = {**self.SECTION, "measured": "previous"}
        given = [section], readings, "cancel,,R1/1,,wrong board,,\n"
        self.assert_point(self.point("R1/1", *given), state="cancelled", penalty="0.000")
        self.assert_point(self.point("R1/2", *given), due="08:22:15")

    def test_an_allowance_at_a_check_moves_the_later_ones_too(self):
        readings = "R1/start,1,08:10:00,,,,,,,\nR1/1,1,08:17:34,,,,,,,\nR1/2,1,08:22:43,,,,,,,\n"
        given = [self.SECTION], readings, "allowance,1,R1/1,30,cattle,,\n"
        self.assert_point(self.point("R1/1", *given), due="08:17:34", state="clean")
        self.assert_point(self.point("R1/2", *given), due="08:22:43", state="clean")

    def test_the_start_may_come_from_the_control(self):
        route = [{**CONTROL, "target": "00:45:00"}, {**self.SECTION, "start": "control", "start_after": "00:03:00"}]
        readings = "TC1,1,08:45:00,,,,,,,\nR1/1,1,08:55:04,,,,,,,\n"
        self.assert_point(self.point("R1/1", route, readings), due="08:55:04", state="clean")

    def test_nothing_to_measure_from_waits_while_the_start_is_open(self):
        readings = "R1/1,1,08:17:06,,,,,,,\n"
        section = {**self.SECTION, "reveal": "at-once"}
        self.assert_point(self.point("R1/1", [section], readings, live=True), state="awaiting", penalty="0.000")
        closed = "close,,R1/start,,all through,,\n"
        self.assert_point(self.point("R1/1", [section], readings, closed, live=True), state="missed",
                          penalty="120.000")

    def test_a_start_from_the_control_is_open_while_the_control_is(self):
        route = [{**CONTROL, "target": "00:45:00"}, {**self.SECTION, "start": "control", "reveal": "at-once"}]
        given, closed = (route, "R1/1,1,08:55:04,,,,,,,\n"), "close,,R1,,all through,,\n"
        self.assert_point(self.point("R1/1", *given, closed, live=True), state="awaiting")
        self.assert_point(self.point("R1/1", *given, closed + "close,,TC1,,shut,,\n", live=True), state="missed")

    def test_pads_are_since_the_pad_before_and_may_be_elapsed(self):
        pads = {"day": 1, "id": "T1", "kind": "set-time", "name": "Pads", "targets": ["11.70", "9.00", "5"],
                "penalty": {"precision": "hundredth"}}
        readings = "T1/start,1,08:10:00,,,,,,,\nT1/1,1,08:10:11.759,,,,,,,\nT1/2,1,,8.98,,,,,,\n" \
                   "T1/3,1,08:10:25.75,,,,,,,\n"
        self.assert_point(self.point("T1/1", [pads], readings), deviation="00:00:00.05", penalty="5.000")
        self.assert_point(self.point("T1/2", [pads], readings), due="00:00:09.00", actual="00:00:08.98",
                          penalty="2.000")
        self.assert_point(self.point("T1/3", [pads], readings), due="08:10:25.75", state="clean")


class SpecialTests(Scored):
    TEST = {"day": 1, "id": "S1", "kind": "special-test", "name": "Airstrip", "bogey": "00:01:10",
            "maximum": "00:03:00", "method": "over-bogey",
            "faults": {"cone": 5, "line": 10, "wrong-route": "maximum"}}

    def run_in(self, elapsed, faults="", **keys):
        return self.point("S1", [{**self.TEST, **keys}], f"S1/finish,1,,{elapsed},{faults},,,,,\n")

    def test_under_bogey_costs_nothing(self):
        self.assert_point(self.run_in("00:01:05"), actual="00:01:10", penalty="0.000", state="clean")

    def test_faults_are_added_by_count(self):
        self.assert_point(self.run_in("00:01:12.9", "cone=2;line=1"), actual="00:01:12", penalty="22.000")

    def test_a_fault_worth_the_maximum_stands_alone(self):
        self.assert_point(self.run_in("00:01:12", "cone=2;wrong-route=1"), actual="00:03:00", penalty="110.000")

    def test_cap_holds_time_and_faults(self):
        self.assert_point(self.run_in("00:02:00", "line=3", penalty={"cap": {"late": 60}}), penalty="60.000")

    def test_behind_best_leaves_out_the_disqualified(self):
        test = {**self.TEST, "method": "behind-best"}
        readings = "S1/finish,1,,00:01:30,,,,,,\nS1/finish,2,,00:01:20,,,,,,\nS1/finish,3,,00:01:40,,,,,,\n"
        given = [test], readings, "disqualify,2,,,rule 4,,\n", CAR_1 + CAR_2 + CAR_3
        self.assert_point(self.point("S1", *given, card=3), due="00:01:30", penalty="10.000")


class Consistency(Scored):
    LAPS = {"day": 1, "id": "L1", "kind": "consistency", "name": "Loop", "laps": 3, "faults": {"cone": 5}}
    READINGS = "L1/start,1,08:00:00,,,,,,,\nL1/1,1,08:01:00,,cone=1,,,,,\nL1/2,1,08:02:02,,,,,,,\n" \
               "L1/3,1,,59.5,cone=1,,,,,\n"

    def test_laps_deviate_from_the_first(self):
        card = self.row([self.LAPS], self.READINGS)
        self.assertEqual([(p["point"], p["deviation"], p["penalty"]) for p in card["points"]],
                         [("L1/2", "00:00:02", "2.000"), ("L1/3", "-00:00:01", "1.000")])
        self.assertEqual(card["penalty"], "13.000")

    def test_the_mean_is_of_the_laps_read_and_truncated(self):
        # 60, 62 and 59: the mean 60.33 is 60.
        card = self.row([{**self.LAPS, "reference": "mean"}], self.READINGS)
        self.assertEqual([p["penalty"] for p in card["points"]], ["0.000", "2.000", "1.000"])

    def test_faults_of_a_waived_lap_do_not_count(self):
        card = self.row([self.LAPS], self.READINGS, "waive,1,L1/3,,baulked,,\n")
        self.assertEqual(card["penalty"], "7.000")

    def test_test_cap_holds_laps_and_faults(self):
        self.assertEqual(self.row([{**self.LAPS, "test_cap": 6}], self.READINGS)["penalty"], "6.000")


class Readings(Scored):
    ROUTE = [{**CONTROL, "target": "01:00:00", "penalty": MINUTES}]

    def arrival(self, readings, **keys):
        return self.row(self.ROUTE, readings, **keys)

    def test_the_earliest_record_counts_and_the_row_is_doubtful(self):
        card = self.arrival("TC1,1,09:05:00,,,b,2027-05-20T10:00:00Z,,,\n"
                            "TC1,1,09:03:00,,,a,2027-05-20T11:30:00+02:00,,,\nTC1,1,09:01:00,,,c,,,,\n")
        self.assertEqual((card["points"][0]["actual"], card["doubtful"]), ("09:03:00", 1))

    def test_withdrawing_a_correction_does_not_bring_the_first_back(self):
        card = self.arrival("TC1,1,09:05:00,,,a,,,,\nTC1,1,09:03:00,,,b,,a,,misread\nTC1,1,,,,c,,b,yes,wrong car\n")
        self.assertEqual((card["points"][0]["state"], card["through"]), ("missed", None))

    def test_a_refused_correction_has_no_effect(self):
        card = self.arrival("TC1,1,09:05:00,,,a,,,,\nTC1,1,09:63:00,,,b,,a,,misread\n")
        self.assertEqual(card["points"][0]["actual"], "09:05:00")

    def test_a_sighting_serves_only_a_passage_control(self):
        route = self.ROUTE + [{"day": 1, "id": "PC1", "kind": "passage-control", "name": "Bridge"}]
        card = self.row(route, "TC1,1,,,,,,,,\nPC1,1,,,,,,,,\n")
        self.assertEqual([point["state"] for point in card["points"]], ["missed", "clean"])

    def test_the_same_id_with_other_content_is_refused(self):
        card = self.arrival("TC1,1,09:05:00,,,a,,,,\nTC1,1,09:03:00,,,a,,,,\n")
        self.assertEqual((card["points"][0]["actual"], card["doubtful"]), ("09:05:00", 0))


class Rulings(Scored):
    ROUTE = [{**CONTROL, "target": "01:00:00", "penalty": MINUTES},
             {**CONTROL, "id": "TC2", "day": 2, "target": "01:00:00", "penalty": MINUTES}]

    def test_a_revoked_revoke_leaves_the_decision_standing(self):
        base = "penalty,1,,30,noise,p,\nrevoke,,,p,heard,r,\n"
        late = "TC1,1,09:01:00,,,,,,,\nTC2,1,09:00:00,,,,,,,\n"
        self.assertEqual(self.row(self.ROUTE, late, base, days=2)["penalty"], "10.000")
        self.assertEqual(self.row(self.ROUTE, late, base + "revoke,,,r,unheard,q,\n", days=2)["penalty"], "40.000")

    def test_cancel_comes_before_notional_before_waive(self):
        given = self.ROUTE, "TC1,1,09:05:00,,,,,,,\n"
        both = "waive,1,TC1,,a,,\nnotional,1,TC1,12.5,b,,\n"
        self.assert_point(self.point("TC1", *given, both, days=2), state="notional", penalty="12.500")
        self.assert_point(self.point("TC1", *given, both + "cancel,,TC1,,c,,\n", days=2), state="cancelled")

    def test_absent_points_are_held_to_the_day_cap(self):
        route = [*self.ROUTE, {**self.ROUTE[1], "id": "TC3"}]
        card = self.row(route, "TC1,1,09:00:00,,,,,,,\nTC3,1,11:00:00,,,x,,,,\n", "retire,1,TC1,,engine,,\n", days=2,
                        scoring={"absent_day_cap": "1000"})
        self.assertEqual((card["status"], card["days"], card["doubtful"]), ("retired", ["0.000", "1000.000"], 1))
        self.assertEqual([point["state"] for point in card["points"]], ["clean", "absent", "absent"])

    def test_a_rejoin_ends_the_absence(self):
        card = self.row(self.ROUTE, "TC2,1,09:00:00,,,,,,,\n", "retire,1,,,late,,\nrejoin,1,,2,mended,,\n", days=2)
        self.assertEqual([point["state"] for point in card["points"]], ["absent", "clean"])
        self.assertEqual((card["status"], card["penalty"]), ("finished", "900.000"))


class Totals(Scored):
    PADS = [{"day": 1, "id": f"T{n}", "kind": "set-time", "name": "Pads", "targets": ["10"]} for n in (1, 2, 3)]
    READINGS = "T1/1,1,,13,,,,,,\nT2/1,1,,15,,,,,,\nT3/1,1,,15,,,,,,\n"
    DROP = {"count": 1, "kinds": ["set-time"]}
    YEAR = {"by": "year", "apply": "total", "kinds": ["set-time"]}

    def total(self, entries=CAR_1, **scoring):
        return self.row(self.PADS, self.READINGS, entries=entries, scoring=scoring)

    def test_the_coefficient_of_1934_is_1_34(self):
        self.assertEqual(self.total(coefficient=self.YEAR)["penalty"], "17.420")
        self.assertEqual(self.total(coefficient={**self.YEAR, "round": "whole"})["penalty"], "17.000")

    def test_the_coefficient_is_at_least_one(self):
        old = CAR_1.replace("1934", "1898")
        self.assertEqual(self.total(old, coefficient=self.YEAR)["penalty"], "13.000")

    def test_of_equal_tests_the_earlier_is_dropped(self):
        card = self.total(drop_worst=self.DROP)
        self.assertEqual(card["penalty"], "8.000")
        self.assertEqual([point["state"] for point in card["points"]], ["scored", "dropped", "scored"])

    def test_dropping_comes_after_a_coefficient_by_test_and_before_one_on_the_total(self):
        by_test = {**self.YEAR, "apply": "test", "round": "whole"}
        # 3, 5 and 5 become 4, 7 and 7; without the first seven 11 are left.
        self.assertEqual(self.total(coefficient=by_test, drop_worst=self.DROP)["penalty"], "11.000")
        self.assertEqual(self.total(coefficient=self.YEAR, drop_worst=self.DROP)["penalty"], "10.720")

    def test_nothing_is_dropped_at_the_end_while_a_test_is_open(self):
        card = self.row(self.PADS, self.READINGS, scoring={"drop_worst": self.DROP}, live=True)
        self.assertEqual(card["penalty"], "13.000")


class Standings(Scored):
    ROUTE = [{**CONTROL, "target": "01:00:00", "penalty": MINUTES}]
    # Due 09:00, 09:01 and 09:02: cars 1 and 2 a minute late, car 3 four.
    READINGS = "TC1,1,09:01:00,,,,,,,\nTC1,2,09:02:00,,,,,,,\nTC1,3,09:06:00,,,,,,,\n"
    CARS = CAR_1 + CAR_2 + CAR_3

    def table(self, **keys):
        return self.score(self.ROUTE, self.READINGS, entries=self.CARS, **keys)

    def test_equal_cars_share_a_position_and_the_next_is_skipped(self):
        rows = self.table()["standings"]
        self.assertEqual([(row["car"], row["position"], row["equal"]) for row in rows],
                         [(1, 1, True), (2, 1, True), (3, 3, False)])
        self.assertEqual([row["behind_next"] for row in rows], ["0.000", "0.000", "30.000"])

    def test_ties_are_taken_in_turn(self):
        rows = self.table(scoring={"ties": ["most-clean", "older-car"]})["standings"]
        self.assertEqual([(row["car"], row["position"]) for row in rows], [(1, 1), (2, 2), (3, 3)])

    def test_classes_take_capacity_with_the_supercharged_factor(self):
        classes = {"scheme": "fiva", "supercharged_factor": "1.4", "capacity": [{"id": "1", "to": 1600}, {"id": "2"}]}
        groups = self.table(classes=classes, by="class")["groups"]
        self.assertEqual([(group["class"], [row["car"] for row in group["standings"]]) for group in groups],
                         [("D-1", [1]), ("E-1", [3]), ("E-2", [2])])

    def test_a_team_needs_its_count_of_placed_cars(self):
        teams = self.table(scoring={"teams": {"count": 2}}, by="team")
        self.assertEqual(teams["standings"][0]["cars"], [1, 2])
        self.assertEqual(teams["standings"][0]["penalty"], "20.000")
        self.assertEqual(self.table(scoring={"teams": {"count": 3}}, by="team")["standings"], [])

    def test_sequence_leaves_no_gaps(self):
        shape = self.score(self.ROUTE, "TC1,3,09:01:00,,,,,,,\n", "retire,1,,,no start,,\n", self.CARS,
                           order="sequence", card=3)
        self.assertEqual(shape["points"][0]["due"], "09:01:00")

    def test_a_car_that_awaits_is_pending_after_a_point(self):
        shape = self.score(self.ROUTE, "TC1,1,09:01:00,,,,,,,\n", entries=self.CARS, starts="", live=True,
                           after="TC1")
        self.assertEqual([row["car"] for row in shape["standings"]], [1])
        self.assertEqual([row["car"] for row in shape["unplaced"]], [2, 3])
        self.assertEqual([row["status"] for row in shape["unplaced"]], ["entered", "entered"])
        self.assertEqual(shape["pending"], [])

    def test_a_closed_item_is_not_there_for_the_public_until_all_are_through(self):
        section = {**Sections.SECTION, "checks": [{"at": 5.37}]}
        given = [*self.ROUTE, section], "TC1,1,09:00:00,,,,,,,\nR1/start,1,09:10:00,,,,,,,\nR1/1,1,09:30:00,,,,,,,\n"
        full, public = self.score(*given, live=True, card=1), self.score(*given, live=True, public=True, card=1)
        self.assertEqual((full["through"], full["penalty"]), ("R1/1", "60.000"))
        self.assertEqual((public["through"], public["penalty"], len(public["points"])), ("TC1", "0.000", 1))
        closed = self.score(*given, "close,,R1,,all through,,\n", live=True, public=True, card=1)
        self.assertEqual(closed["penalty"], "60.000")


class Comparing(unittest.TestCase):
    def test_a_moved_row_is_compared_with_itself(self):
        lines = list(differences({"standings": [{"car": 1, "fails": 0}, {"car": 2, "fails": 0}]},
                                 {"standings": [{"car": 2, "fails": 0, "why": "x"}, {"car": 1, "fails": 1}]}))
        self.assertEqual(lines, [".standings: oracle [1, 2], cairn [2, 1]",
                                 ".standings[1].fails: oracle 0, cairn 1"])

    def test_a_number_is_not_its_text(self):
        self.assertEqual(len(list(differences({"car": 1}, {"car": "1"}))), 1)
        self.assertEqual(list(differences({"car": 1}, {"car": 1, "extra": 2})), [])


if __name__ == "__main__":
    unittest.main()
