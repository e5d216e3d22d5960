# SPDX-License-Identifier: MIT
"""The hand-worked cases of tests/cases, scored by the program and by the oracle: every field is
the same."""
import json
import os
import unittest
from pathlib import Path

import differ
import facts
from shapes import Results
from view import View

CASES = Path("build/cases")  # tests/support/cases.py writes them
CAIRN = os.environ.get("CAIRN", "build/cairn")


def option(args, name):
    return args[args.index(name) + 1] if name in args else None


def is_scored(run):
    """Whether a run prints the shapes that the oracle makes."""
    return run.get("command", "score") == "score" and run.get("exit", 0) == 0 and "--format" not in run.get("args", [])


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
                seen += 1
        self.assertGreater(seen, 300)


if __name__ == "__main__":
    unittest.main()
