# SPDX-License-Identifier: MIT
"""A change of a small library, tried by a small test of its own."""

import os
import subprocess
import tempfile
import time
import unittest
from unittest import mock

from tests.mutants import changes, mutants, trial

LIBRARY = """\
int least(int a, int b);
int unused(int a);
int least(int a, int b) {
    int n = 0;
    while (n < a && n < b)
        n++;
    return n;
}
int unused(int a) {
    return a + 1;
}
"""
TEST = """\
int least(int a, int b);
int main(void) {
    return least(2, 3) != 2 || least(3, 2) != 2;
}
"""
OTHER = "int main(void) {\n    return 0;\n}\n"


class Trial(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.at = folder.name
        for name in ("tests", "made"):
            os.mkdir(f"{self.at}/{name}")
        self.tools = trial.Tools(self.at, ["gcc", "-O1", "-Wall", "-Wextra", "-Werror"], ["gcc"],
                                 [f"{self.at}/library.a"], [],
                                 ["-Wno-error", "-fsanitize=address", "-fno-sanitize-recover=all"])
        self.compile("library", LIBRARY)
        subprocess.run(["ar", "qcs", f"{self.at}/library.a", f"{self.at}/library.o"], check=True)
        self.bench = trial.Bench(self.tools, [self.built("other", OTHER), self.built("test_least", TEST)])
        mutants.measured(self.bench, 2)

    def compile(self, name, text):
        self.assertTrue(self.tools.compiled(text, f"{self.at}/{name}.o"))
        return f"{self.at}/{name}.o"

    def built(self, name, text):
        """A test that is built with the library as it is."""
        program = self.compile(name, text)
        self.tools.linked(program, f"{self.at}/library.o", f"{self.at}/tests/{name}")
        return trial.Test(name, program, "{}")

    def kill(self, before, after):
        self.assertIn(before, LIBRARY)
        return self.bench.kill("lib/least.c", self.compile("changed", LIBRARY.replace(before, after)),
                               f"{self.at}/made")

    def test_a_change_is_killed_by_the_test_that_fails(self):
        self.assertEqual(self.kill("a && n", "a || n"), ("test_least", "failure"))

    def test_a_change_that_no_test_sees_survives(self):
        self.assertEqual(self.kill("a + 1", "a + 2"), (None, None))

    def test_a_change_that_hangs_is_killed_by_the_time(self):
        with mock.patch.object(trial, "PATIENCE", 0.5):
            self.bench.seconds["test_least"] = 0
            self.assertEqual(self.kill("n++;", "n *= 2;"), ("test_least", "time"))

    def watched(self, name, text):
        path = f"{self.at}/{name}.o"
        self.assertTrue(self.tools.compiled(text, path, sanitized=True))
        return path

    def test_what_only_a_sanitizer_sees_is_killed_by_it(self):
        """One read too far, of a place that the test does not look at."""
        text = LIBRARY.replace("int n = 0;", "volatile char *p = __builtin_calloc(1, 4); (void)p[3];"
                               " __builtin_free((void *)p); int n = 0;")
        plain = self.watched("plain", text)
        wrong = self.watched("wrong", text.replace("p[3]", "p[4]"))
        self.assertEqual(self.bench.kill_sanitized("lib/least.c", wrong, plain, f"{self.at}/made"),
                         ("test_least", "sanitizer"))
        self.assertEqual(self.bench.kill_sanitized("lib/least.c", plain, plain, f"{self.at}/made"),
                         (None, None))
        self.assertEqual(self.bench.kill_sanitized("lib/least.c", wrong, wrong, f"{self.at}/made"),
                         (None, None))

    def test_what_a_hanging_test_has_started_ends_with_it(self):
        mark = f"{self.at}/alive"
        self.assertEqual(trial.run(f"sh -c 'sleep 1.5; touch {mark}' & sleep 60", 0.5), "time")
        time.sleep(1.5)
        self.assertFalse(os.path.exists(mark))

    def test_a_program_that_takes_all_memory_fails(self):
        self.assertEqual(trial.run("python3 -c 'bytearray(5 << 30)'", 60), "failure")
        self.assertIsNone(trial.run("python3 -c 'bytearray(4 << 10)'", 60))

    def test_a_test_that_fails_without_any_change_is_told(self):
        wrong = self.built("wrong", TEST.replace("!= 2", "!= 4"))
        with self.assertRaisesRegex(RuntimeError, "wrong fails without any change"):
            self.bench.measure(wrong)

    def test_a_program_that_lacks_the_changed_functions_is_not_run(self):
        alone = self.compile("alone", OTHER)
        subprocess.run(["gcc", alone, "-o", f"{self.at}/tests/alone"], check=True)
        self.bench.measure(trial.Test("alone", alone, "{}"))
        self.bench.tests = [trial.Test("alone", "/no/such/object", "{}")]
        self.assertEqual(self.kill("a + 1", "a + 2"), (None, None))

    def test_changes_that_do_not_compile_or_make_the_same_code_are_replaced(self):
        texts = {"lib/least.c": LIBRARY}
        compiler = mutants.Compiler(self.tools, texts, f"{self.at}/made")

        def change(before, after):
            begin = LIBRARY.index(before)
            return changes.Change("lib/least.c", "x", begin, begin + len(before), 1, "", before, after)

        found = [change("int n = 0;", "int n;"), change("a + 1", "1 + a"), change("a + 1", "a + 2"),
                 change("n < a", "n = a"), change("a && n", "a || n"), change("a + 1", "a + 3")]
        picked = mutants.chosen(compiler, found, 2, 2)
        self.assertEqual([change.after for change, _ in picked], ["a + 2", "a || n"])
        self.assertEqual(len(mutants.chosen(compiler, found, 9, 2)), 3)

        told = []
        results = mutants.tried(self.bench, compiler, picked, 2, lambda *one: told.append(one))
        self.assertEqual([test for _, test, _ in results], [None, "test_least"])
        self.assertCountEqual(told, results)
        text, share = mutants.summary(results)
        self.assertEqual(share, 50)
        self.assertEqual(text, "2 changes: 1 killed (0 by the time limit, 0 by a sanitizer), 1 survived:"
                               " 50.0 % killed")


class Plan(unittest.TestCase):
    def test_the_cases_come_first_and_the_long_tests_last(self):
        names = [test.name for test in trial.all_tests("build", "1:2")]
        self.assertEqual(names[:2], ["cases", "broken"])
        self.assertLess(names.index("test_totals"), names.index("test_event_nomem"))
        self.assertLess(names.index("test_event_nomem"), names.index("differ"))
        self.assertLess(names.index("differ"), names.index("differ-more"))
        self.assertLess(names.index("differ-more"), names.index("order_of_arrival"))
        self.assertEqual(len(names), len(set(names)))

    def test_a_files_own_test_comes_before_all(self):
        tests = trial.in_order(trial.all_tests("build", "1:2"), "lib/scoring/totals.c")
        names = [test.name for test in tests]
        self.assertEqual(names[:2], ["test_totals", "cases"])


class Equal(unittest.TestCase):
    TEXTS = {"lib/x.c": "x = a < b;\n"}
    ENTRY = {"file": "lib/x.c", "line": "x = a < b;", "before": "<", "after": "<=", "why": ""}

    def after(self, equal):
        return [change.after for change in mutants.candidates(self.TEXTS, equal, "1")]

    def test_what_makes_no_difference_is_not_tried(self):
        other = {**self.ENTRY, "after": ">"}
        self.assertEqual(self.after([self.ENTRY, other]), [])
        self.assertEqual(self.after([self.ENTRY]), [">"])
        self.assertEqual(self.after([other]), ["<="])

    def test_what_is_gone_is_told(self):
        with mock.patch("builtins.print") as told:
            self.after([{**self.ENTRY, "line": "x = b < a;"}])
        told.assert_called_once_with(
            "tests/mutants/equal.json: nothing is so any more: lib/x.c | x = b < a; | < | <=")

    def test_what_stands_for_several_lines_is_told(self):
        with mock.patch("builtins.print") as told, \
                mock.patch.object(self, "TEXTS", {"lib/x.c": "x = a < b;\ny = 1;\nx = a < b;\n"}):
            self.after([self.ENTRY])
        told.assert_called_once_with(
            "tests/mutants/equal.json: stands for several lines: lib/x.c | x = a < b; | < | <=")


if __name__ == "__main__":
    unittest.main()
