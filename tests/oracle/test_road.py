#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Hand-worked checks of the oracle: road points, lateness that holds or adds up, units and steps."""
import unittest

from small_event import CAR_1, CONTROL, MINUTES, Scored

TC1 = {**CONTROL, "target": "01:00:00", "penalty": MINUTES}
TC2 = {**TC1, "id": "TC2", "target": "00:30:00"}
TC3 = {**TC1, "id": "TC3", "target": "00:30:00"}
SECTION = {"day": 1, "id": "R1", "kind": "regularity", "name": "Moor", "start": "control",
           "checks": [{"ideal": "00:05:00"}, {"ideal": "00:10:00"}], "penalty": {"cap": 60, "missed": 120}}
PASSAGE = {"day": 1, "id": "PC1", "kind": "passage-control", "name": "Bridge", "penalty": {"missed": 300}}


class RoadPoints(Scored):
    ROUTE = [TC1, {**SECTION, "finish": "control", "target": "00:10:00"}, TC2]
    # On time at TC1; 3:20 late at the last check, which the default precision of a second keeps.
    READINGS = "TC1,1,09:00\nR1/1,1,09:05:00\nR1/2,1,09:13:20\nTC2,1,09:43:59\n"

    def due_at_tc2(self, timing, minutes=False, **given):
        scoring = {"timing": timing, "defaults": {"time-control": {"precision": "minute"}} if minutes else {}}
        return self.point("TC2", self.ROUTE, given.pop("readings", self.READINGS), scoring=scoring, **given)["due"]

    def test_the_last_point_gives_the_departure_in_target_timing(self):
        self.assertEqual(self.due_at_tc2("target"), "09:43:20")
        self.assertEqual(self.due_at_tc2("target", minutes=True), "09:43:00")

    def test_it_gives_the_lateness_that_is_carried_in_scheduled_timing(self):
        # Scheduled 09:10 and 09:40; 3 min carried.
        self.assertEqual(self.due_at_tc2("scheduled", minutes=True), "09:43:00")
        early = self.READINGS.replace("09:13:20", "09:08:00")
        self.assertEqual(self.due_at_tc2("scheduled", minutes=True, readings=early), "09:40:00")

    def test_where_it_is_not_read_it_is_a_control_that_was_not_read(self):
        readings = "TC1,1,09:00\nR1/1,1,09:05:00\nTC2,1,09:43:59\n"
        self.assertEqual(self.due_at_tc2("target", readings=readings), "09:40:00")

    def test_an_allowance_there_is_one_on_the_road(self):
        readings = "TC1,1,09:00\nTC2,1,09:43:59\n"
        self.assertEqual(self.due_at_tc2("target", readings=readings, decisions="allowance,1,R1/2,00:02:00,cattle\n"),
                         "09:42:00")

    def test_a_hidden_one_counts_its_target_and_what_starts_there_waits(self):
        route = [*self.ROUTE[:2], {**SECTION, "id": "R2", "reveal": "at-once"}, TC2]
        readings = "TC1,1,09:00\nR1/1,1,09:05:00\nR1/2,1,09:13:20\nR2/1,1,09:20:00\nTC2,1,09:43:59\n"
        view = {"live": True, "public": True}
        self.assert_point(self.point("TC2", route, readings, **view), due="09:40:00")
        self.assert_point(self.point("R2/1", route, readings, **view), state="awaiting")
        self.assert_point(self.point("R2/1", route, readings, live=True), due="09:18:20")


class Early(Scored):
    def test_early_from_due(self):
        # Eight late at TC1, so due 09:38 at TC2; at 09:37 it is early against due, not against scheduled.
        readings, scoring = "TC1,1,09:08\nTC2,1,09:37\n", {"timing": "scheduled"}
        self.assert_point(self.point("TC2", [TC1, TC2], readings, scoring=scoring), penalty="0.000")
        self.assert_point(self.point("TC2", [TC1, {**TC2, "early_from": "due"}], readings, scoring=scoring),
                          penalty="60.000", deviation="-00:01:00")

    def shortest(self, arrival, rule=MINUTES, out=""):
        route = [TC1, {**TC2, "shortest": "00:20:00", "penalty": rule}]
        return self.point("TC2", route, f"TC1,1,09:20\n{out}TC2,1,{arrival}\n", scoring={"timing": "scheduled"})

    def test_a_section_done_too_fast_is_early_by_what_lacks(self):
        # Twenty late; scheduled 09:30, due 09:50. In 18 min: two lack.
        self.assert_point(self.shortest("09:38"), penalty="120.000", deviation="-00:02:00")
        self.assert_point(self.shortest("09:40"), penalty="0.000", state="clean")

    def test_the_larger_earliness_holds(self):
        # 09:27 is 3 before scheduled, and 13 lack of the 20.
        self.assert_point(self.shortest("09:27"), penalty="780.000")

    def test_a_lateness_is_charged_besides_and_one_cap_holds_both(self):
        # Out at 09:40 by its own reading: 09:55 is 5 late and 5 too fast.
        out = "TC1/out,1,09:40\n"
        self.assert_point(self.shortest("09:55", out=out), penalty="350.000")
        self.assert_point(self.shortest("09:55", {**MINUTES, "cap": 320}, out), penalty="320.000")
        self.assert_point(self.shortest("09:55", {**MINUTES, "cap": {"early": 100}}, out), penalty="150.000")

    def test_where_the_control_before_was_not_read_it_says_nothing(self):
        route = [TC1, {**TC2, "shortest": "02:00:00"}]
        self.assert_point(self.point("TC2", route, "TC2,1,09:30\n"), penalty="0.000")

    def test_at_the_first_control_it_looks_at_the_start(self):
        self.assert_point(self.point("TC1", [{**TC1, "shortest": "01:02:00"}], "TC1,1,09:00\n"), penalty="120.000")


class Lateness(Scored):
    HOLDS = {"timing": "scheduled", "max_lateness": "00:30:00", "max_lateness_holds": True}

    def states(self, route, readings, scoring, **view):
        return {point["point"]: point["state"] for point in self.row(route, readings, scoring=scoring, **view)["points"]}

    def test_it_holds_until_the_car_is_within_it_again(self):
        route = [TC1, PASSAGE, SECTION, TC2, {**PASSAGE, "id": "PC2"}]
        readings = "TC1,1,09:31\nPC1,1,\nR1/1,1,09:36\nR1/2,1,09:41\nTC2,1,09:55\nPC2,1,\n"
        self.assertEqual(self.states(route, readings, self.HOLDS),
                         {"TC1": "missed", "PC1": "missed", "R1/1": "missed", "R1/2": "missed", "TC2": "clean",
                          "PC2": "clean"})
        self.assertEqual(self.states(route, readings, {**self.HOLDS, "max_lateness_holds": False})["R1/1"], "clean")

    def test_it_holds_up_to_and_including_a_main_control(self):
        route = [TC1, {**TC2, "main": True}, PASSAGE]
        self.assertEqual(self.states(route, "TC1,1,09:31\nPC1,1,\n", self.HOLDS),
                         {"TC1": "missed", "TC2": "missed", "PC1": "clean"})

    def test_a_road_point_decides_for_its_test_first(self):
        section = {**SECTION, "finish": "control", "target": "00:10:00"}
        late = "TC1,1,09:31\nR1/1,1,09:36\nR1/2,1,{}\nPC1,1,\n"
        self.assertEqual(self.states([TC1, section, PASSAGE], late.format("09:40:00"), self.HOLDS),
                         {"TC1": "missed", "R1/1": "clean", "R1/2": "scored", "PC1": "clean"})
        self.assertEqual(self.states([TC1, section, PASSAGE], late.format("09:41:00"), self.HOLDS)["R1/1"], "missed")

    def test_what_is_open_and_not_read_is_awaited(self):
        self.assertEqual(self.states([TC1, PASSAGE], "TC1,1,09:31\n", self.HOLDS, live=True)["PC1"], "awaiting")

    def test_it_is_never_carried_into_the_next_day(self):
        route = [TC1, {**PASSAGE, "day": 2}]
        self.assertEqual(self.states(route, "TC1,1,09:31\nPC1,1,\n", self.HOLDS, days=2)["PC1"], "clean")

    def test_lateness_adds_up_and_making_up_time_does_not_reduce_it(self):
        # Target timing: 9 late, then on time, then 7 late: 16.
        keys = {"max_lateness": "00:15:00", "lateness": "cumulative"}
        readings = "TC1,1,09:09\nTC2,1,09:39\nTC3,1,10:16\n"
        self.assertEqual(self.states([TC1, TC2, TC3], readings, keys),
                         {"TC1": "scored", "TC2": "clean", "TC3": "missed"})
        cleared = [TC1, {**TC2, "main": True}, TC3]
        self.assertEqual(self.states(cleared, readings, keys)["TC3"], "scored")


class Units(Scored):
    def check(self, time, entries=CAR_1, **rule):
        section = {**SECTION, "checks": [{"ideal": "00:05:00"}], "start": None, "penalty": rule}
        del section["start"]
        return self.point("R1/1", [section], f"R1/start,1,08:00:00\nR1/1,1,{time}\n", entries=entries)

    def test_hundredths_of_a_minute(self):
        # 08:05:01.9 is truncated to 08:05:01.8: three hundredths late.
        self.assert_point(self.check("08:05:01.9", precision="0.6"), penalty="3.000")

    def test_a_unit_begun_counts_as_whole(self):
        self.assert_point(self.check("08:05:31", per="00:00:30", part=True), penalty="2.000")
        self.assert_point(self.check("08:05:31", per="00:00:30"), penalty="1.000")

    def test_once_beyond_grace(self):
        rule = {"late": {"once": 100}, "per": "minute", "grace": "00:00:02"}
        self.assert_point(self.check("08:05:02", **rule), penalty="0.000", state="clean")
        self.assert_point(self.check("08:05:03", **rule), penalty="100.000")
        self.assert_point(self.check("08:06:30", **rule, cap=80), penalty="80.000")

    def test_steps(self):
        # 10 at 1, 20 at 2, the rest at 5: 40 s are 10 + 40 + 50.
        rule = {"late": [{"to": "00:00:10", "rate": 1}, {"to": "00:00:30", "rate": 2}, {"rate": 5}]}
        for late, cost in (("08", "8"), ("25", "40"), ("40", "100")):
            self.assert_point(self.check(f"08:05:{late}", **rule), penalty=f"{cost}.000")
        # Of 25 s begun in units of 10, three: one at 1, two at 2 each.
        tens = {**rule, "per": "10", "part": True}
        self.assert_point(self.check("08:05:25", **tens), penalty="5.000")

    def test_fails_for_a_deviation_are_given_once(self):
        self.assert_point(self.check("08:05:09", late={"fails": 2}), fails=2, penalty="0.000")

    def test_too_early_is_missed(self):
        rule = {"early_limit": "00:00:30", "missed": 400}
        self.assert_point(self.check("08:04:30", **rule), penalty="30.000")
        self.assert_point(self.check("08:04:29", **rule), penalty="400.000", state="missed")

    def test_ideals_are_taken_down(self):
        # 1 km at 37 km/h: 97.297 s. To a tenth 97.3, down 97.2.
        section = {**SECTION, "speeds": [{"from": 0, "speed": 37}], "checks": [{"at": 1}],
                   "penalty": {"precision": "tenth"}}
        readings = "R1/start,1,08:00:00\nR1/1,1,08:01:37.2\n"
        self.assert_point(self.point("R1/1", [section], readings), due="08:01:37.3", penalty="1.000")
        self.assert_point(self.point("R1/1", [{**section, "ideals": "down"}], readings), due="08:01:37.2",
                          penalty="0.000")

    def test_a_check_may_have_its_own_price_and_precision(self):
        section = {**SECTION, "measured": "previous", "checks": [
            {"ideal": "00:05:00"}, {"ideal": "00:10:00", "penalty": {"precision": "tenth", "late": 2, "cap": 500}}]}
        # 08:10:03.45 is 08:10:03.4 at the second check: 34 tenths at 2.
        readings = "R1/start,1,08:00:00.9\nR1/1,1,08:05:00.9\nR1/2,1,08:10:03.45\n"
        self.assert_point(self.point("R1/2", [section], readings), penalty="68.000")

    def test_a_lost_pad_loses_the_next_too(self):
        pads = {"day": 1, "id": "T1", "kind": "set-time", "name": "Pads", "lost": "next-too",
                "targets": ["10", {"target": "12", "penalty": {"late": 3}}, "8"], "penalty": {"missed": 300}}
        readings = "T1/start,1,08:00:00\nT1/2,1,08:00:24\nT1/3,1,08:00:33\n"
        card = self.row([pads], readings)
        self.assertEqual([(p["state"], p["penalty"]) for p in card["points"]],
                         [("missed", "300.000"), ("missed", "300.000"), ("scored", "1.000")])
        # Where the lost one is waived the second is measured from the start: 2 late at 3.
        card = self.row([pads], readings, "waive,1,T1/1,,device\n")
        self.assertEqual([p["penalty"] for p in card["points"]], ["0.000", "6.000", "1.000"])
        self.assert_point(self.point("T1/2", [pads], readings, live=True), state="awaiting")


if __name__ == "__main__":
    unittest.main()
