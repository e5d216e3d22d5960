# SPDX-License-Identifier: MIT
"""`cairn send` of the tables that timing devices write."""

import csv
import os

from tests.support.sending import Shell
from tests.support.serving import SLUG, ServedTest, cairn


class SendDeviceTest(Shell, ServedTest):
    """Forms that no readings.csv has."""

    def setUp(self):
        super().setUp()
        self.url = f"http://127.0.0.1:{self.server.port}/{SLUG}/"

    def send(self, path, *options, **more):
        return self.cairn_send(self.url, path, *options, key=self.server.organiser, **more)

    def times(self, car):
        """The times of a car at PC1, as the event has them."""
        out = os.path.join(self.folder, f"export-{len(os.listdir(self.folder))}")
        cairn("export", self.server.data, SLUG, out)
        with open(os.path.join(out, "readings.csv"), encoding="utf-8") as file:
            return sorted(row["time"] for row in csv.DictReader(file)
                          if (row["point"], row["car"]) == ("PC1", car))

    def test_each_way_to_write_a_time(self):
        path = self.write("beam.txt", "3;9:07:20,5\n3;100721\n3;9:07:22 PM\n"
                                      "3;2027-05-20T11:07:23+02:00\n")
        self.send(path, "--columns", "car=1,time=2", "--point=PC1", "--date=2027-05-20")
        self.assertEqual(self.times("3"), ["09:07:20.5", "10:07:21", "11:07:23", "21:07:22"])

    def test_other_letters(self):
        text = "point,car,time,by\nPC1,9,10:00:0{},Köhler\n"
        for number, encoding in enumerate(("utf-8", "cp1252", "utf-16", "utf-16-le"), 1):
            path = self.write(f"{number}.csv", text.format(number).encode(encoding))
            told = ("--encoding", "utf-16le") if encoding == "utf-16-le" else ()
            out, err = self.send(path, *told)
            self.assertIn("1 of 1 sent: 1 new", out, err)
        self.assertEqual(self.times("9"), [f"10:00:0{n}" for n in range(1, 5)])

    def test_a_file_that_is_still_being_written_loses_no_digit(self):
        begun = "point,car,time\nPC1,5,10:01:00\nPC1,5,10:02:00.1"
        path = self.write("grows.csv", begun)
        _, err = self.send(path, code=2)
        self.assertEqual(err, f"{path}:3: the last line has no line end and may not be whole: it "
                              "is not sent; end it, or say --whole\n")
        self.write("grows.csv", begun + "23\nPC1,5,10:03:00")
        self.send(path, code=2)
        self.assertEqual(self.times("5"), ["10:01:00", "10:02:00.123"])
        self.send(path, "--whole")
        self.assertEqual(self.times("5"), ["10:01:00", "10:02:00.123", "10:03:00"])

    def test_what_was_rejected_is_mended_and_sent(self):
        path = self.write("mixed.csv", "Nr;Zeit\n8;10:04:00\n8;10h05\n77;10:06:00\n8;10:07:00\n")
        options = ("--columns", "car=Nr,time=Zeit", "--point=PC1")
        out, _ = self.send(path, *options, code=2)
        rejects = path + ".rejects"
        self.assertIn(f"2 to be mended: {rejects}\n", out)
        with open(rejects, encoding="utf-8") as file:
            text = file.read()
        self.assertEqual(
            text, "Nr;Zeit\n"
                  "# cairn: line 3: time “10h05” is not written as a time of day, such as 10:42:59; "
                  "write 10:05\n8;10h05\n"
                  "# cairn: line 4: car “77” is not in the entry list\n77;10:06:00\n")
        self.write("mixed.csv.rejects", text.replace("10h05\n", "10:05\n").replace("\n77;", "\n8;"))
        self.send(rejects, *options)
        self.assertEqual(self.times("8"), ["10:04:00", "10:05", "10:06:00", "10:07:00"])
        self.assertFalse(os.path.exists(rejects + ".rejects"))


del ServedTest
