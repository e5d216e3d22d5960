# SPDX-License-Identifier: MIT
"""The harness passes no program that did not pass."""

import contextlib
import io
import os
import tempfile
import time
import unittest

import plan
import run


class HarnessTest(unittest.TestCase):
    def run_lines(self, *lines, jobs=2, **how):
        """Runs programs, each NAME, SECONDS and COMMAND with tabs between; returns how many failed and
        what was printed."""
        programs = [plan.Program(name, int(seconds), command)
                    for name, seconds, command in (line.split("\t", 2) for line in lines)]
        with tempfile.TemporaryDirectory() as folder:
            out = io.StringIO()
            with contextlib.redirect_stdout(out):
                failed = run.run_plan(programs, jobs, folder + "/logs", **how)
            return failed, out.getvalue()

    def test_counts_programs(self):
        code, out = self.run_lines("one\t60\ttrue", "two\t60\techo fine")
        self.assertEqual(code, 0)
        self.assertTrue(out.endswith("2 passed, 0 failed\n"), out)
        self.assertNotIn("fine", out)

    def test_empty_plan_fails(self):
        code, out = self.run_lines()
        self.assertEqual(code, 1)
        self.assertIn("0 passed", out)

    def test_failure_shows_code_and_log(self):
        code, out = self.run_lines("good\t60\ttrue", "bad/one\t60\techo the cause; exit 3")
        self.assertEqual(code, 1)
        self.assertIn("FAIL  bad/one: ended with 3", out)
        self.assertIn("the cause", out)
        self.assertIn("failed: bad/one\n1 passed, 1 failed\n", out)

    def test_signal_is_named(self):
        code, out = self.run_lines("crash\t60\tkill -SEGV $$")
        self.assertEqual(code, 1)
        self.assertIn("killed by signal 11", out)

    def test_late_program_is_ended(self):
        begin = time.monotonic()
        code, out = self.run_lines("slow\t1\tsleep 60")
        self.assertEqual(code, 1)
        self.assertIn("still running after 1 s", out)
        self.assertLess(time.monotonic() - begin, 50)

    def test_a_slow_build_has_a_multiple_and_is_told(self):
        code, out = self.run_lines("slow\t1\tsleep 1.5; "
                                   "test $CAIRN_TEST_SECONDS-$CAIRN_SLOWNESS = 60-60", slowness=60)
        self.assertEqual(code, 0, out)

    def test_left_over_children_are_ended(self):
        with tempfile.TemporaryDirectory() as folder:
            pid_file = os.path.join(folder, "pid")
            code, _ = self.run_lines(f"parent\t60\tsleep 60 & echo $! > {pid_file}")
            self.assertEqual(code, 0)
            with open(pid_file, encoding="ascii") as text:
                pid = int(text.read())
            for _ in range(100):
                if not self.runs(pid):
                    break
                time.sleep(0.05)
            self.assertFalse(self.runs(pid))

    @staticmethod
    def runs(pid):
        """True where the process is there and not merely waiting to be collected."""
        try:
            with open(f"/proc/{pid}/stat", encoding="ascii") as stat:
                return stat.read().rsplit(")", 1)[1].split()[0] not in ("Z", "X")
        except FileNotFoundError:
            return False

    def test_no_test_run_fails(self):
        for said in ("Ran 0 tests in 0.0s", "[==========] x: Running 0 test(s).",
                     "make[1]: Nothing to be done for x.", "# tests 0"):
            code, out = self.run_lines(f"idle\t60\techo '{said}'")
            self.assertEqual(code, 1)
            self.assertIn("ran no test", out)
        code, _ = self.run_lines("busy\t60\techo 'Ran 10 tests in 0.0s'",
                                 "node\t60\techo '# tests 10'; echo '# skipped 0'")
        self.assertEqual(code, 0)

    def test_skipping_fails(self):
        for said in ("OK (skipped=1)", "[  SKIPPED ] 2 test(s), listed below:",
                     "# skipped 1", "# cancelled 2", "# todo 1"):
            code, out = self.run_lines(f"lazy\t60\techo '{said}'")
            self.assertEqual(code, 1)
            self.assertIn("skipped a test", out)

    def most_at_once(self, names, **how):
        with tempfile.TemporaryDirectory() as folder:
            # Each leaves a file while it runs and writes how many were there.
            command = (f"touch {folder}/on.$$; ls {folder}/on.* | wc -l >> {folder}/seen; "
                       f"sleep 0.2; rm {folder}/on.$$")
            code, _ = self.run_lines(*(f"{name}\t60\t{command}" for name in names), **how)
            self.assertEqual(code, 0)
            with open(folder + "/seen", encoding="ascii") as seen:
                counts = [int(line) for line in seen]
            self.assertEqual(len(counts), len(names))
            return max(counts)

    def test_jobs_bound_what_runs_at_once(self):
        self.assertLessEqual(self.most_at_once([f"p{i}" for i in range(6)], jobs=2), 2)

    def test_some_run_one_at_a_time_beside_the_others(self):
        alone = [f"b/{i}" for i in range(4)]
        self.assertEqual(self.most_at_once(alone, jobs=3, alone="b/"), 1)
        self.assertLessEqual(self.most_at_once([*alone, "p1", "p2", "p3"], jobs=1,
                                               alone="b/"), 2)

    def test_the_others_stand_behind_it(self):
        own = os.nice(0)
        for how, behind in (({}, 0), ({"alone": "b/"}, run.BEHIND)):
            code, out = self.run_lines(f"b/1\t60\t[ $(nice) -eq {own} ]",
                                       f"p1\t60\t[ $(nice) -eq {min(own + behind, 19)} ]",
                                       **how)
            self.assertEqual(code, 0, out)


if __name__ == "__main__":
    unittest.main()
