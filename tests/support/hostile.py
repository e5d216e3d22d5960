# SPDX-License-Identifier: MIT
"""An event whose every text is hostile, and a twin whose texts are harmless.

Both are made by the same steps, so that each answer of the one must be that of the other with
every harmless text replaced by the hostile one in its place.
"""

import csv
import html.parser
import io
import json
import re

from tests.support import serving
from tests.support.serving import SLUG

# What breaks out of HTML, attributes, scripts, comments, CDATA, style, SVG, shells, formats,
# templates, SQL; then signs that turn the direction, join, or end a line elsewhere.
SINK = ("<script>alert(1)</script>'\"`><img src=x onerror=alert(1)>]]></style></title></textarea>"
        "--><!--&amp;&#60;&lt%s%n%00%0d%0aX: y\\u003c\\\"\\n${7*7}{{7*7}}</script><svg onload=x>"
        "javascript:x;'); DROP TABLE facts;--|cmd|'/c calc'!A0,;"
        "\u202e\u2066\u200f\u061c\u200b\ufeff\u2028\u2029\x7f\x85"
        "\u0639\u0631\u0628\u064a \u05e2\u05d1\u05e8 \U0001f3c1\U0001f469\u200d\U0001f527 e\u0301 "
        "\u65e5\u672c \ufffd\U0010ffff")
# What a spreadsheet may take for a formula.
STARTS = ("=", "+", "-", "@")
CONTROLS = "\t\r\n\n\x01\x1b[31m\x08\x0b\x1e"
LONG = 1000
VERY_LONG = 20000

TOKEN = re.compile(r"Tok\d{3}k")
# Times, the ports of two servers, and what each makes of its own secrets: hashes, whole or their
# beginning, the names of what was refused, and crews' codes.
PASSING = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z|\d\d:\d\d:\d\d UTC|"
                     r"\d\d?:\d\d (?=UTC)|127\.0\.0\.1:\d+|"
                     r"\b[0-9a-f]{16}(?:[0-9a-f]{16}){0,3}\b|\b[0-9A-Z]{3}(?:-[0-9A-Z]{3}){2}\b")


class Texts:
    """Gives out a text for each field, in the same order to both events."""

    def __init__(self, hostile):
        self.hostile = hostile
        self.count = 0
        self.meaning = {}  # hostile text by token

    @staticmethod
    def mark(token):
        """The beginning of a token's hostile text: enough to find it where it is cut."""
        number = int(token[3:6])
        return f"{STARTS[number % len(STARTS)]}<i>&x{number}"

    def __call__(self, more="", change=lambda text: text):
        """The next text, with `more` behind it; where the server does not keep all of it,
        `change` gives what it keeps."""
        token = f"Tok{self.count:03}k"
        self.count += 1
        self.meaning[token] = change(self.mark(token) + SINK + more)
        return self.meaning[token] if self.hostile else token


def word(text):
    """The text as one word, as flags are."""
    return text.replace(" ", "")


def short(text):
    """The text as the server keeps it where a desk's own texts are cut."""
    return text[:10] + "'\"]]>\u202e\U0001f3c1\u05e2"


def table(rows):
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue()


def files_of(text):
    """The event folder's files."""
    event = json.loads(json.dumps(serving.EVENT))
    event["name"] = text()
    for named in event["classes"]["categories"] + event["classes"]["groups"]:
        named["name"] = text()
    event["classes"]["scheme"] = "custom"
    event["classes"]["periods"] = [{"id": "D", "name": text(), "to": 1945},
                                   {"id": "E", "name": text(), "from": 1946}]
    for award in event["awards"]:
        award["name"] = text()
    for item in event["route"]:
        item["name"] = text()
    teams = [text(), text()]
    column = text(more="\t")
    entries = [["number", "driver", "navigator", "make", "model", "year", "engine_cc", "category",
                "team", "country", "club", "groups", column]]
    for number, year, category, team in (
            (1, 1929, "open", 0), (2, 1934, "open", 0), (3, 1938, "club", 1), (5, 1955, "club", 1),
            (8, 1966, "open", 0), (9, 1930, "club", 1)):
        more = CONTROLS if number == 3 else "x" * LONG if number == 9 else ""
        entries.append([number, text(more), text(more), text(more), text(more), year, 1996,
                        category, teams[team], text(), text(),
                        "ladies;low" if number < 5 else "low", text(more)])
    readings = [["point", "car", "time", "elapsed", "faults", "id", "by", "reason", "replaces",
                 "note", "desk", "seq", "flags", column]]
    for row, (point, car, when, elapsed, faults, name, replaces) in enumerate((
            ("TC1", 1, "08:46:30", "", "", "a-1", ""), ("TC1", 2, "08:48:10", "", "", "a-2", ""),
            ("TC1", 3, "08:48:00", "", "", "a-3", ""), ("TC1", 3, "08:49:00", "", "", "a-4", ""),
            ("PC1", 1, "", "", "", "a-5", ""), ("R1/start", 1, "09:00:00", "", "", "a-6", ""),
            ("R1/1", 1, "09:06:50", "", "", "a-7", ""),
            ("S1/finish", 1, "", "00:01:15.2", "cone=2", "a-8", ""),
            ("TC1", 5, "08:50:20", "", "", "a-9", ""), ("TC1", 5, "08:51:20", "", "", "a-10", "a-9"),
            ("PC1", 9, "", "", "", "a-11", ""))):
        readings.append([point, car, when, elapsed, faults, name, text(CONTROLS), text(), replaces,
                         text(CONTROLS), "0a1b2c3d", row + 1, text(change=word), text()])
    decisions = [["kind", "car", "point", "value", "reason", "id", "by", column]]
    for name, (kind, car, point, value) in enumerate((
            ("penalty", 2, "", "30"), ("waive", 3, "T1", ""), ("allowance", 1, "TC1", "00:01:00"),
            ("notional", 5, "S1", "50"), ("retire", 9, "PC1", ""), ("disqualify", 8, "", ""))):
        decisions.append([kind, car, point, value, text(CONTROLS), f"d-{name}", text(), text()])
    return {"event": event, "entries": table(entries), "readings": table(readings),
            "decisions": table(decisions)}


class Served:
    """A served event of such texts, with enquiries, notices, keys and a desk."""

    def __init__(self, hostile):
        self.text = Texts(hostile)
        self.server = serving.Server(**files_of(self.text))
        self.told = []  # answers of writes that tell what was refused
        try:
            self.fill()
        except BaseException:
            self.server.end()
            raise

    def done(self, answer):
        if answer.status != 200:
            raise AssertionError(str(answer))
        return answer

    def fill(self):
        server, text = self.server, self.text
        server.timekeeper = serving.cairn(
            "key", "add", server.data, SLUG, "--role", "timekeeper", "--points", "TC1,R1,S1",
            "--label", text()).strip()
        post = server.post
        self.done(post("notices", {"title": text(), "text": text("x" * VERY_LONG)}))
        self.done(post("notices", {"title": text(), "text": text(CONTROLS.replace("\r", ""))}))
        self.done(post("enquiries", {"kind": "protest", "car": 2, "point": "TC1", "text": text()}))
        self.done(post("enquiries", {"kind": "enquiry", "car": 3, "text": text("x" * LONG)}))
        self.done(post("enquiries/1", {"outcome": "rejected", "text": text()}))
        self.done(post("keys", {"role": "organiser", "label": text()}))
        self.done(post("desks/0a1b2c3d", {
            "points": ["TC1"], "by": text(change=short), "version": text(change=short), "last_seq": 12, "unsent": 1,
            "refused": 1, "blanks": 0, "clock": "good"}, server.timekeeper))
        rows = [{"point": text(), "car": 1, "id": "r-1"}, {"point": "PC1", "car": text()},
                {"point": "PC1", "car": 1, "id": " " + text()},
                {"point": "TC1", "car": 1, "time": text(), "id": "r-2"},
                {"point": "S1/finish", "car": 1, "elapsed": "70", "faults": text(), "id": "r-3"},
                {"point": "PC1", "car": 1, "void": "yes", "reason": "x", "id": "r-4",
                 "replaces": " " + text()},
                {"point": "PC1", "car": 1, "at": text(), "id": "r-5"}]
        self.told.append(self.done(post("readings", rows)))
        self.told.append(self.done(post("readings", table([list(rows[0])] + [
            [row.get(name, "") for name in rows[0]] for row in rows]), media_type="text/csv")))
        rulings = [{"kind": text(), "car": 1, "reason": "x"},
                   {"kind": "penalty", "car": text(), "value": "1", "reason": text()},
                   {"kind": "penalty", "car": 1, "value": text(), "reason": text()},
                   {"kind": "waive", "car": 1, "point": text(), "reason": text()}]
        self.told.append(self.done(post("decisions", rulings)))
        for name in ("entries", "entries/try", "rules", "rules/try"):
            method, body = ("POST", "") if "/" in name else ("PUT", "")
            if name.startswith("rules"):
                body = json.dumps({**serving.EVENT, text(): text(), "unit": text(),
                                   "timezone": " " + text()})
                media = "application/json"
            else:
                body = table([["number", "driver", "navigator", "make", "model", "year", text()],
                              [text(), "x", "", "", "", text(), text()]])
                media = "text/csv"
            self.told.append(server.send(method, name, body, server.organiser, media))


class Page(html.parser.HTMLParser):
    """A page as a list of what is in it: elements with attributes, ends, texts."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.parts = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.parts.append(("<", tag, tuple(attrs)))

    def handle_endtag(self, tag):
        self.parts.append((">", tag, ()))

    def handle_data(self, data):
        if self.parts and self.parts[-1][0] == "text":
            data = self.parts.pop()[1] + data
        self.parts.append(("text", data, ()))

    def handle_comment(self, data):
        self.parts.append(("comment", data, ()))

    def handle_decl(self, decl):
        self.parts.append(("!", decl, ()))

    def handle_pi(self, data):
        self.parts.append(("?", data, ()))
