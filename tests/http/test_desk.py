# SPDX-License-Identifier: MIT
"""What a timekeeper's desk asks for and reports, and what the office sees of the desks."""

import csv
import os
import re
import time

from tests.support.serving import API, SECRET, SLUG, ServedTest, cairn

REPORT = {"by": "quay desk", "points": ["TC1"], "last_seq": 9, "unsent": 2, "refused": 1,
          "blanks": 1, "offset_ms": -12, "uncertainty_ms": 6, "clock": "good", "version": "1"}


class ClockTest(ServedTest):
    def test_it_tells_the_time_to_the_millisecond_and_is_kept_by_nobody(self):
        before = time.time() * 1000
        answer = self.server.get(f"{API}/clock")
        after = time.time() * 1000
        told = answer.json()
        self.assertTrue(before - 1 <= told["ms"] <= after + 1, told)
        self.assertRegex(told["now"], r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$")
        self.assertEqual(int(told["now"][-4:-1]), told["ms"] % 1000)
        self.assertEqual(answer.headers["cache-control"], "no-store")
        self.assertNotIn("etag", answer.headers)

    def test_each_answer_is_new(self):
        first = self.server.get(f"{API}/clock").json()["ms"]
        time.sleep(0.05)  # however little the machine's clock is set meanwhile
        self.assertGreater(self.server.get(f"{API}/clock").json()["ms"], first)

    def test_of_an_event_that_is_not_there(self):
        self.assert_problem(self.server.get("/api/v1/events/other/clock"), 404)


class AskingTest(ServedTest):
    """The questions that the tests of desks ask."""

    def desk(self, key=None):
        return self.server.get(f"{API}/desk", key or self.server.timekeeper).json()

    def expected(self, point, key=None):
        return self.server.get(f"{API}/expected?point={point}", key or self.server.timekeeper)

    def car(self, point, number, key=None):
        cars = self.expected(point, key).json()["cars"]
        return next(car for car in cars if car["car"] == number)


class DeskTest(AskingTest):
    """These tests write nothing."""

    def test_a_desk_is_told_its_own_points_in_the_order_of_the_route(self):
        told = self.desk()
        self.assertEqual([p["id"] for p in told["points"]],
                         ["TC1", "TC1/out", "R1/start", "R1/1", "R1/2", "S1/start", "S1/finish"])
        self.assertEqual({p["id"]: p["part"] for p in told["points"]},
                         {"TC1": "arrival", "TC1/out": "departure", "R1/start": "start",
                          "R1/1": "check", "R1/2": "check", "S1/start": "start",
                          "S1/finish": "finish"})
        self.assertEqual(told["role"], "timekeeper")
        self.assertEqual(len(told["cars"]), 6)

    def test_a_desk_is_told_nothing_of_hidden_checks_that_are_not_its_own(self):
        key = self.server.add_key("--role", "timekeeper", "--points", "TC1,PC1")
        text = self.server.get(f"{API}/desk", key).text
        self.assertNotIn(SECRET, text)
        self.assertNotIn("R1", text)
        self.assert_problem(self.expected("R1/1", key), 403)
        unknown = self.expected("R9/1", key)
        self.assertEqual(self.expected("R1/1", key).text.replace("R1/1", "R9/1"), unknown.text)

    def test_an_organisers_desk_has_every_point(self):
        told = self.desk(self.server.organiser)
        self.assertEqual(len(told["points"]), 17)
        self.assertEqual(told["role"], "organiser")

    def test_which_readings_a_point_takes(self):
        points = {p["id"]: p for p in self.desk(self.server.organiser)["points"]}
        for point, takes in (("TC1", ["time"]), ("TC1/out", ["time"]), ("R1/1", ["time"]),
                             ("T1/1", ["time", "elapsed"]), ("T1/start", ["time"]),
                             ("S1/finish", ["time", "elapsed"]), ("S1/start", ["time"]),
                             ("L1/1", ["time", "elapsed"])):
            self.assertEqual(points[point]["takes"], takes, point)
        self.assertIn("sighting", points["PC1"]["takes"])
        self.assertEqual(points["S1/finish"]["faults"], ["cone", "line"])
        self.assertEqual(points["T1/1"]["precision"], "hundredth")
        self.assertEqual((points["T1/2"]["part"], points["T1/2"]["number"]), ("pad", 2))

    def test_expected_cars_come_in_the_order_in_which_they_are_due(self):
        told = self.expected("TC1").json()
        self.assertEqual([c["car"] for c in told["cars"]], [1, 2, 3, 5, 8, 9])
        self.assertEqual([c["due"] for c in told["cars"][:3]], ["08:46:00", "08:47:00", "08:48:00"])
        self.assertEqual(told["cars"][0]["time"], "08:46:30")
        self.assertEqual(told["cars"][0]["state"], "seen")
        self.assertEqual(told["cars"][0]["reading"], "seed-1")

    def test_whether_it_was_read_at_the_control_before(self):
        self.assertTrue(self.car("S1/finish", 1)["before"])
        self.assertFalse(self.car("S1/finish", 9)["before"])
        self.assertTrue(self.car("TC1", 9)["before"])  # there is none before

    def test_the_departure_is_due_when_the_car_has_arrived(self):
        self.assertEqual(self.car("TC1/out", 1)["due"], "08:46:00")
        self.assertIsNone(self.car("TC1/out", 9)["due"])

    def test_a_copy_need_not_be_sent_twice(self):
        first = self.expected("TC1")
        again = self.server.get(f"{API}/expected?point=TC1", self.server.timekeeper,
                                If_None_Match=first.headers["etag"])
        self.assertEqual((again.status, again.body), (304, b""))
        self.assertEqual(first.headers["cache-control"], "private, no-store")

    def test_a_point_must_be_named(self):
        self.assert_problem(self.server.get(f"{API}/expected", self.server.timekeeper), 400)


class TakingTest(AskingTest):
    def test_what_a_point_takes_is_what_the_server_takes(self):
        """Each sort of reading is posted at each point, for its last car."""
        sorts = {"time": {"time": "11:00:00"}, "elapsed": {"elapsed": "12.5"}, "sighting": {}}
        for point in self.desk(self.server.organiser)["points"]:
            for sort, fields in sorts.items():
                told = self.server.post("readings", [{"point": point["id"], "car": 9, **fields}])
                self.assertEqual(told.json()["accepted"] == 1, sort in point["takes"],
                                 (point["id"], sort, told.text))


class MovingTest(AskingTest):
    def test_a_car_read_further_on_is_missing_and_one_that_retired_is_out(self):
        self.assert_taken(self.server.post("readings", [{"point": "PC1", "car": 5}]), 1)
        self.assert_taken(self.server.post("decisions", [
            {"kind": "retire", "car": 8, "reason": "axle"}]), 1)
        self.assertEqual(self.car("TC1", 5)["state"], "missing")
        self.assertEqual(self.car("S1/finish", 5)["state"], "expected")
        told = self.expected("S1/finish").json()
        self.assertNotIn(8, [c["car"] for c in told["cars"]])
        self.assert_taken(self.server.post("decisions", [
            {"kind": "retire", "car": 5, "point": "PC1", "reason": "clutch"}]), 1)
        self.assertEqual(self.car("S1/finish", 5)["state"], "out")
        told = self.expected("S1/finish").json()
        self.assertEqual(told["out"], 1)
        self.assertEqual(told["expected"], len(told["cars"]) - 1)

    def test_differing_readings_are_doubtful(self):
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "car": 2, "time": "08:49:10"}]), 1)
        self.assertTrue(self.car("TC1", 2)["doubtful"])


class DesksTest(ServedTest):
    def report(self, desk="0a1b2c3d", key=None, **changes):
        return self.server.post(f"desks/{desk}", {**REPORT, **changes},
                                key or self.server.timekeeper)

    def desks(self):
        told = self.server.get(f"{API}/desks", self.server.organiser).json()["desks"]
        return {desk["desk"]: desk for desk in told}

    def stamp(self, desk, seq, **fields):
        return {"point": "TC1", "car": 9, "time": f"09:00:{seq:02}", "desk": desk, "seq": seq,
                "id": f"{desk}-{seq}", "by": "hill desk", "source": "key", **fields}

    def test_a_report_is_kept_and_the_next_takes_its_place(self):
        self.assertEqual(self.report().json(), {})
        self.report(unsent=0)
        told = self.desks()["0a1b2c3d"]
        self.assertEqual(told["report"]["unsent"], 0)
        self.assertEqual(told["report"]["clock"], "good")
        self.assertEqual(told["report"]["offset_ms"], -12)
        self.assertRegex(told["report"]["received"], r"^\d{4}-.*Z$")
        self.assertEqual((told["by"], told["last"], told["gaps"]), ("quay desk", 9, [[1, 9]]))

    def test_a_clock_that_is_wrong_and_one_of_keys_that_is_another(self):
        self.report("0a1b2c3d")
        self.assertEqual(self.desks()["0a1b2c3d"]["report"]["skew_ms"], 0)
        self.report("0a1b2c3d", clock="wrong", skew_ms=-57.25)
        told = self.desks()["0a1b2c3d"]["report"]
        self.assertEqual((told["clock"], told["skew_ms"]), ("wrong", -57))
        self.assert_problem(self.report(clock="slow"), 400)

    def test_numbers_that_are_missing_show_as_gaps(self):
        rows = [self.stamp("11111111", seq) for seq in (1, 2, 4, 7)]
        self.assert_taken(self.server.post("readings", rows, self.server.timekeeper), 4)
        told = self.desks()["11111111"]
        self.assertEqual((told["first"], told["last"], told["taken"]), (1, 7, 4))
        self.assertEqual(told["gaps"], [[3, 3], [5, 6]])
        self.assertEqual(told["points"], ["TC1"])
        self.assertEqual(told["by"], "hill desk")
        self.report("11111111", last_seq=9)
        self.assertEqual(self.desks()["11111111"]["gaps"], [[3, 3], [5, 6], [8, 9]])
        rest = [self.stamp("11111111", seq) for seq in (3, 5, 6, 8, 9)]
        self.server.post("readings", rest, self.server.timekeeper)
        told = self.desks()["11111111"]
        self.assertEqual((told["gaps"], told["taken"]), ([], 9))

    def test_a_refused_reading_is_a_gap(self):
        rows = [self.stamp("22222222", 1), self.stamp("22222222", 2, point="PC1")]
        self.server.post("readings", rows, self.server.timekeeper)
        self.report("22222222", last_seq=2)
        self.assertEqual(self.desks()["22222222"]["gaps"], [[2, 2]])

    def test_flags_reach_the_office_the_latest_first(self):
        rows = [self.stamp("33333333", 1, flags="typed-time far-from-due"),
                self.stamp("33333333", 2, flags="", note="x"),
                self.stamp("33333333", 3, flags="seen-before", note="came <late>")]
        self.server.post("readings", rows, self.server.timekeeper)
        told = [f for f in self.server.get(f"{API}/flags", self.server.organiser).json()["flags"]
                if f["desk"] == "33333333"]
        self.assertEqual([f["seq"] for f in told], ["3", "1"])
        self.assertEqual(told[0]["flags"], ["seen-before"])
        self.assertEqual(told[0]["note"], "came <late>")
        self.assertEqual(told[1]["flags"], ["typed-time", "far-from-due"])
        self.assertEqual(self.desks()["33333333"]["flagged"], 2)

    def test_what_a_desk_adds_survives_a_restart_and_the_export(self):
        self.server.post("readings", [self.stamp("44444444", 1, flags="typed-time")],
                         self.server.timekeeper)
        told = self.desks()["44444444"]
        self.server.restart()
        self.assertEqual(self.desks()["44444444"], told)
        folder = self.server.folder + "/exported"
        cairn("export", self.server.data, SLUG, folder)
        with open(folder + "/readings.csv", encoding="utf-8", newline="") as file:
            row = next(row for row in csv.DictReader(file) if row["id"] == "44444444-1")
        self.assertEqual((row["desk"], row["seq"], row["flags"]), ("44444444", "1", "typed-time"))

    def test_reports_that_are_wrong_are_told_where(self):
        for changes, where in (({"clock": "fine"}, "clock"), ({"last_seq": -1}, "last_seq"),
                               ({"unsent": "x"}, "unsent"), ({"more": 1}, "more"),
                               ({"points": ["PC1"]}, "points[0]"), ({"points": "TC1"}, "points")):
            told = self.assert_problem(self.report(**changes), 400)
            self.assertIn(where, told["detail"])
        self.assert_problem(self.server.post("desks/0a1b2c3d", b"[", self.server.timekeeper), 400)
        self.assert_problem(self.server.post("desks/0a1b2c3d", b"", self.server.timekeeper), 400)
        for name in ("x", "0A1B2C3D", "0a1b2c3d0", "0a1b2c3g"):
            self.assert_problem(self.report(name), 404)

    def test_more_desks_than_are_kept_push_out_the_oldest(self):
        for number in range(520):
            self.report(f"{number:08x}")
        kept = [d for d in self.desks() if d.startswith("00000")]
        self.assertEqual(len(kept), 512)
        self.assertIn(f"{519:08x}", kept)


class KeysTest(ServedTest):
    def make(self, **fields):
        return self.server.post("keys", {"role": "timekeeper", "points": "TC1", **fields})

    def test_a_key_made_works_at_once_for_its_points(self):
        told = self.make(label="quay").json()
        rows = [{"point": "TC1", "car": 8, "time": "09:10:00"}, {"point": "PC1", "car": 8}]
        taken = self.server.post("readings", rows, told["key"]).json()
        self.assertEqual((taken["accepted"], len(taken["refused"])), (1, 1))
        listed = self.server.get(f"{API}/keys", self.server.organiser).json()["keys"]
        mine = next(key for key in listed if key["id"] == told["id"])
        self.assertEqual((mine["role"], mine["points"], mine["label"], mine["revoked"]),
                         ("timekeeper", "TC1", "quay", False))
        self.assertNotIn(told["key"], str(listed))

    def test_its_link_holds_it_in_the_fragment_alone(self):
        told = self.make(base="https://control.example:8443").json()
        self.assertEqual(told["link"],
                         f"https://control.example:8443/{SLUG}/control#{told['key']}")
        self.assertTrue(told["qr"].startswith("<svg"))
        office = self.make(role="organiser", points="", base="http://10.0.0.2:8080").json()
        self.assertEqual(office["link"], f"http://10.0.0.2:8080/{SLUG}/office#{office['key']}")

    def test_a_revoked_key_is_refused_at_once(self):
        told = self.make().json()
        answer = self.server.post(f"keys/{told['id']}", {"revoke": True})
        self.assertEqual(answer.status, 200, str(answer))
        rows = [{"point": "TC1", "car": 8, "time": "09:11:00"}]
        self.assert_problem(self.server.post("readings", rows, told["key"]), 401)
        self.assert_problem(self.server.post(f"keys/{told['id']}", {"revoke": True}), 404)

    def test_no_key_is_made_from_what_is_wrong(self):
        before = len(self.server.get(f"{API}/keys", self.server.organiser).json()["keys"])
        for fields, where in (({"role": "boss"}, "role"), ({"points": ""}, "points"),
                              ({"points": "TC1,X"}, "X"), ({"base": "quay"}, "base"),
                              ({"base": "https://x/y"}, "base"), ({"more": "x"}, "more"),
                              ({"role": "organiser"}, "points")):
            self.assertIn(where, self.assert_problem(self.make(**fields), 400)["detail"])
        self.assert_problem(self.server.post("keys", b"[]"), 400)
        self.assert_problem(self.server.post("keys", b"{}", media_type="text/plain"), 415)
        self.assert_problem(self.server.post("keys/1", {"revoke": False}), 400)
        self.assert_problem(self.server.post("keys/999", {"revoke": True}), 404)
        after = len(self.server.get(f"{API}/keys", self.server.organiser).json()["keys"])
        self.assertEqual(before, after)

    def test_the_command_prints_a_link_and_draws_its_code(self):
        drawing = self.server.folder + "/link.svg"
        link = self.server.add_key("--role", "timekeeper", "--points", "TC1", "--link",
                                   "https://10.0.0.2:8443", "--qr", drawing)
        found = re.fullmatch(rf"https://10\.0\.0\.2:8443/{SLUG}/control#([a-z0-9]{{32}})", link)
        with open(drawing, encoding="utf-8") as file:
            self.assertTrue(file.read().startswith("<svg"))
        self.assertEqual(os.stat(drawing).st_mode & 0o777, 0o600)
        self.wait_for(lambda: self.server.get(f"{API}/desk", found[1]).status == 200)
        for options in (("--link", "10.0.0.2"), ("--link", "https://x/y"), ("--qr", drawing)):
            with self.assertRaises(AssertionError):
                self.server.add_key("--role", "timekeeper", "--points", "TC1", *options)

    def test_the_log_has_no_key(self):
        told = self.make(base="https://127.0.0.1").json()
        self.server.get(f"/{SLUG}/control")
        self.assertNotIn(told["key"], self.server.log_text())


class PagesTest(ServedTest):
    def test_the_desks_page_is_the_same_for_everybody(self):
        bare = self.server.get(f"/{SLUG}/control")
        with_key = self.server.get(f"/{SLUG}/control", self.server.timekeeper)
        self.assertEqual(bare.body, with_key.body)
        self.assertNotIn(SECRET, bare.text)
        self.assertIn("worker-src 'self'", bare.headers["content-security-policy"])

    def test_the_worker_names_files_that_are_there(self):
        worker = self.server.get(f"/{SLUG}/worker.js")
        self.assertEqual(worker.media_type, "text/javascript")
        files = re.findall(r"'(/_/[^'/]+/[^']+)'", worker.text)
        self.assertTrue(files)
        for path in files:
            answer = self.server.get(path)
            self.assertEqual(answer.status, 200, path)
            self.assertIn("immutable", answer.headers["cache-control"])
