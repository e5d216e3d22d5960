# SPDX-License-Identifier: MIT
"""`cairn feed`: the lines of a device, as they come."""

import csv
import os
import pty
import signal
import subprocess
import time
import tty

from tests.support.cairn import CAIRN
from tests.support.sending import Shell, environment
from tests.support.serving import SLUG, ServedTest, cairn

COLUMNS = ("--columns", "car=1,time=2", "--point=PC1")


class FeedTest(Shell, ServedTest):
    """Feeds the real server."""

    def setUp(self):
        super().setUp()
        self.url = f"http://127.0.0.1:{self.server.port}/{SLUG}/"
        self.journal = os.path.join(self.folder, "beam.lines")

    def feed(self, *options, url=None, stdin=subprocess.PIPE):
        process = subprocess.Popen(
            [CAIRN, "feed", url or self.url, "--journal", self.journal, *options],
            env=environment(CAIRN_KEY=self.server.organiser), stdin=stdin,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(self.end, process)
        return process

    def feed_text(self, text, *options, code=0):
        process = self.feed(*options)
        out, err = process.communicate(text if isinstance(text, bytes) else text.encode(), 120)
        self.assertEqual(process.returncode, code, (out, err))
        return out.decode(), err.decode()

    def exported(self, name):
        """The rows of a file of the event, as it has them now."""
        out = os.path.join(self.folder, f"export-{time.monotonic_ns()}")
        cairn("export", self.server.data, SLUG, out)
        with open(os.path.join(out, name), encoding="utf-8") as file:
            return list(csv.DictReader(file))

    def times(self, car, hour):
        """The times of a car at PC1 in an hour of the day."""
        return sorted(row["time"] for row in self.exported("readings.csv")
                      if (row["point"], row["car"]) == ("PC1", car)
                      and row["time"].startswith(hour))

    def wait_for(self, what):
        """Until `what()` holds; the test as a whole has a limit of its own."""
        while not what():
            time.sleep(0.05)

    def read(self, path):
        with open(path, encoding="utf-8") as file:
            return file.read()

    def test_lines_of_standard_input_are_kept_and_sent_once(self):
        text = "1,9:07:20\n1,9:07:21\n1,9:07:21\n"
        out, _ = self.feed_text(text, *COLUMNS)
        self.assertIn("2 new, 0 there already, 0 to be mended\n", out)
        self.assertEqual(self.read(self.journal), "1,9:07:20\n1,9:07:21\n")
        out, _ = self.feed_text("1,9:07:22\n", *COLUMNS)
        self.assertIn("1 new, 0 there already", out)
        self.assertEqual(self.times("1", "09"), ["09:07:20", "09:07:21", "09:07:22"])
        os.unlink(self.journal + ".sent")
        out, _ = self.feed_text("", *COLUMNS)
        self.assertIn("0 new, 3 there already", out)

    def test_headings_stand_once_however_often_the_device_begins(self):
        self.feed_text("Nr;Zeit\n2;10:00:00\nNr;Zeit\n2;10:00:01\n",
                       "--columns=car=Nr,time=Zeit", "--point=PC1")
        self.feed_text("Nr;Zeit\n2;10:00:02\n", "--columns=car=Nr,time=Zeit", "--point=PC1")
        self.assertEqual(self.read(self.journal), "Nr;Zeit\n2;10:00:00\n2;10:00:01\n2;10:00:02\n")
        self.assertEqual(self.times("2", "10"), ["10:00:00", "10:00:01", "10:00:02"])

    def test_nonsense_and_half_lines_cost_no_good_line(self):
        nonsense = b'\x00\xff\xfe"\n"open\n' + b"x" * 100_000 + b"\n"
        _, err = self.feed_text(b"3,11:00:00\n" + nonsense + b"3,11:00:01\n" + nonsense
                                + b"3,11:00:02\n3,11:00:0", *COLUMNS, code=2)
        self.assertIn("a line without end is passed over", err)
        self.assertIn("the last line has no line end and may not be whole; it is not sent: "
                      "3,11:00:0\n", err)
        self.assertEqual(self.times("3", "11"), ["11:00:00", "11:00:01", "11:00:02"])
        self.assertIn("# cairn: line 3: a quoted field is not closed\n\"open\n",
                      self.read(self.journal + ".rejects"))

    def test_the_same_line_for_ever_takes_one_line_of_disk(self):
        self.feed_text("5,12:00:00\n" * 200_000, *COLUMNS)
        self.assertEqual(self.read(self.journal), "5,12:00:00\n")
        self.assertEqual(self.times("5", "12"), ["12:00:00"])

    def test_times_that_run_backwards_are_told_and_kept(self):
        _, err = self.feed_text("8,12:10:00\n8,12:09:00\n8,12:11:00\n", *COLUMNS)
        self.assertIn(f"{self.journal}:2: warning: the device's times run backwards", err)
        self.assertEqual(self.times("8", "12"), ["12:09:00", "12:10:00", "12:11:00"])

    def test_last_week_is_not_taken_for_today(self):
        self.feed_text("9,2031-05-30T10:00:00+02:00\n9,2031-06-06T10:00:00+02:00\n", *COLUMNS,
                       "--date=2031-06-06", code=2)
        self.assertEqual(self.times("9", "10"), ["10:00:00"])
        self.assertIn("is of another day than 2031-06-06", self.read(self.journal + ".rejects"))

    def test_a_growing_file_waits_for_its_line_ends_and_goes_on_after_a_kill(self):
        path = self.write("device.txt", "1,13:00:00\n1,13:00:01.1")
        process = self.feed(*COLUMNS, "--follow", path)
        self.wait_for(lambda: self.times("1", "13").count("13:00:00"))
        with open(path, "a", encoding="utf-8") as file:
            file.write("23\n")
        self.wait_for(lambda: self.times("1", "13").count("13:00:01.123"))
        self.wait_for(lambda: os.path.exists(self.journal + ".sent"))
        process.send_signal(signal.SIGKILL)
        process.wait()
        with open(path, "a", encoding="utf-8") as file:
            file.write("1,13:00:02\n")
        process = self.feed(*COLUMNS, "--follow", path)
        self.wait_for(lambda: self.times("1", "13").count("13:00:02"))
        self.assertEqual(self.times("1", "13"),
                         ["13:00:00", "13:00:01.123", "13:00:02"])

    def test_what_comes_while_there_is_no_server_is_kept_and_sent_later(self):
        process = self.feed(*COLUMNS, url=f"http://127.0.0.1:9/{SLUG}/")
        process.stdin.write(b"2,14:00:00\n2,14:00:01\n")
        process.stdin.flush()
        self.wait_for(lambda: os.path.exists(self.journal)
                      and self.read(self.journal).count("\n") == 2)
        process.send_signal(signal.SIGKILL)
        process.wait()
        self.feed_text("", *COLUMNS)
        self.assertEqual(self.times("2", "14"),
                         ["14:00:00", "14:00:01"])

    def test_pulses_without_a_number_wait_for_the_office(self):
        self.feed_text("C1;16:00:00,123\nC1;16:00:01,456\nC2;16:00:02\n",
                       "--columns", "channel=1,time=2", "--channel", "C1=PC1", code=2)
        self.assertEqual([(row["car"], row["point"], row["time"], row["channel"], row["flags"])
                          for row in self.exported("unassigned.csv")],
                         [("", "PC1", "16:00:00.123", "C1", "clock-unverified"),
                          ("", "PC1", "16:00:01.456", "C1", "clock-unverified")])
        self.assertIn("channel “C2” stands at no point", self.read(self.journal + ".rejects"))

    def test_a_serial_line(self):
        ours, device = pty.openpty()
        tty.setraw(ours)
        self.addCleanup(os.close, ours)
        process = self.feed(*COLUMNS, "--serial", os.ttyname(device), "--speed=19200",
                            "--parity=even", stdin=subprocess.DEVNULL)
        os.write(ours, b"3,15:00:0")
        self.wait_for(lambda: os.path.exists(self.journal))
        os.write(ours, b"0\r\n3,15:00:01\r\n")
        self.wait_for(lambda: self.times("3", "15").count("15:00:01"))
        os.close(device)
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=60)
        self.assertEqual(self.times("3", "15"),
                         ["15:00:00", "15:00:01"])


del ServedTest
