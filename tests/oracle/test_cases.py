# SPDX-License-Identifier: MIT
"""The hand-worked cases of tests/cases, scored by the program and by the oracle: every field is the same,
and the oracle's figures are those worked by hand."""
import json
import os
import unittest
from pathlib import Path

import differ
import facts
from shapes import Results
from view import View

CASES = Path("build/cases")  # tests/support/cases.py writes them
NOT_MADE = ("why", "name")  # words, which the oracle leaves out
CAIRN = os.environ.get("CAIRN", "build/cairn")


def option(args, name):
    return args[args.index(name) + 1] if name in args else None


def is_scored(run):
    """Whether a run prints the shapes that the oracle makes."""
    return run.get("command", "score") == "score" and run.get("exit", 0) == 0 and "--format" not in run.get("args", [])


def lacking(expected, shape, place=""):
    """What a shape lacks of the figures worked by hand (tests/support/json_match.h), a line each."""
    if isinstance(expected, dict) and "$any" in expected:
        return [f"{place} has no {json.dumps(member)}" for member in expected["$any"]
                if all(lacking(member, other) for other in shape)]
    if isinstance(expected, dict) and isinstance(shape, dict):
        return [line for key, value in expected.items() if key not in NOT_MADE
                for line in lacking(value, shape.get(key, "nothing"), f"{place}.{key}")]
    if isinstance(expected, list) and isinstance(shape, list) and len(expected) == len(shape):
        return [line for n, value in enumerate(expected) for line in lacking(value, shape[n], f"{place}[{n}]")]
    return [] if expected == shape else [f"{place}: by hand {json.dumps(expected)}, oracle {json.dumps(shape)}"]


class Cases(unittest.TestCase):
    def test_both_scorers_agree_on_every_case(self):
        seen = 0
        for case in sorted(CASES.glob("*/case.json")):
            for run in filter(is_scored, json.loads(case.read_text(encoding="utf-8"))["runs"]):
                args = run.get("args", [])
                loaded = facts.load(case.parent / "event")
                results = Results(View(loaded, "--live" in args, "--public" in args, option(args, "--after")))
                card = option(args, "--card")
                expected = results.card(int(card)) if card else results.standings(option(args, "--by") or "overall")
                actual, trouble = differ.run(CAIRN, case.parent / "event", args)
                with self.subTest(case.parent.name, args=args):
                    self.assertIsNone(trouble)
                    self.assertEqual(list(differ.differences(expected, actual)), [])
                    self.assertEqual(lacking(run.get("stdout", {}), expected), [])
                seen += 1
        self.assertGreater(seen, 300)


if __name__ == "__main__":
    unittest.main()
