# SPDX-License-Identifier: MIT
"""Readings that a desk sends and that are of no car of the list: kept for the office, counted for
nobody, and counted by themselves once the entry is there."""

import json
import os
import signal

from tests.support.serving import API, ENTRIES, SLUG, ServedTest, cairn


def reading(car, time="08:55:10", point="TC1", **more):
    body = {"point": point, "time": time, "desk": "0a1b2c3d", "seq": 1, "source": "key"}
    if car is not None:
        body["car"] = car
    return {**body, **more}


class Sending(ServedTest):
    """What the tests send and look at."""

    def post(self, *rows, key=None):
        answer = self.server.send("POST", "readings", json.dumps(rows),
                                  key or self.server.timekeeper)
        self.assertEqual(answer.status, 200, answer)
        return answer.json()

    def take(self, *rows):
        told = self.post(*rows)
        self.assertEqual((told["accepted"], told["refused"]), (len(rows), []))

    def shown(self):
        """What the public sees, whatever revision it is."""
        told = self.server.get(f"{API}/standings").json()
        told.pop("revision")
        return told

    def put_entries(self, text):
        answer = self.server.send("PUT", "entries", text, self.server.organiser,
                                  media_type="text/csv")
        self.assertEqual(answer.status, 200, answer)

    def late(self):
        header = ENTRIES.splitlines()[0].split(",")
        row = {"number": "402", "driver": "Merle Quay", "make": "Marl", "model": "Ten",
               "year": "1937"}
        return ENTRIES + ",".join(row.get(name, "") for name in header) + "\n"

    def card(self, car):
        return self.server.get(f"{API}/cars/{car}", self.server.organiser).text


class UnassignedTest(Sending):
    def test_a_number_that_is_in_no_list_is_kept_and_shows_nowhere(self):
        before = self.shown()
        self.take(reading(417, id="unknown-417"))
        self.assertEqual(self.shown(), before)
        kept = self.server.get(f"{API}/readings", self.server.organiser).json()["readings"]
        mine = next(r for r in kept if r["id"] == "unknown-417")
        self.assertEqual((mine["car"], mine["counts"]), ("417", False))

    def test_the_organiser_is_told_how_many_wait(self):
        def told(address):
            return self.server.get(f"{API}/{address}", self.server.organiser).json()["without_car"]
        before = told("status")
        self.take(reading(433, id="count-433"), reading(None, time="08:56:00", id="count-blank"),
                  reading(9, time="08:57:00", id="count-trial", flags="rehearsal"))
        self.assertEqual(told("status"), before + 2)
        self.assertEqual(told("classifications/provisional"), before + 2)
        self.take({"point": "TC1", "car": 433, "void": "yes", "replaces": "count-433",
                   "reason": "no such car", "desk": "0a1b2c3d", "id": "count-433-void"})
        self.assertEqual(told("status"), before + 1)
        self.assertEqual(told("classifications/provisional"), before + 1)

    def test_the_organiser_is_told_how_many_wait(self):
        def told(address):
            return self.server.get(f"{API}/{address}", self.server.organiser).json()["without_car"]
        before = told("status")
        self.take(reading(433, id="count-433"), reading(None, time="08:56:00", id="count-blank"),
                  reading(9, time="08:57:00", id="count-trial", flags="rehearsal"))
        self.assertEqual(told("status"), before + 2)
        self.assertEqual(told("classifications/provisional"), before + 2)
        self.take({"point": "TC1", "car": 433, "void": "yes", "replaces": "count-433",
                   "reason": "no such car", "desk": "0a1b2c3d", "id": "count-433-void"})
        self.assertEqual(told("status"), before + 1)
        self.assertEqual(told("classifications/provisional"), before + 1)

    def doubt(self, kind, **more):
        told = self.server.get(f"{API}/doubts", self.server.organiser).json()["doubts"]
        return [d for d in told if d["kind"] == kind
                and all(d[name] == value for name, value in more.items())]

    def test_the_office_is_asked_and_rules_on_what_it_has_seen(self):
        self.take(reading(None, time="08:52:10", id="asked", flags="hard-to-see"))
        (doubt,) = [d for d in self.doubt("no-car") if d["readings"][0]["id"] == "asked"]
        self.assertEqual((doubt["car"], doubt["crew"], doubt["point"], doubt["open"],
                          doubt["readings"][0]["counts"], doubt["moves"]),
                         (None, [], "TC1", False, False, []))
        self.assertEqual(doubt["readings"][0]["extra"]["flags"], "hard-to-see")
        given = {"point": "TC1", "car": 9, "time": "08:52:10", "replaces": "asked",
                 "reason": "radio: car 9"}
        seen = {"If-Match": f'"e{doubt["said"]}"'}
        self.assert_taken(self.server.post("readings", [dict(given, id="given-9")],
                                           **seen), 1)
        self.assertEqual([d for d in self.doubt("no-car") if d["readings"][0]["id"] == "asked"],
                         [])
        late = self.server.post("readings", [dict(given, car=5, id="given-5")], **seen)
        self.assert_problem(late, 412)
        self.assert_taken(self.server.post("readings", [dict(given, car=5, id="given-5")]), 1)
        (twice,) = self.doubt("twice")
        self.assertIn("to car 9", twice["why"])

    def test_an_unknown_car_and_an_unknown_fault_are_doubts(self):
        self.take(reading(444, id="doubt-444"),
                  reading(3, time="09:41:00", point="S1/finish", faults={"flag": 1}))
        (doubt,) = self.doubt("unknown-car", car=444)
        self.assertIn("not in the entry list", doubt["why"])
        answer = self.server.post("doubts", {"case": doubt["id"], "by": "C. Marsh",
                                             "reason": "A marshal's car", "state": "acknowledged"})
        self.assertEqual(answer.status, 200, answer)
        self.assertEqual(self.doubt("unknown-car", car=444), [])
        self.assertEqual([d["point"] for d in self.doubt("unknown-fault", car=3)], ["S1/finish"])

    def test_the_office_withdraws_a_time_without_a_number(self):
        self.take(reading(None, time="08:52:40", id="nobody"))
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "desk": "office", "void": True, "replaces": "nobody",
             "reason": "a spectator"}]), 1)
        self.assertEqual([d for d in self.doubt("no-car") if d["readings"][0]["id"] == "nobody"],
                         [])

    def test_who_times_there_sees_what_is_kept_and_nobody_else(self):
        def there(point):
            told = self.server.get(f"{API}/expected?point={point}", self.server.timekeeper)
            return {(r["reading"], r["car"], r["time"]) for r in told.json()["without_car"]}
        before = there("TC1")
        self.take(reading(455, time="08:51:00", id="mine-455"),
                  reading(None, time="08:51:10", id="mine-blank"))
        self.assertEqual(there("TC1") - before, {("mine-455", "455", "08:51:00"),
                                                 ("mine-blank", "", "08:51:10")})
        self.assertFalse({name for name, _, _ in there("TC1/out")} & {"mine-455", "mine-blank"})
        self.assertNotIn("mine-455", self.server.get(f"{API}/standings").text)

    def test_without_a_desk_it_is_refused_as_in_a_file(self):
        row = reading(418, id="no-desk")
        del row["desk"]
        told = self.post(row)
        self.assertEqual(told["accepted"], 0)
        self.assertIn("car “418” is not in the entry list", told["refused"][0]["reason"])

    def test_a_time_without_a_number_is_kept(self):
        before = self.shown()
        self.take(reading(None, id="blank-1", source="blank"))
        self.assertEqual(self.shown(), before)

    def test_neither_car_nor_time_is_refused(self):
        told = self.post({"point": "PC1", "desk": "0a1b2c3d"}, key=self.server.organiser)
        self.assertEqual(told["refused"][0]["reason"], "it names neither a car nor a time")

    def test_what_is_no_number_is_refused(self):
        told = self.post(reading("7a"))
        self.assertIn("car “7a” is not in the entry list", told["refused"][0]["reason"])

    def test_the_number_that_is_given_later_makes_it_count(self):
        self.take(reading(None, time="08:53:00", id="blank-2"))
        self.take(reading(8, time="08:53:00", id="blank-2-given", replaces="blank-2",
                          reason="number added"))
        self.assertIn("blank-2-given", json.dumps(
            self.server.get(f"{API}/expected?point=TC1", self.server.timekeeper).json()))

    def test_a_rehearsal_counts_for_nobody(self):
        before = self.shown()
        self.take(reading(9, time="08:58:00", id="trial-9", flags="rehearsal far-from-due"))
        self.assertEqual(self.shown(), before)
        self.take({"point": "TC1", "car": 9, "void": "yes", "replaces": "trial-9",
                   "reason": "rehearsal", "desk": "0a1b2c3d", "id": "trial-9-void"})
        self.assertEqual(self.shown(), before)

    def test_a_fault_that_the_test_does_not_name_is_kept_aside(self):
        self.take(reading(1, time="09:40:00", point="S1/finish", faults={"cone": 1, "flag": 2},
                          id="odd-fault"))
        kept = self.server.get(f"{API}/readings", self.server.organiser).json()["readings"]
        self.assertTrue(next(r for r in kept if r["id"] == "odd-fault")["counts"])


class EntryComesTest(Sending):
    """The entry list is changed here."""

    def test_a_desk_sees_by_a_tag_that_it_has_another_list(self):
        def tags():
            return {self.server.get(f"{API}/{address}", self.server.timekeeper).json()["list"]
                    for address in ("desk", "expected?point=TC1")}
        self.put_entries(ENTRIES)
        (before,) = tags()
        self.take(reading(9, time="08:56:40", id="no-other-list"))
        self.assertEqual(tags(), {before})
        self.put_entries(ENTRIES.replace("1966", "1967"))
        (after,) = tags()
        self.assertNotEqual(after, before)
        self.put_entries(ENTRIES)
        self.assertEqual(tags(), {before})

    def test_it_counts_by_itself_once_the_entry_is_there_and_lasts_through_a_kill(self):
        self.take(reading(402, time="08:54:00", id="early-402"))
        self.assertEqual(self.server.get(f"{API}/cars/402").status, 404)
        self.put_entries(self.late())
        self.assertIn("08:54", self.card(402))
        self.server.served.end(signal.SIGKILL)
        self.server.served.discard()
        self.server.start()
        self.assertIn("08:54", self.card(402))


class FolderTest(Sending):
    """Out as a folder and in again."""

    def test_nothing_is_lost_on_the_way(self):
        self.take(reading(417, id="unknown-417"), reading(None, id="blank-1"),
                  reading(9, time="08:58:00", id="trial-9", flags="rehearsal"),
                  reading(1, time="09:40:00", point="S1/finish", faults={"flag": 2}, id="odd"))
        out = os.path.join(self.server.folder, "out")
        cairn("export", self.server.data, SLUG, out)
        with open(os.path.join(out, "readings.csv"), encoding="utf-8") as file:
            self.assertNotIn("417", file.read())
        with open(os.path.join(out, "unassigned.csv"), encoding="utf-8") as file:
            aside = file.read()
        for name in ("unknown-417", "blank-1", "trial-9", "odd"):
            self.assertIn(name, aside)
        again = os.path.join(self.server.folder, "again")
        os.mkdir(again)
        cairn("import", again, out)
        back = os.path.join(self.server.folder, "back")
        cairn("export", again, SLUG, back)
        for name in ("readings.csv", "unassigned.csv"):
            with open(os.path.join(out, name), encoding="utf-8") as one, \
                    open(os.path.join(back, name), encoding="utf-8") as other:
                self.assertEqual(one.read(), other.read(), name)
        cairn("score", out, "--strict")
