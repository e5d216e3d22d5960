# SPDX-License-Identifier: MIT
"""The figures that benchmarks leave, and the table made of them.

Each section is a file under $BUILD/bench/figures/, one figure a line, parted by tabs: name, unit,
sense ("most", "least" or "-"), aim, median, lowest, highest, rounds, note. The benchmarks in C
write the same through figures.h.
"""

import os
import statistics

FOLDER = os.path.join(os.environ.get("BUILD", "build"), "bench", "figures")


class Section:
    """One section's file, emptied when it is opened."""

    def __init__(self, name, title):
        os.makedirs(FOLDER, exist_ok=True)
        self.path = os.path.join(FOLDER, name + ".tsv")
        with open(self.path, "w", encoding="utf-8"):
            pass
        print(title, flush=True)

    def _write(self, fields):
        with open(self.path, "a", encoding="utf-8") as file:
            print(*fields, sep="\t", file=file)

    def figure(self, name, unit, values, note="", most=None, least=None):
        """A figure from one value a round: printed with its spread and kept for the table."""
        sense, aim = ("most", most) if most is not None else \
            ("least", least) if least is not None else ("-", 0)
        median = statistics.median(values)
        self._write([name, unit, sense, aim, f"{median:.6g}", f"{min(values):.6g}",
                     f"{max(values):.6g}", len(values), note])
        line = f"  {name:<46} {median:10.4g} {unit} ({min(values):.4g} to {max(values):.4g})"
        if sense != "-":
            share = f"{median / aim:.2f} of " if aim else ""
            line += f", {share}the aim of at {sense} {aim:g}"
        print(line, flush=True)

    def missing(self, name, why):
        """Says that something could not be measured, here and in the table."""
        self._write([name, "", "-", 0, "", "", "", 0, why])
        print(f"  {name}: not measured, {why}", flush=True)


def compact(text):
    """A number as people read it: three figures, no exponent."""
    value = float(text)
    if value >= 100:
        return f"{value:,.0f}"
    return f"{value:.3g}"


def cell_aim(unit, sense, aim, median):
    """The aim, and how the figure stands to it."""
    if sense == "-":
        return ["", ""]
    met = float(median) <= float(aim) if sense == "most" else float(median) >= float(aim)
    ratio = f"{float(median) / float(aim):.2f}" if float(aim) else ""
    sign = "≤" if sense == "most" else "≥"
    missed = "" if met else " (missed)"
    return [f"{sign} {compact(aim)} {unit}".rstrip(), (ratio + missed).strip()]


def table(only=None):
    """The Markdown table of every section that was measured, or of the one named."""
    rows = ["| figure | median | spread | aim | of the aim | what |",
            "| --- | ---: | --- | ---: | ---: | --- |"]
    for name in [only + ".tsv"] if only else sorted(os.listdir(FOLDER)):
        with open(os.path.join(FOLDER, name), encoding="utf-8") as file:
            for line in file:
                name_, unit, sense, aim, median, low, high, rounds, note = \
                    line.rstrip("\n").split("\t")
                if median == "":
                    cells = [name_, "not measured", "", "", "", note]
                else:
                    spread = "" if int(rounds) < 2 else f"{compact(low)} to {compact(high)}"
                    cells = [name_, f"{compact(median)} {unit}", spread,
                             *cell_aim(unit, sense, aim, median), note]
                rows.append("| " + " | ".join(cells) + " |")
    return "\n".join(rows)
