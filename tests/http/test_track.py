# SPDX-License-Identifier: MIT
"""`cairn track`: readings from the tracks of cars' receivers, by a folder with known places."""

import csv
import datetime
import io
import json
import os
import shutil
import subprocess
import tempfile
import unittest

from tests.support import cairn as program
from tests.support.serving import API, SLUG, ServedTest

START = datetime.datetime(2027, 5, 20, 9, 0, 0, tzinfo=datetime.timezone.utc)
GATE = {"lat": "54.2", "heading": "90"}
EVENT = {
    "name": "Merrow Tracks", "slug": "merrow-tracks", "timezone": "Atlantic/Azores", "unit": "km",
    "days": [{"date": "2027-05-20", "first_start": "08:00", "interval": "00:01:00"}],
    "classes": {"scheme": "fiva"},
    "route": [
        {"day": 1, "id": "PC1", "kind": "passage-control", "place": {**GATE, "lon": "-4.5"}},
        {"day": 1, "id": "PC2", "kind": "passage-control",
         "place": {**GATE, "lon": "-4.49", "heading": 270}},
        {"day": 1, "id": "L1", "kind": "consistency", "laps": 2,
         "places": {point: {**GATE, "lon": "-4.48"} for point in ("/start", "/1", "/2")}},
        {"day": 1, "id": "PC3", "kind": "passage-control", "place": {**GATE, "lon": "-4.4"}}]}
ENTRIES = ("number,driver,navigator,make,model,year\n"
           "1,A. Thorne,M. Vale,Calder,Six,1934\n2,E. Marrick,S. Loam,Tolvan,Ten,1934\n")


def gpx(points, swapped=False):
    """A track of (seconds behind the start, latitude, longitude)."""
    text = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>\n'
    for seconds, lat, lon in points:
        lat, lon = (lon, lat) if swapped else (lat, lon)
        when = (START + datetime.timedelta(seconds=seconds)).strftime("%Y-%m-%dT%H:%M:%SZ")
        text += f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><time>{when}</time></trkpt>\n'
    return text + "</trkseg></trk></gpx>\n"


def eastward(begin, end, seconds=0, step=0.0002):
    """Along 54.2 north, 47 km/h."""
    count = int((end - begin) / step) + 1
    return [(seconds + i, 54.2, begin + step * i) for i in range(count)]


class TrackTest(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="cairn-track-")
        self.addCleanup(shutil.rmtree, self.folder)
        self.write("event.json", json.dumps(EVENT))
        self.write("entries.csv", ENTRIES)

    def write(self, name, text):
        path = os.path.join(self.folder, name)
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        return path

    def read(self, name):
        with open(os.path.join(self.folder, name), encoding="utf-8") as file:
            return file.read()

    def track(self, *arguments, status=0):
        """What it printed: standard output, lines of standard error without the folder."""
        done = program.cairn("track", self.folder, *arguments, code=status)
        return done.stdout.decode(), done.stderr.decode().replace(self.folder + "/", "")

    def rows(self, *arguments, status=0):
        out, _ = self.track(*arguments, "--csv", status=status)
        return list(csv.DictReader(io.StringIO(out)))

    def test_a_passage_becomes_a_reading_with_its_evidence(self):
        path = self.write("7.gpx", gpx(eastward(-4.51, -4.485)))
        rows = self.rows(f"1={path}")
        self.assertEqual([row["point"] for row in rows], ["PC1"])
        self.assertEqual(rows[0]["time"], "09:00:50.000")
        self.assertEqual(rows[0]["at"], "2027-05-20T09:00:50.000Z")
        self.assertEqual((rows[0]["flags"], rows[0]["source"]), ("track", "track"))
        self.assertLess(int(rows[0]["uncertainty_ms"]), 500)
        self.assertRegex(rows[0]["track"], r"^7\.gpx:5[123]$")
        self.assertEqual(rows[0]["speed"], "47.0 km/h")

    def test_the_clerk_reads_what_was_missed_and_driven_the_wrong_way(self):
        path = self.write("7.gpx", gpx(eastward(-4.51, -4.485)))
        out, _ = self.track("1", path)
        self.assertIn("  PC1: 09:00:50.0 ± 0.4 s, 47 km/h\n", out)
        self.assertIn("  PC2: not passed; the wrong way at 09:01:40\n", out)
        self.assertIn("  PC3: not passed; never near\n", out)

    def test_laps_on_one_line_get_its_passages_in_order_and_one_too_many_is_told(self):
        points = []
        for lap in range(4):
            points += eastward(-4.482, -4.478, 100 * lap)
            points += [(100 * lap + 30, 54.21, -4.478), (100 * lap + 40, 54.21, -4.482),
                       (100 * lap + 60, 54.205, -4.483)]
        path = self.write("7.gpx", gpx(points))
        rows = self.rows(f"1={path}", "--gap", "60")
        self.assertEqual([(row["point"], row["time"]) for row in rows],
                         [("L1/start", "09:00:10.000"), ("L1/1", "09:01:50.000"),
                          ("L1/2", "09:03:30.000")])
        self.assertEqual({row["flags"] for row in rows}, {"track twice"})
        self.assertIn("passed 1 time more, first at 09:05:10", self.track(f"1={path}", "--gap", "60")[0])

    def test_a_gap_is_named_and_nothing_is_read_in_it(self):
        path = self.write("7.gpx", gpx([point for point in eastward(-4.51, -4.48)
                                        if not 40 < point[0] < 60]))
        out, _ = self.track(f"1={path}")
        self.assertIn("  PC1: perhaps passed in a gap of the track, 09:00:40 to 09:01:00\n", out)
        self.assertIn("  gap 2027-05-20 09:00:40 to 2027-05-20 09:01:00\n", out)

    def test_an_average_above_the_limit_is_a_doubt(self):
        path = self.write("7.gpx", gpx(eastward(-4.51, -4.47, step=0.0003)))
        out, _ = self.track(f"1={path}")
        self.assertRegex(out, r"from PC1 1\.30\d km in 1 min 7 s, 70\.\d km/h: doubt: above the published limit")

    def test_many_at_once_by_a_list_and_a_car_that_is_not_entered(self):
        self.write("a.gpx", gpx(eastward(-4.51, -4.495)))
        self.write("b.gpx", gpx(eastward(-4.51, -4.495, 120)))
        cars = self.write("cars.csv", "car,file\n1,a.gpx\n2,b.gpx\n77,b.gpx\n")
        rows = self.rows("--list", cars, status=2)
        self.assertEqual([(row["car"], row["time"]) for row in rows],
                         [("1", "09:00:50.000"), ("2", "09:02:50.000")])
        self.assertIn("b.gpx: car 77 is not in the entry list\n",
                      self.track("--list", cars, status=2)[1])

    def test_saved_readings_are_there_once_and_others_stay_as_they_are(self):
        path = self.write("7.gpx", gpx(eastward(-4.51, -4.495)))
        self.write("readings.csv", "car,point,time,lamp\n2,PC1,09:05:00,red\n9,PC9,later,\n")
        self.assertIn("1 readings added", self.track(f"1={path}", "--save")[0])
        self.assertIn("0 readings added", self.track(f"1={path}", "--save")[0])
        lines = self.read("readings.csv").splitlines()
        self.assertEqual(lines[0], "car,point,time,lamp,at,by,flags,uncertainty_ms,source,track,speed,beside")
        self.assertEqual(lines[1:3], ["2,PC1,09:05:00,red,,,,,,,,", "9,PC9,later,,,,,,,,,"])
        self.assertEqual(len(lines), 4)
        board = json.loads(program.cairn("score", self.folder, "--format", "json").stdout)
        self.assertEqual({row["car"]: row["through"] for row in board["standings"]},
                         {1: "PC1", 2: "PC1"})

    def test_swapped_axes_another_place_and_another_day_are_told(self):
        path = self.write("s.gpx", gpx(eastward(-4.51, -4.495), swapped=True))
        self.assertEqual(self.track(f"1={path}", status=2)[1], "s.gpx: latitude and longitude are swapped\n")
        path = self.write("f.gpx", gpx(eastward(20, 20.01)))
        self.assertEqual(self.track(f"1={path}", status=2)[1],
                         "f.gpx: it is nowhere near the places of event.json\n")
        path = self.write("w.gpx", gpx(eastward(-4.51, -4.495, -7 * 86400)))
        out, _ = self.track(f"1={path}")
        self.assertIn("all passages are on other days than the event's: is the receiver's date right?", out)
        self.assertEqual(self.rows(f"1={path}"), [])

    def test_half_a_file_gives_what_is_good_in_it(self):
        text = gpx(eastward(-4.51, -4.495))
        path = self.write("h.gpx", text[:-60])
        rows = self.rows(f"1={path}", status=2)
        self.assertEqual([row["point"] for row in rows], ["PC1"])
        self.assertIn("what stands before it is used", self.track(f"1={path}", status=2)[1])

    def test_a_long_track_takes_no_more_memory_than_a_short_one(self):
        """Through a pipe, forth and back; 25 MB of text, of which the program may keep 4."""
        def most_memory(rounds):
            pipe = os.path.join(self.folder, f"{rounds}.gpx")
            os.mkfifo(pipe)
            with subprocess.Popen([program.CAIRN, "track", self.folder, f"1={pipe}"],
                                  stdout=subprocess.DEVNULL) as process:
                with open(pipe, "w", encoding="utf-8") as file:
                    file.write(gpx(eastward(-4.51, -4.495)).replace("</trkseg></trk></gpx>\n", ""))
                    for i in range(rounds):
                        points = eastward(-4.6, -4.4, 2000 * (i + 1))
                        file.write(gpx(points).partition("<trkseg>\n")[2].partition("</trkseg>")[0])
                    file.write("</trkseg></trk></gpx>\n")
                _, status, used = os.wait4(process.pid, 0)
                process.returncode = os.waitstatus_to_exitcode(status)
            self.assertEqual(process.returncode, 0)
            return used.ru_maxrss
        self.assertLess(most_memory(300) - most_memory(1), 4096)

    def test_no_times_and_no_places_are_told(self):
        path = self.write("n.gpx", '<gpx><trk><trkseg><trkpt lat="54.2" lon="-4.5"/></trkseg></trk></gpx>')
        self.assertEqual(self.track(f"1={path}", status=2)[1],
                         "n.gpx:1: 1 point without a time: left out\nn.gpx: none of its points can be used\n")
        event = {**EVENT, "route": [{"day": 1, "id": "PC1", "kind": "passage-control"}]}
        self.write("event.json", json.dumps(event))
        self.assertIn("event.json tells no places", self.track(f"1={path}", status=2)[1])


class ServerTest(ServedTest):
    def test_a_server_is_asked_for_its_event_and_sent_the_readings(self):
        folder = tempfile.mkdtemp(prefix="cairn-track-")
        self.addCleanup(shutil.rmtree, folder)
        path, key = os.path.join(folder, "1.gpx"), os.path.join(folder, "key")
        with open(key, "w", encoding="utf-8") as file:
            file.write(self.server.organiser)
        points = [(seconds - 100, 54.237713, -4.551277 + 0.0002 * (seconds - 25.5))
                  for seconds in range(60)]
        with open(path, "w", encoding="utf-8") as file:
            file.write(gpx(points).replace("2027-05-20", "2031-06-06"))
        address = f"http://127.0.0.1:{self.server.port}/{SLUG}/"
        command = ("track", address, "2", path, "--key-file", key, "--save")
        self.assertIn("1 readings new to the server, 0 there already, 0 refused\n",
                      program.cairn(*command).stdout.decode())
        self.assertIn("0 readings new to the server, 1 there already, 0 refused\n",
                      program.cairn(*command).stdout.decode())
        rows = self.server.get(f"{API}/readings?car=2", self.server.organiser).text
        self.assertIn('"flags":"track"', rows)
        self.assertIn('"uncertainty_ms":', rows)
        with open(key, "w", encoding="utf-8") as file:
            file.write(self.server.timekeeper)
        refused = program.cairn(*command, code=1).stderr.decode()
        self.assertIn("the server does not take this key: an organiser's is needed", refused)

    def test_the_server_loads_neither_library(self):
        with open(f"/proc/{self.server.process.pid}/maps", encoding="utf-8") as file:
            maps = file.read()
        self.assertIn("libsqlite3", maps)
        self.assertNotIn("libproj", maps)
        self.assertNotIn("libexpat", maps)


if __name__ == "__main__":
    unittest.main()
