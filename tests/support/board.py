# SPDX-License-Identifier: MIT
"""The demo event served as it stood in the middle of its third day, and its pages read back as
tables."""

import csv
import html.parser
import io
import json
import os
from datetime import datetime

from tests.support import cairn as program, serving

DEMO = os.path.join(program.ROOT, "seed-demo", "merrow-2027")
NOON = datetime.fromisoformat("2027-05-22T12:30:00+00:00")


def _until(name, moment):
    with open(os.path.join(DEMO, name), encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(row for row in rows if datetime.fromisoformat(row["at"]) <= moment)
    return out.getvalue()


def _with_groups(entries):
    """The entry list with groups that overlap: every second car, and the first forty."""
    rows = list(csv.reader(io.StringIO(entries)))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(rows[0] + ["groups"])
    for row in rows[1:]:
        number = int(row[rows[0].index("number")])
        writer.writerow(row + [";".join(["even"] * (number % 2 == 0) + ["early"] * (number <= 40))])
    return out.getvalue()


def files(moment=NOON):
    """The files for serving.Server: the facts that were there at that moment. Its cars have groups,
    which the demo has not."""
    with open(os.path.join(DEMO, "event.json"), encoding="utf-8") as file:
        event = json.load(file)
    event["slug"] = serving.SLUG
    event["classes"]["groups"] = [{"id": "even", "name": "Even"}, {"id": "early", "name": "Early"}]
    with open(os.path.join(DEMO, "entries.csv"), encoding="utf-8") as file:
        entries = _with_groups(file.read())
    return {"event": event, "entries": entries, "readings": _until("readings.csv", moment),
            "decisions": _until("decisions.csv", moment)}


class Table:
    """A table's classes, caption, headings and rows; a row is a list of texts, and has its id."""

    def __init__(self, classes):
        self.classes, self.caption, self.heads, self.rows, self.ids = classes, "", [], [], []

    def column(self, head):
        place = self.heads.index(head)
        return [row[place] for row in self.rows]


class Tables(html.parser.HTMLParser):
    """All tables of a page in their order."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.tables, self._into, self._head = [], None, False
        self._small = 0
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        told = dict(attrs)
        if tag == "table":
            self.tables.append(Table(told.get("class", "").split()))
        elif tag == "thead":
            self._head = True
        elif tag == "tr" and not self._head:
            self.tables[-1].rows.append([])
            self.tables[-1].ids.append(told.get("id"))
        elif tag in ("td", "th", "caption") and self.tables:
            self._into = []
        elif tag == "small":
            self._small += 1
            if self._into is not None:
                self._into.append("\n")

    def handle_endtag(self, tag):
        if tag == "thead":
            self._head = False
        elif tag == "small":
            self._small -= 1
        elif tag == "caption":
            self.tables[-1].caption = "".join(self._into)
        elif tag in ("td", "th"):
            text = "".join(self._into)
            (self.tables[-1].heads if self._head else self.tables[-1].rows[-1]).append(text)
            self._into = None

    def handle_data(self, data):
        if self._into is not None:
            self._into.append(data)


def tables(text, name=None):
    """The tables of a page, or those of a class, without the place for pinned cars."""
    found = [t for t in Tables(text).tables if t.heads]
    return [t for t in found if name is None or name in t.classes]
