# SPDX-License-Identifier: MIT
"""An event whose teams are clubs calls them so, on its pages and papers and in text."""

import copy
import json

from test_paper import PaperTest
from tests.support import board, serving
from tests.support.serving import SLUG, cairn

EVENT = copy.deepcopy(serving.EVENT)
EVENT["scoring"]["teams"] = {"count": 1, "by": "club"}
ENTRIES = ("number,driver,navigator,make,model,year,team,club\n"
           "1,A. Thorne,M. Vale,Calder,Six,1929,Rooks,Withy <MC>\n"
           "2,B. Ashdown,,Brixham,Tourer,1934,Rooks,Marl & District\n"
           "3,E. Quill,R. Sedge,Calder,Eight,1955,,\n")
WORDS = {"en": ("Club", "Clubs"), "de": ("Club", "Clubs"), "fr": ("Club", "Clubs"),
         "it": ("Club", "Club")}


def without_categories(event):
    event = copy.deepcopy(event)
    for key in ("categories", "groups"):
        event["classes"].pop(key, None)
    event["awards"] = []
    return event


class ClubsTest(PaperTest):
    files = {"event": without_categories(EVENT), "entries": ENTRIES,
             "readings": "point,car,time\nTC1,1,08:46:30\nTC1,2,08:48:10\n"}

    def page(self, path):
        answer = self.server.get(f"/{SLUG}/{path}")
        self.assertEqual(answer.status, 200, path)
        return answer.text

    def test_the_board(self):
        for lang, (club, clubs) in WORDS.items():
            text = self.page(f"?by=team&lang={lang}")
            self.assertIn(f"<h1>{clubs}</h1>", text)
            self.assertIn(f' aria-current="true">{clubs}</a>', text)
            self.assertIn(f"<caption>{clubs}</caption>", text)
            self.assertRegex(text, f"<title>{clubs} – ")
            table, = board.tables(text, "teams")
            self.assertEqual(len(table.column(club)), 2)

    def test_the_card(self):
        text = self.page("cars/1")
        self.assertIn("Calder Six, 1929 · Withy &lt;MC&gt;</p>", text)
        self.assertNotIn("Rooks", text)
        self.assertNotIn(" · ", self.page("cars/3").split("</p>")[0])

    def test_papers(self):
        paper = self.paper("standings?by=team")
        self.assertIn("Club classification", paper.text)
        self.assertIn("Place Club Cars Penalty", paper.words())
        self.assert_taken(self.server.post("decisions", [
            {"kind": "close", "point": f"day:{day}", "reason": "all are in"} for day in (1, 2)]), 2)
        number = self.server.post("notices", {"kind": "provisional"}).json()["number"]
        self.assertIn(["Clubs"], self.paper(f"notices/{number}").rows())

    def test_text(self):
        folder = serving.write_folder(f"{self.server.folder}/clubs", self.files["event"], ENTRIES)
        lines = cairn("score", folder, "--live", "--by", "team", "--format", "text").splitlines()
        self.assertEqual(lines[1], "Club classification, live")
        self.assertEqual(lines[3].split(), ["Place", "Club", "Penalty", "Cars"])


class TeamsTest(PaperTest):
    """The same event with teams keeps their name."""

    files = {"event": json.loads(json.dumps(serving.EVENT))}

    def test_they_are_teams(self):
        text = self.server.get(f"/{SLUG}/?by=team").text
        self.assertIn("<h1>Teams</h1>", text)
        self.assertEqual(len(board.tables(text, "teams")[0].column("Team")), 2)
        self.assertIn("Team classification", self.paper("standings?by=team").text)
