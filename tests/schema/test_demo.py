# SPDX-License-Identifier: MIT
"""The demo: its generator writes the folder that stands here, and its README tells what it scores to."""

import json
import os
import re
import subprocess
import sys
import tempfile
import unittest

CAIRN = os.environ.get("CAIRN", "build/cairn")
HOME = "seed-demo"
DEMO = os.path.join(HOME, "merrow-2027")

def scored(*arguments):
    """Rows of the overall standings by car."""
    told = subprocess.run([CAIRN, "score", DEMO, "--format", "json", *arguments],
                          capture_output=True, check=True).stdout
    return {row["car"]: row for row in json.loads(told)["standings"]}


class Demo(unittest.TestCase):
    def test_the_generator_writes_this_very_folder(self):
        with tempfile.TemporaryDirectory() as folder:
            subprocess.run([sys.executable, os.path.join(HOME, "generate.py"), folder], check=True)
            self.assertEqual(sorted(os.listdir(folder)), sorted(os.listdir(DEMO)))
            for name in os.listdir(folder):
                with open(os.path.join(folder, name), "rb") as new, \
                     open(os.path.join(DEMO, name), "rb") as kept:
                    self.assertEqual(new.read(), kept.read(), name)

    def test_its_readme_tells_what_it_scores_to(self):
        with open(os.path.join(HOME, "README.md"), encoding="utf-8") as file:
            text = " ".join(file.read().split())
        told = [re.search(words, text).groups() for words in (
            r"Car (\d+) .* leads after days 1 and 2, the second time by (\S+) from car (\d+) ",
            r"After day 3 car (\d+) leads, (\S+) ahead of car (\d+) .*, with four tests to go, (\S+)\. ",
            r"Car (\d+) wins with (\S+); car (\d+) is second with (\S+); car (\d+) is third")]
        (early, by, next_to), (lost, ahead, won, later), end = told
        for point, first, gap, second in (("TC6", early, None, None), ("TC12", early, by, next_to),
                                          ("TC18", lost, ahead, won), ("TC22", lost, later, won)):
            rows = list(scored("--after", point).values())
            self.assertEqual(rows[0]["car"], int(first), point)
            if gap:
                self.assertEqual((rows[1]["car"], rows[1]["behind_leader"]), (int(second), gap), point)
        rows = list(scored().values())
        self.assertEqual([str(row["car"]) for row in rows[:3]], [end[0], end[2], end[4]])
        self.assertEqual([row["penalty"] for row in rows[:2]], [end[1], end[3]])
        self.assertEqual((end[0], end[2]), (won, lost))


if __name__ == "__main__":
    unittest.main()
