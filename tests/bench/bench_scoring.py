# SPDX-License-Identifier: MIT
"""The demo scored from its files, and a simplified scoring compared with a spreadsheet.

The spreadsheet holds the times of scoring_simple.c and is recalculated by an office program
without a window. Its time is compared with the median of scoring_simple.c, which is run again
here beside it. Opening and closing the document are not counted.
"""

import os
import re
import subprocess
import sys
import tempfile
import time

from tests.support import figures, machine
from tests.support.cairn import CAIRN

ROUNDS = 21
CARS, POINTS, EARLY, LATE = 200, 120, 2, 1


def score_demo(section):
    """Wall time of the whole process, files to JSON."""
    walls, loads = [], []
    for _ in range(ROUNDS):
        for command, values in (([CAIRN, "score", machine.DEMO], walls),
                                ([CAIRN, "--help"], loads)):
            start = time.perf_counter()
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL,
                           stderr=subprocess.DEVNULL)
            values.append((time.perf_counter() - start) * 1e3)
    section.figure("the demo scored from its files", "ms", walls,
                   "whole process, 172 cars, 13,900 readings, all rules on", most=30)
    section.figure("of it: the process alone", "ms", loads, "cairn --help")


def lateness(car, point):
    """As in scoring_simple.c."""
    return (car * 7919 + point * 104729 + car * point * 31) % 181 - 60


def cell(value):
    return f'<table:table-cell office:value-type="float" office:value="{value}"/>'


def formula(text):
    return f'<table:table-cell table:formula="of:={text}"/>'


def column(number):
    """The name of a column: 1 is A, 27 is AA."""
    letters = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def write_sheet(path):
    """Writes the document: sheet 1 holds each car's due and read times in turn, in seconds; sheet
    2 computes the penalties."""
    last = column(POINTS)
    with open(path, "w", encoding="utf-8") as file:
        file.write('<?xml version="1.0" encoding="UTF-8"?><office:document'
                   ' xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"'
                   ' xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"'
                   ' xmlns:of="urn:oasis:names:tc:opendocument:xmlns:of:1.2"'
                   ' office:version="1.2"'
                   ' office:mimetype="application/vnd.oasis.opendocument.spreadsheet">'
                   '<office:body><office:spreadsheet>')
        for name, shift in (("Due", 0), ("Read", 1)):
            file.write(f'<table:table table:name="{name}">')
            for car in range(1, CARS + 1):
                file.write("<table:table-row>")
                for point in range(1, POINTS + 1):
                    due = 28800 + (car - 1) * 60 + point * 600
                    read = due + lateness(car, point) + car * point % 100 / 100
                    file.write(cell(f"{read:.2f}" if shift else due))
                file.write("</table:table-row>")
            file.write("</table:table>")
        file.write('<table:table table:name="Score">')
        for car in range(1, CARS + 1):
            file.write("<table:table-row>")
            for point in range(1, POINTS + 1):
                at = f"{column(point)}{car}"
                late = f"(INT([Read.{at}])-[Due.{at}])"
                file.write(formula(f"IF({late}&lt;0;-{late}*{EARLY};{late}*{LATE})"))
            file.write(formula(f"SUM([.A{car}:.{last}{car}])"))
            total = column(POINTS + 1)
            file.write(formula(f"RANK([.{total}{car}];[.{total}$1:.{total}${CARS}];1)"))
            file.write("</table:table-row>")
        file.write("</table:table></office:spreadsheet></office:body></office:document>")


def python_of_the_office():
    """The path of a Python that can control the office program, None where there is none."""
    for python in ("/usr/bin/python3", sys.executable):
        if os.path.exists(python) and subprocess.run(
                [python, "-c", "import uno"], stderr=subprocess.DEVNULL, check=False
        ).returncode == 0:
            return python
    return None


def expected_check():
    """The check number that scoring_simple.c prints, worked out here: sums and places must be the
    same."""
    totals = [sum(-late * EARLY if late < 0 else late * LATE
                  for late in (lateness(car, point) for point in range(1, POINTS + 1)))
              for car in range(1, CARS + 1)]
    places = [1 + sum(other < total for other in totals) for total in totals]
    return sum(total * (i + 1) + place
               for i, (total, place) in enumerate(zip(totals, places)))


def simple_microseconds():
    """Runs scoring_simple.c again, beside the spreadsheet: its time in microseconds, and the
    check number that it prints."""
    program = os.path.join(os.environ.get("BUILD", "build"), "bench", "scoring_simple")
    out = subprocess.run([program], check=True, stdout=subprocess.PIPE, text=True).stdout
    check = re.search(r"check (\d+)", out)
    if int(check.group(1)) != expected_check():
        raise RuntimeError("the two sides of the comparison do not score the same times")
    path = os.path.join(figures.FOLDER, "2-simple.tsv")
    found = {}
    with open(path, encoding="utf-8") as file:
        for line in file:
            fields = line.split("\t")
            found[fields[0]] = float(fields[4])
    return found["simplified scoring"], found["whole scoring of the same"]


def spreadsheet(section):
    """The time of a recalculation, taken inside the office program."""
    name = "spreadsheet of the same"
    office = machine.tool("soffice")
    python = python_of_the_office()
    if office is None or python is None:
        section.missing(name, "LibreOffice or its Python binding is not installed")
        return
    with tempfile.TemporaryDirectory() as folder:
        sheet = os.path.join(folder, "simple.fods")
        write_sheet(sheet)
        before = simple_microseconds()
        run = subprocess.run([python, os.path.join(machine.TOOLS, "recalculate.py"), office,
                              folder, sheet, str(CARS), str(POINTS)],
                             stdout=subprocess.PIPE, text=True, check=True, timeout=300)
        after = simple_microseconds()
    lines = run.stdout.split()
    if int(lines[0]) != expected_check():
        raise RuntimeError("the spreadsheet gives other sums or places")
    values = [float(value) for value in lines[1:]]
    section.figure(name, "us", values, "LibreOffice Calc, hard recalculation, no window")
    simple, whole = ((x + y) / 2 for x, y in zip(before, after))
    section.figure("simplified scoring ahead of the spreadsheet", "x",
                   [value / simple for value in values], "same sums and places", least=500)
    section.figure("whole scoring ahead of the spreadsheet", "x",
                   [value / whole for value in values], "same sums and places")


def main():
    section = figures.Section("3-demo", "The demo, and a spreadsheet")
    score_demo(section)
    spreadsheet(section)


if __name__ == "__main__":
    main()
