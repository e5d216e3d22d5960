# SPDX-License-Identifier: MIT
"""The entry list as a whole: pasted lists checked row by row, and numbers given by age, by the
API and by the command."""

import csv
import io
import os
import subprocess
import tempfile
import unittest

from tests.support import serving
from tests.support.cairn import CAIRN
from tests.support.serving import ENTRIES, ServedTest, cairn, write_folder


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text)))


class ImportTest(ServedTest):
    def imported(self, text, whole=False):
        answer = self.server.post("entries/import", {"list": text, "whole": whole})
        self.assertEqual(answer.status, 200, str(answer))
        return answer.json()

    def in_force(self):
        return self.server.get(f"{serving.API}/entries", self.server.organiser)

    @staticmethod
    def results(told):
        return [(row["line"], row["number"], row["result"]) for row in told["rows"]]

    def test_each_row_is_added_changed_or_the_same(self):
        now = rows_of(ENTRIES)
        first, second = now[0], now[1]
        text = (f"Number\tDriver\tNavigator\tMake\tModel\tYear\n"
                f"{first['number']}\t {first['driver']} \tP. Ling\t{first['make']}\t"
                f"{first['model']}\t{first['year']}\n\n"
                f"{second['number']}\t{second['driver']}\t{second['navigator']}\t{second['make']}\t"
                f"{second['model']}\t{second['year']}\n"
                f"77\tT. Rook\tV. Daw\tHalden\tFour\t1931\n")
        told = self.imported(text)
        self.assertEqual(told["taken"], True, told)
        self.assertEqual(self.results(told), [(2, first["number"], "changed"),
                                              (4, second["number"], "same"), (5, "77", "added")])
        self.assertEqual(told["rows"][0]["changes"], [
            {"column": "navigator", "before": first["navigator"], "now": "P. Ling"}])
        self.assertEqual((told["added"], told["changed"], told["gone"]),
                         ([77], [int(first["number"])], []))
        # The list that would come of it: the others as they stood, in their order.
        new = rows_of(told["entries"])
        self.assertEqual([row["number"] for row in new], [row["number"] for row in now] + ["77"])
        self.assertEqual(new[0], {**first, "navigator": "P. Ling"})
        self.assertEqual(new[1:-1], now[1:])

    def test_one_refused_row_refuses_the_list_and_nothing_is_taken(self):
        before = self.in_force()
        told = self.imported('number,driver,navigator,make,model,year\n'
                             '70,A. Thorn,,Halden,Four,1931\n'
                             '71,"B.\nReed",,Halden,Four,then\n'
                             '70,C. Moss,,Halden,Four,1932\n'
                             '72,D. Fern\n'
                             ',,,Halden,Four,1930\n')
        self.assertEqual(told["taken"], False)
        self.assertEqual(self.results(told), [
            (2, "70", "added"), (3, "71", "refused"), (5, "70", "refused"), (6, "", "refused"),
            (7, "", "refused")])
        reasons = [row.get("reason") for row in told["rows"]]
        self.assertIn("year “then” must be from 1885 to 2100", reasons[1])
        self.assertEqual(reasons[2], "number 70 stands twice, first in line 2")
        self.assertEqual(reasons[3], "has another number of fields than the header")
        self.assertIn("number “” must be a whole number", reasons[4])
        self.assertIn("the driver's name is empty", reasons[4])
        self.assertNotIn("entries", told)
        self.assertEqual(self.in_force().text, before.text)

    def test_a_whole_list_takes_out_who_is_not_in_it_unless_it_was_read(self):
        lines = ENTRIES.splitlines(keepends=True)
        told = self.imported("".join(lines[:1] + lines[2:]), whole=True)
        self.assertEqual((told["taken"], told["gone"]), (False, [1]))
        self.assertIn("seed-1", [fact.get("reading") for fact in told["lost"]])
        told = self.imported("".join(lines[:-1]), whole=True)
        gone = int(rows_of(ENTRIES)[-1]["number"])
        self.assertEqual(told["gone"], [gone])
        self.assertEqual({row["result"] for row in told["rows"]}, {"same"})
        self.assertEqual(rows_of(told["entries"]), rows_of(ENTRIES)[:-1])

    def test_some_columns_of_some_cars(self):
        first = rows_of(ENTRIES)[0]
        told = self.imported(f"number;paddock;club\n{first['number']};B7;Curlew Motor Club\n")
        self.assertEqual(told["taken"], True, told)
        self.assertEqual([c["column"] for c in told["rows"][0]["changes"]], ["paddock", "club"]
                         if "club" not in first else ["club", "paddock"])
        self.assertEqual(rows_of(told["entries"])[0]["paddock"], "B7")
        self.assertEqual(rows_of(told["entries"])[1]["paddock"], "")
        self.assertTrue(any("paddock" in w["text"] for w in told["warnings"]))

    def test_what_is_no_list(self):
        for text in ("", "driver,year\nA,1930\n", "number\n\"open"):
            told = self.imported(text)
            self.assertEqual(told["taken"], False, text)
            self.assertTrue(told["errors"] or told["rows"], text)
        told = self.imported("number,driver\n5,Somebody\n", whole=True)
        self.assertEqual(told["taken"], False)
        self.assertTrue(told["errors"])
        for body in ({}, {"list": 5}, {"list": "", "other": 1}, {"list": "", "whole": "yes"}, []):
            self.assert_problem(self.server.post("entries/import", body), 400)

    def test_the_list_that_was_shown_is_what_a_put_takes(self):
        shown = self.imported("number,driver,navigator,make,model,year\n"
                              "88,S. Hythe,O. Lark,Halden,Four,1931\n")
        tag = self.in_force().headers["etag"]
        answer = self.server.send("PUT", "entries", shown["entries"], self.server.organiser,
                                  "text/csv", If_Match=tag)
        self.assertEqual(answer.status, 200, str(answer))
        self.assertEqual(self.in_force().text, shown["entries"])
        again = self.imported(shown["entries"], whole=True)
        self.assertEqual({row["result"] for row in again["rows"]}, {"same"})


HEAD = "number,driver,navigator,make,model,year,engine_cc\n"
# Not in the order of age; the first two of 1930 differ by engine, the last two by nothing.
MIXED = HEAD + ("1,A. Thorn,,Halden,Four,1934,1500\n2,B. Reed,,Halden,Four,1930,\n"
                "3,C. Moss,,Halden,Four,1930,1100\n4,D. Fern,,Halden,Four,1930,900\n"
                "5,E. Sedge,,Halden,Four,1930,1100\n")
NOTHING = {"readings": "point,car,time\n", "decisions": "kind,car,point,value,reason\n"}
BY_AGE = {"D. Fern": 1, "C. Moss": 2, "E. Sedge": 3, "B. Reed": 4, "A. Thorn": 5}


class NumbersTest(ServedTest):
    files = {"entries": MIXED, **NOTHING}

    def numbered(self, **wishes):
        answer = self.server.post("entries/number", wishes)
        self.assertEqual(answer.status, 200, str(answer))
        return answer.json()

    @staticmethod
    def by_driver(told):
        return {car["driver"]: car["number"] for car in told["numbers"]}

    def test_the_oldest_first_then_the_smaller_engine_then_the_order_of_entry(self):
        told = self.numbered()
        self.assertEqual(told["taken"], True, told)
        self.assertEqual(self.by_driver(told), BY_AGE)
        self.assertEqual({row["driver"]: int(row["number"]) for row in rows_of(told["entries"])},
                         BY_AGE)
        self.assertEqual([row["driver"] for row in rows_of(told["entries"])],
                         [row["driver"] for row in rows_of(MIXED)])

    def test_by_hand(self):
        told = self.numbered(keep="1", give="2=9", skip="2", first="1")
        self.assertEqual(self.by_driver(told), {"A. Thorn": 1, "D. Fern": 3, "C. Moss": 4,
                                                "E. Sedge": 5, "B. Reed": 9})
        self.assertEqual([car["driver"] for car in told["numbers"] if car["by_hand"]],
                         ["A. Thorn", "B. Reed"])

    def test_what_cannot_be(self):
        told = self.numbered(keep="44")
        self.assertEqual((told["taken"], told["errors"][0]["text"]), (False, "there is no car 44"))
        for body in ({"keep": "x"}, {"give": "1"}, {"colour": "1"}, {"keep": 1}, []):
            self.assert_problem(self.server.post("entries/number", body), 400)

    def test_numbers_stay_once_something_names_cars(self):
        other = serving.Server()
        self.addCleanup(other.end)
        answer = other.post("entries/number", {}, other.organiser)
        self.assertEqual(answer.status, 200, str(answer))
        self.assertEqual(answer.json()["taken"], False)
        self.assertIn("numbers stay", answer.json()["errors"][-1]["text"])


class CommandTest(unittest.TestCase):
    def setUp(self):
        self.folder = self.enterContext(tempfile.TemporaryDirectory())
        write_folder(self.folder, entries=MIXED, **NOTHING)

    def read(self, name="entries.csv"):
        with open(os.path.join(self.folder, name), encoding="utf-8") as file:
            return file.read()

    def refused(self, *arguments):
        done = subprocess.run([CAIRN, "number", *arguments], capture_output=True, timeout=60,
                              check=False, text=True)
        self.assertEqual(done.returncode, 2, done)
        self.assertEqual(done.stdout, "")
        return done.stderr

    def test_it_tells_and_with_save_it_writes(self):
        told = cairn("number", self.folder)
        self.assertEqual(self.read(), MIXED)
        self.assertEqual(cairn("number", self.folder, "--save"), told)
        self.assertEqual({row["driver"]: int(row["number"]) for row in rows_of(self.read())}, BY_AGE)
        cairn("check", self.folder)
        self.assertEqual([line.split()[:2] for line in told.splitlines()[1:]],
                         [["1", "4"], ["2", "3"], ["3", "5"], ["4", "2"], ["5", "1"]])

    def test_by_hand(self):
        cairn("number", self.folder, "--give", "1=1", "--keep=5", "--skip", "3,4", "--save")
        self.assertEqual([row["number"] for row in rows_of(self.read())], ["1", "7", "6", "2", "5"])

    def test_refused(self):
        self.assertIn("no car 44", self.refused(self.folder, "--keep", "44"))
        self.assertIn("--give", self.refused(self.folder, "--give", "1"))
        self.assertIn("one event folder", self.refused())
        self.assertIn("no such folder", self.refused(os.path.join(self.folder, "x")))
        for name, text in (("starts", "day,car,time\n1,1,08:30\n"),
                           ("readings", serving.READINGS), ("decisions", serving.DECISIONS)):
            with self.subTest(name):
                path = os.path.join(self.folder, name + ".csv")
                with open(path, "w", encoding="utf-8") as file:
                    file.write(text)
                self.assertIn(f"{name}.csv: names cars", self.refused(self.folder, "--save"))
                self.assertEqual(self.read(), MIXED)
                with open(path, "w", encoding="utf-8") as file:
                    file.write(text.splitlines(keepends=True)[0])
        cairn("number", self.folder, "--save")


if __name__ == "__main__":
    unittest.main()
