# SPDX-License-Identifier: MIT
"""What cases.py makes of a case, and that every case of the repository is written as it asks."""

import os
import tempfile
import unittest

from tests.support import cases, json_text

EVENT = '{"days": [{"at": 5.3700}, {"at": 9}], "scheme": "fiva"}'
ROWS = "number,driver\n1,Thorne\n2,Quill\n"


def changed(text, changes, removed=()):
    """One file's text after `changes` and `removed`, through a case that gives it whole."""
    case = {"files": {"f": text}, "set": {"f": changes}, "remove": {"f": list(removed)}}
    return cases.event_files(case)["f"].decode()


class Places(unittest.TestCase):
    def test_a_value_is_set_where_the_program_would_name_it(self):
        self.assertEqual(json_text.read(changed(EVENT, {"days[1].at": "x"}))["days"],
                         [{"at": "5.3700"}, {"at": "x"}])

    def test_a_key_or_element_that_is_not_there_is_added_behind_the_last(self):
        event = json_text.plain(json_text.read(changed(EVENT, {"unit": "km", "days[2]": {}, "days[2].at": 1})))
        self.assertEqual(event["days"][2], {"at": 1})
        self.assertEqual(list(event), ["days", "scheme", "unit"])

    def test_what_is_removed_is_named_by_the_indices_of_before(self):
        event = '{"days": [0, 1, 2, 3], "unit": "km"}'
        self.assertEqual(changed(event, {}, ["days[0]", "unit", "days[2]"]), '{\n  "days": [1, 3]\n}\n')

    def test_numbers_keep_their_spelling(self):
        self.assertIn("5.3700", changed(EVENT, {"days[1].at": json_text.Number("1e1")}))
        self.assertIn("1e1", changed(EVENT, {"days[1].at": json_text.Number("1e1")}))

    def test_a_place_that_is_not_there_is_refused(self):
        for changes, removed in (({"days[3]": 1}, []), ({"day.at": 1}, []), ({"days.at": 1}, []),
                                 ({"scheme[0]": 1}, []), ({"days[x]": 1}, []), ({}, ["unit"]),
                                 ({}, ["days[2]"])):
            with self.subTest(changes, removed=removed), self.assertRaises(cases.CaseError):
                changed(EVENT, changes, removed)


class Lines(unittest.TestCase):
    def test_a_line_is_replaced_added_removed_or_becomes_several(self):
        self.assertEqual(changed(ROWS, {"2": "1,Vale"}), "number,driver\n1,Vale\n2,Quill\n")
        self.assertEqual(changed(ROWS, {"4": "3,Fenn"}), ROWS + "3,Fenn\n")
        self.assertEqual(changed(ROWS, {"3": ["2,A", "3,B"]}), "number,driver\n1,Thorne\n2,A\n3,B\n")
        self.assertEqual(changed(ROWS, {"3": "2,B"}, ["2"]), "number,driver\n2,B\n")

    def test_a_line_that_is_not_there_is_refused(self):
        for changes, removed in (({"5": ""}, []), ({"0": ""}, []), ({}, ["4"])):
            with self.subTest(changes, removed=removed), self.assertRaises(cases.CaseError):
                changed(ROWS, changes, removed)

    def test_values_are_set_before_lines(self):
        self.assertEqual(changed('{"a": 1}', {"2": '  "a": 2,', "a": 3, "3": ["}", "}"]}),
                         '{\n  "a": 2,\n}\n}\n')


class Files(unittest.TestCase):
    def test_a_whole_file_is_lines_an_object_or_a_text(self):
        files = cases.event_files({"files": {"a": ["1", "2"], "b": {"x": "y"}, "c": "cut o", "d": []}})
        self.assertEqual(files, {"a": b"1\n2\n", "b": b'{\n  "x": "y"\n}\n', "c": b"cut o", "d": b""})

    def test_a_base_gives_what_the_case_does_not(self):
        files = cases.event_files({"base": "control", "files": {"entries.csv": None}})
        with open("tests/bases/control/event.json", "rb") as event:
            self.assertEqual(files, {"event.json": event.read()})

    def test_a_file_is_written_in_its_encoding(self):
        case = {"files": {"a": ["é"]}, "encoding": {"a": "latin-1"}}
        self.assertEqual(cases.event_files(case), {"a": b"\xe9\n"})

    def test_a_misspelt_key_or_file_is_refused(self):
        for case in ({"bse": "control"}, {"base": "control", "set": {"entry.csv": {"1": ""}}},
                     {"base": "control", "files": {"starts.csv": None}},
                     {"base": "control", "encoding": {"starts.csv": "latin-1"}}):
            with self.subTest(case), self.assertRaises(cases.CaseError):
                cases.event_files(case)

    def test_a_key_that_comes_twice_is_refused(self):
        with self.assertRaises(ValueError):
            json_text.read('{"a": 1, "a": 1}')

    def test_a_folder_is_left_alone_where_it_stands_already(self):
        case = {"about": "", "contract": "", "runs": [{}], "files": {"event.json": {"a": "b"}}}
        with tempfile.TemporaryDirectory() as folder:
            at = os.path.join(folder, "case")
            cases.write_folder(case, at)
            first = os.stat(os.path.join(at, "event", "event.json"))
            cases.write_folder(case, at)
            self.assertEqual(os.stat(os.path.join(at, "event", "event.json")), first)
            with open(os.path.join(at, "event", "left.csv"), "w", encoding="utf-8"):
                pass
            cases.write_folder(case, at)
            self.assertEqual(os.listdir(os.path.join(at, "event")), ["event.json"])

    def test_a_folder_says_where_its_rule_is_published(self):
        case = {"about": "a", "contract": "c", "source": "s", "runs": [{}], "files": {}}
        with tempfile.TemporaryDirectory() as folder:
            for left_out in ("", "source"):
                told = {key: value for key, value in case.items() if key not in ("files", left_out)}
                cases.write_folder({**told, "files": {}}, os.path.join(folder, "case"))
                with open(os.path.join(folder, "case", "case.json"), encoding="utf-8") as text:
                    self.assertEqual(json_text.plain(json_text.read(text.read())), told)


class Repository(unittest.TestCase):
    def test_every_case_and_every_base_is_written_in_the_layout(self):
        paths = [path for tree in cases.TREES for _, path in cases.sources(tree)]
        paths += [os.path.join(cases.BASES, base, "event.json") for base in os.listdir(cases.BASES)]
        self.assertGreater(len(paths), 450)
        for path in paths:
            with open(path, encoding="utf-8") as text, self.subTest(path):
                written = text.read()
                self.assertEqual(json_text.text(json_text.read(written)), written,
                                 f"python3 -m tests.support.json_text {path} mends it")

    def test_every_base_has_its_cases(self):
        used = {cases.read(path).get("base") for tree in cases.TREES for _, path in cases.sources(tree)}
        self.assertEqual(used - {None}, set(os.listdir(cases.BASES)))

    def test_nothing_is_set_that_the_base_has_already(self):
        for tree in cases.TREES:
            for name, path in cases.sources(tree):
                case = cases.read(path)
                files = cases.base_files(case["base"]) if "base" in case else {}
                with self.subTest(name):
                    for file, content in cases.event_files(case).items():
                        changed_here = any(file in case.get(key, {}) for key in ("files", "set", "remove"))
                        self.assertEqual(changed_here, files.get(file, "").encode() != content
                                         or file not in files)


if __name__ == "__main__":
    unittest.main()
