# SPDX-License-Identifier: MIT
"""Which changes are found in a C source, and which are tried first."""

import unittest

from tests.mutants import changes

ENUMS = {"SIDE_EARLY": "SIDE_LATE", "SIDE_LATE": "SIDE_EARLY"}


def found(text, sort=None):
    """What each change of a text makes of the line it stands in."""
    return [(change.source, change.applied(text).split("\n")[change.line - 1].strip())
            for change in changes.changes_of("lib/x.c", text, ENUMS) if sort in (None, change.sort)]


def made(line, sort):
    """What becomes of the only line of a function."""
    return [after for _, after in found(f"void f(void) {{\n    {line}\n}}\n", sort)]


class Found(unittest.TestCase):
    def test_a_comparison_moves_by_one_or_turns_round(self):
        self.assertEqual(made("x = a < b;", "comparison"), ["x = a <= b;", "x = a > b;"])
        self.assertEqual(made("x = a == b;", "comparison"), ["x = a != b;"])

    def test_an_operator_at_the_end_of_a_line_is_found(self):
        self.assertEqual(found("x = a &&\n    b;\n", "logic"), [("x = a &&", "x = a ||")])

    def test_arrows_pointers_and_negative_numbers_are_no_arithmetic(self):
        self.assertEqual(made("*p = -q->r;", "arithmetic"), [])
        self.assertEqual(made("x = a * b - 1;", "arithmetic"), ["x = a + b - 1;", "x = a * b + 1;"])
        self.assertEqual(made("i++;", "arithmetic"), ["i--;"])
        self.assertEqual(made("x |= 1u << y;", "arithmetic"), ["x &= 1u << y;", "x |= 1u >> y;"])

    def test_a_whole_condition_is_negated_with_its_literals(self):
        self.assertEqual(made("if (f(\"a)\", (x)) == '(')", "condition"),
                         ["if (!(f(\"a)\", (x)) == '('))"])

    def test_a_negation_is_left_out(self):
        self.assertEqual(made("x = !y && a != b;", "condition"), ["x = y && a != b;"])

    def test_numbers_and_truth_values_are_others(self):
        self.assertEqual(made("x = 1u;", "constant"), ["x = 2u;", "x = 0u;"])
        self.assertEqual(made("x1 = y.a2 + 0;", "constant"), ["x1 = y.a2 + 1;"])
        self.assertEqual(made("return true;", "constant"), ["return false;"])

    def test_a_negative_number_comes_nearer_to_0(self):
        self.assertEqual(made("x = y < 0 ? -1 : 5 - 1;", "constant"),
                         ["x = y < 1 ? -1 : 5 - 1;", "x = y < 0 ? -0 : 5 - 1;",
                          "x = y < 0 ? -1 : 6 - 1;", "x = y < 0 ? -1 : 4 - 1;",
                          "x = y < 0 ? -1 : 5 - 2;", "x = y < 0 ? -1 : 5 - 0;"])

    def test_assignments_and_calls_are_left_out_but_no_declarations(self):
        self.assertEqual(made("x = f(a, b);", "statement"), ["(void)0;"])
        self.assertEqual(made("(void)f(a);", "statement"), ["(void)0;"])
        for line in ("int x = 1;", "const struct a *b = c;", "return x;", "if (a)", "case 1:"):
            self.assertEqual(made(line, "statement"), [], line)

    def test_a_statement_of_several_lines_is_left_out_whole(self):
        text = "void f(void) {\n    if (a)\n        g(b,\n          c);\n}\n"
        change, = (c for c in changes.changes_of("x", text, {}) if c.sort == "statement")
        self.assertEqual(change.applied(text), "void f(void) {\n    if (a)\n        (void)0;\n}\n")
        self.assertEqual(change.before, "g(b, c);")

    def test_the_parts_of_a_for_are_no_statements(self):
        self.assertEqual(made("for (i = 0; i < n; i++)", "statement"), [])

    def test_a_member_becomes_its_neighbour(self):
        self.assertEqual(made("x = cap[SIDE_LATE];", "member"), ["x = cap[SIDE_EARLY];"])

    def test_comments_literals_and_the_preprocessor_stay(self):
        for line in ("/* a < b */", "\"a < b 1 true\"", "#define A (a < 1 && \\\n b)",
                     "static_assert(A == 1, \"a\");", "enum { A = 1, B = A + 1 };"):
            self.assertEqual(found(line + "\n"), [], line)


    def test_how_much_memory_is_asked_for_stays(self):
        line = "list = calloc(count + 1, sizeof *list);"
        self.assertEqual(made(line, "constant") + made(line, "arithmetic"), [])
        self.assertEqual(made(line, "statement"), ["(void)0;"])


class Enumerations(unittest.TestCase):
    def test_each_member_has_its_neighbour_and_a_count_is_none(self):
        text = "enum side { SIDE_EARLY, /* a */ SIDE_LATE = 4, SIDE_COUNT };\nenum { A, B };\n"
        self.assertEqual(changes.enumerations([text]), ENUMS)


class Ranked(unittest.TestCase):
    TEXT = "void f(void) {\n" + "".join(f"    a{n} = b < {n} && c;\n" for n in range(9)) + "}\n"

    def order(self, text, seed="1"):
        return [change.told() for change in changes.ranked(changes.changes_of("x", text, {}), seed)]

    def test_no_line_is_changed_twice(self):
        self.assertEqual(len(self.order(self.TEXT)), 9)

    def test_the_sorts_take_turns(self):
        sorts = [change.sort for change in changes.ranked(changes.changes_of("x", self.TEXT, {}), "1")]
        self.assertEqual(set(sorts[1:5]), {"comparison", "logic", "constant", "statement"})

    def test_each_file_has_one_before_any_has_two(self):
        small = "void f(void) {\n    return true;\n}\n"
        found = [change for path, text in (("a", self.TEXT), ("b", small), ("c", self.TEXT))
                 for change in changes.changes_of(path, text, {})]
        paths = [change.path for change in changes.ranked(found, "1")]
        self.assertCountEqual(paths[:3], ["a", "b", "c"])
        self.assertEqual(len(paths), 19)

    def test_a_seed_always_gives_the_same_order_and_another_one_another(self):
        self.assertEqual(self.order(self.TEXT), self.order(self.TEXT))
        self.assertNotEqual(self.order(self.TEXT), self.order(self.TEXT, "2"))

    def test_lines_that_come_leave_the_order_of_the_others(self):
        def sources(text):
            ranked = changes.ranked([change for change in changes.changes_of("x", text, {})
                                     if change.sort == "comparison"], "1")
            return [change.source for change in ranked if "new" not in change.source]

        self.assertEqual(sources(self.TEXT.replace("    a4", "    new = x > y;\n    a4")),
                         sources(self.TEXT))


if __name__ == "__main__":
    unittest.main()
