# SPDX-License-Identifier: MIT
"""The demo: its generator writes the folder that stands here, and its README tells what it scores to."""

import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import unittest

CAIRN = os.environ.get("CAIRN", "build/cairn")
HOME = "seed-demo"
DEMO = os.path.join(HOME, "merrow-2027")
sys.path.insert(0, os.path.abspath(HOME))

import generate  # noqa: E402  pylint: disable=wrong-import-position


def scored(*arguments):
    """Rows of the overall standings by car."""
    told = subprocess.run([CAIRN, "score", DEMO, "--format", "json", *arguments],
                          capture_output=True, check=True).stdout
    return {row["car"]: row for row in json.loads(told)["standings"]}


class Demo(unittest.TestCase):
    def test_the_generator_writes_this_very_folder(self):
        with tempfile.TemporaryDirectory() as folder:
            generate.FOLDER = pathlib.Path(folder)
            generate.main()
            self.assertEqual(sorted(os.listdir(folder)), sorted(os.listdir(DEMO)))
            for name in os.listdir(folder):
                with open(os.path.join(folder, name), "rb") as new, \
                     open(os.path.join(DEMO, name), "rb") as kept:
                    self.assertEqual(new.read(), kept.read(), name)

    def test_its_readme_tells_what_it_scores_to(self):
        with open(os.path.join(HOME, "README.md"), encoding="utf-8") as file:
            text = " ".join(file.read().split())
        before, later = re.search(r"leads after days 2 and 3; before the last day it is (\S+) ahead of "
                                  r".*, with four tests to go, still (\S+)\. ", text).groups()
        final = scored()
        won, cost, lost, more, third = re.search(
            r"Car (\d+) wins with (\S+); car (\d+) is second with (\S+); car (\d+) is third", text).groups()
        self.assertEqual([(row["position"], row["car"]) for row in list(final.values())[:3]],
                         [(1, int(won)), (2, int(lost)), (3, int(third))])
        self.assertEqual((final[int(won)]["penalty"], final[int(lost)]["penalty"]), (cost, more))
        for point, behind in (("TC12", None), ("TC18", before), ("TC22", later)):
            rows = scored("--after", point)
            self.assertEqual(rows[int(lost)]["position"], 1, point)
            if behind:
                self.assertEqual((rows[int(won)]["position"], rows[int(won)]["behind_leader"]),
                                 (2, behind), point)


if __name__ == "__main__":
    unittest.main()
