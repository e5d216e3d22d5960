# SPDX-License-Identifier: MIT
"""Coverage of a folder is the share of its lines that ran; a folder without any trace is an
error."""

import contextlib
import io
import os
import tempfile
import unittest

import coverage

TRACE = """SF:/x/lib/a.c
DA:1,4
DA:2,0
DA:3,1
end_of_record
SF:/x/lib/b.c
DA:7,1
end_of_record
SF:/x/server/c.c
DA:1,0
end_of_record
"""


class CoverageTest(unittest.TestCase):
    def tell(self, text, *aims):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "trace")
            with open(path, "w", encoding="utf-8") as file:
                file.write(text)
            out = io.StringIO()
            with contextlib.redirect_stdout(out):
                code = coverage.main(path, aims)
            return code, out.getvalue().splitlines()

    def test_lines_are_summed_by_folder(self):
        code, lines = self.tell(TRACE, "lib:75")
        self.assertEqual((code, lines[0]), (0, "lib/: 75.0 % of 4 lines, aim 75 %"))
        self.assertEqual(lines[1:], ["      1 of     3 lines never ran: a.c"])

    def test_a_missed_aim_fails(self):
        code, lines = self.tell(TRACE, "lib:76", "server:0")
        self.assertEqual(code, 1)
        self.assertTrue(lines[0].endswith("(missed)"))
        self.assertEqual(self.tell(TRACE, "lib:0", "server:1")[0], 1)

    def test_nothing_traced_fails(self):
        self.assertEqual(self.tell("", "lib:0")[0], 1)
        self.assertEqual(self.tell(TRACE, "web:0")[0], 1)


if __name__ == "__main__":
    unittest.main()
