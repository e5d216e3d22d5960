# SPDX-License-Identifier: MIT
"""Every test of the repository is run, and each once."""

import os
import re
import unittest
from unittest import mock

import plan

# Programs that tests run, and those of fuzzing and benchmarks, which have targets of their own.
NO_TESTS = re.compile(r"tests/(cases|http|durability|bench|fuzz)/|/tools/")


def files(folder):
    for at, folders, names in os.walk(folder):
        folders[:] = [name for name in folders if name != "node_modules"]
        yield from (os.path.join(at, name) for name in names)


class PlanTest(unittest.TestCase):
    def test_every_program_of_the_tests_is_in_the_plan_once(self):
        names = [program.name for program in plan.plan_of(plan.KINDS)]
        self.assertEqual(len(names), len(set(names)))
        wanted = 0
        for path in files("tests"):
            name = os.path.basename(path)
            if re.fullmatch(r"test_.*\.(py|mjs)|.*\.test\.mjs", name):
                test = plan.name_of(path)
            elif re.fullmatch(r"fuzz_.*\.c", name):
                test = "fuzz/" + os.path.splitext(name)[0]
            elif name.endswith(".c") and not NO_TESTS.search(path):
                with open(path, encoding="utf-8") as text:
                    if not re.search(r"^int main\(", text.read(), re.M):
                        continue
                test = plan.name_of(path)
            else:
                continue
            wanted += 1
            self.assertIn(test, names)
        self.assertGreater(wanted, 150)

    def test_lint_is_the_same_by_make_and_in_the_plan(self):
        with open("Makefile", encoding="utf-8") as text:
            targets, = re.findall(r"^lint: (.*)$", text.read(), re.M)
        self.assertEqual(targets.split(), list(plan.LINTS))

    def test_a_plan_without_tests_or_with_two_of_one_name_is_refused(self):
        one = plan.Program("one", 60, "true")
        with mock.patch.dict(plan.KINDS, {"none": lambda: [], "one": lambda: [one]}):
            self.assertEqual(plan.plan_of(["one"]), [one])
            for kinds in (["none"], ["one", "none"], ["one", "one"]):
                with self.subTest(kinds), self.assertRaises(ValueError):
                    plan.plan_of(kinds)


if __name__ == "__main__":
    unittest.main()
