# SPDX-License-Identifier: MIT
"""The whole Round Merrow as its office runs it over the API: from an event with one car to a
signed final classification, and the folder that it exports."""

import json
import os
import re

from test_notices import NoticesTest, verify
from test_paper import PaperTest, crew, tool
from tests.support import board, merrow
from tests.support.effects import EffectsCheck
from tests.support.serving import API, SLUG, cairn

BYS = ("overall", "class", "category", "day", "test", "team")
BATCH = 150
POINTS_A_KEY = 4  # route items that one timekeeper has
KINDS = {"allowance", "penalty", "waive", "notional", "cancel", "close", "retire", "rejoin",
         "disqualify", "revoke"}
# Where a second clock disagrees with the first, and the car that was seen though it was out.
DOUBTS = {("differ", 35, "R2"), ("differ", 36, "R2"), ("differ", 82, "R5/2"),
          ("differ", 88, "R9/2"), ("differ", 130, "TC14"), ("out", 80, "PC6")}


def squeezed(text):
    """A text without blanks, line ends and marks of direction, so that a name may be broken over
    lines."""
    return re.sub(r"[\s\u200e\u200f\u202a-\u202e\u2066-\u2069\f]", "", text)


class WholeEventTest(EffectsCheck, NoticesTest, PaperTest):
    files = merrow.blank()

    def setUp(self):
        self.drive = merrow.Drive()
        self.keys = {}
        self.starts = {}
        self.made = set()  # kinds of decisions

    def office(self, path):
        answer = self.server.get(f"{API}/{path}", self.server.organiser)
        self.assertEqual(answer.status, 200, str(answer))
        return answer

    def test_from_a_blank_event_to_a_signed_final_classification(self):
        self.set_up()
        for day in range(1, 5):
            self.drive_day(day)
            self.compare_with_the_folder(f"day-{day}", BYS if day == 4 else ("overall",))
        self.assertEqual(self.made, KINDS)
        first = self.provisional()
        self.settle_doubts()
        second = self.protest(first)
        final = self.final(second)
        self.prizes()
        self.papers(final)
        self.the_folder()

    # Before the event.

    def set_up(self):
        """Puts rules and entries, each tried before it is saved; a list with faults is not saved.
        """
        rules = merrow.rules()
        self.put("rules", json.dumps({**rules, "unit": "furlong"}), "application/json", "unit")
        self.put("rules", json.dumps(rules), "application/json")
        self.assertEqual(self.office("rules").json(), rules)
        rows = merrow.entry_rows()
        self.put("entries", merrow.entries([{**row, "year": "190"} for row in rows]), "text/csv",
                 "entries.csv:2")
        told = self.put("entries", merrow.entries(rows), "text/csv")
        self.assertEqual((told["cars"], len(told["added"]), told["changed"], told["gone"]),
                         (173, 172, [1], []))
        for at in range(0, len(self.drive.route), POINTS_A_KEY):
            points = self.drive.route[at:at + POINTS_A_KEY]
            base = f"http://127.0.0.1:{self.server.port}"
            told = self.server.post("keys", {"role": "timekeeper", "points": ",".join(points),
                                             "label": "Desk of " + points[0], "base": base}).json()
            self.assertEqual(told["link"], f"{base}/{SLUG}/control#{told['key']}")
            self.keys.update({point: told["key"] for point in points})
        self.assertEqual(len(self.office("keys").json()["keys"]), len(set(self.keys.values())) + 2)
        foreign = self.server.post("readings", [{"point": "TC24", "car": 1, "time": "08:46"}],
                                   self.keys["TC1"])
        self.assert_taken(foreign, 0, refused=[1])

    def put(self, name, text, media_type, wrong=None):
        """Tries a document and saves it. `wrong`: where a fault must be reported; nothing then
        changes."""
        tag, before = self.office(name).headers["etag"], self.office_revision()
        told = self.server.post(f"{name}/try", text, media_type=media_type).json()
        self.assertEqual((told["taken"], self.office_revision()), (wrong is None, before), told)
        answer = self.server.send("PUT", name, text, self.server.organiser, media_type,
                                  If_Match=tag)
        if wrong is None:
            self.assertEqual(answer.status, 200, str(answer))
        else:
            self.assertIn(wrong, told["errors"][0]["place"])
            self.assertIn(wrong, self.assert_problem(answer, 422)["errors"][0])
            self.assertEqual(self.office_revision(), before)
        return told

    # The days.

    PLANS = {
        1: {"order": "number"},
        2: {"order": "reversed", "first": "08:31", "interval": "00:00:30"},
        3: {"order": "era", "intervals": {"C": "00:01:30", "E-2": 45}, "gaps": {"40": "00:10:00"},
            "late": {"9": "end", "31": "07:45"}},
        4: {"order": "standings-reversed", "reverse_first": 15},
    }

    def start_list(self, day):
        """A start list previewed, saved, and posted as a bulletin."""
        shown = self.server.post(f"starts/{day}", self.PLANS[day]).json()
        kept = self.server.post(f"starts/{day}", {**self.PLANS[day], "save": True}).json()
        self.assertEqual((shown["saved"], kept["saved"]), (False, True))
        self.assertEqual(kept["starts"], shown["starts"])
        self.assertEqual(self.server.get(f"{API}/starts/{day}").json()["starts"], kept["starts"])
        self.posted(title=f"Start list of day {day}", text="It hangs at the office.")
        self.starts.update({(day, str(start["car"])): merrow.clock(start["time"])
                            for start in kept["starts"]})
        return [start["car"] for start in kept["starts"]]

    def drive_day(self, day):
        """The decisions made before the first start, the start list, then all facts in their
        order."""
        facts = self.drive.facts(day)
        first = next(at for at, (name, _) in enumerate(facts) if name == "readings")
        for _, row in facts[:first]:
            self.rule(row)
        before = self.office("standings?after=TC18").json()
        order = self.start_list(day)
        if day == 4:
            best = [row["car"] for row in before["standings"][:15]]
            self.assertEqual(order[:15], best[::-1])
        waiting = []
        for name, row in facts[first:]:
            if name == "readings":
                waiting.append(self.drive.moved(row, self.starts))
                continue
            self.take(waiting)
            waiting = []
            self.rule(row)
        self.take(waiting)

    def take(self, readings):
        """Each desk sends its own facts, in parts."""
        desks = {}
        for row in readings:
            desks.setdefault(self.keys[row["point"].split("/")[0]], []).append(
                {name: value for name, value in row.items() if value})
        for key, rows in desks.items():
            for at in range(0, len(rows), BATCH):
                part = rows[at:at + BATCH]
                self.assert_taken(self.server.post("readings", part, key), len(part))

    def rule(self, row):
        """Makes a ruling whose effect is shown first and then holds. A notional one answers a
        crew's enquiry; another enquiry needs no ruling."""
        case = None
        if row["kind"] == "notional":
            case = self.server.post("enquiries", {
                "kind": "enquiry", "car": row["car"], "point": row["point"],
                "text": "The hose lay beside the pad."}).json()["number"]
        row = {name: value for name, value in row.items() if value}
        told = self.check("decisions", [row], If_Match=self.office("decisions").headers["etag"])
        self.assertEqual(told["accepted"], 1, told)
        self.made.add(row["kind"])
        if case is not None:
            self.answer(case, "upheld", f"Decision {row['id']}: {row['reason']}")
        if row["kind"] == "disqualify":
            self.ask_by_code()

    def ask_by_code(self):
        codes = {car["car"]: car["code"] for car in self.office("codes").json()["codes"]}
        asked = {"code": codes[62], "point": "TC10", "text": "How long was the crossing shut?"}
        told = self.server.ask("POST", f"{API}/cars/62/enquiries", json.dumps(asked),
                               Content_Type="application/json")
        self.assertEqual(told.status, 200, str(told))
        self.answer(told.json()["number"], "answered", "Three minutes, which you were allowed.")

    def answer(self, case, outcome, text):
        self.assertEqual(self.server.post(f"enquiries/{case}", {"outcome": outcome, "text": text})
                         .status, 200)
        [told] = [one for one in self.office("enquiries").json()["enquiries"]
                  if one["number"] == case]
        self.assertEqual((told["answer"]["outcome"], told["answer"]["text"]), (outcome, text))

    # After the last car.

    def provisional(self):
        """Posts a provisional classification although doubts are open, which stand in the way of
        a final one."""
        told = self.refused(kind="final")
        self.assertIn("no provisional classification is posted", told)
        # Car 173 is charged for what it did not do: it stands behind its sister.
        self.rule({"id": "whole-1", "kind": "penalty", "car": merrow.TWIN, "value": "20",
                   "reason": "Engine run in parc fermé", "by": "Stewards"})
        ahead = self.ahead("provisional")
        self.assertEqual(ahead["obstacles"], [])
        first = self.posted(kind="provisional", text="Protests to the secretary.")
        self.assertEqual(self.content(first)["overall"], ahead["content"]["overall"])
        self.assert_sealed(first)
        kinds = {obstacle["kind"] for obstacle in self.ahead("final")["obstacles"]}
        self.assertEqual(len(self.refused(kind="final")), 1 + len(DOUBTS), kinds)
        return first

    def settle_doubts(self):
        """The review: of two clocks the first counts, and a car that is out was not seen."""
        open_doubts = [doubt for doubt in self.office("doubts").json()["doubts"] if doubt["open"]]
        self.assertEqual({(d["kind"], d["car"], d["point"].removesuffix("/1"))
                          for d in open_doubts}, DOUBTS)
        for doubt in open_doubts:
            wrong = [one for one in doubt["readings"]
                     if doubt["kind"] == "out" or not one["counts"]]
            self.assertTrue(wrong, doubt)
            self.check("readings", [{"point": doubt["point"], "car": doubt["car"], "void": True,
                                     "replaces": one["id"], "reason": "The first clock was checked"}
                                    for one in wrong])
        self.assertFalse(any(doubt["open"] for doubt in self.office("doubts").json()["doubts"]))

    def protest(self, first):
        """A protest is upheld after the provisional classification, which a second one then
        replaces."""
        case = self.server.post("enquiries", {
            "kind": "protest", "car": merrow.TWIN, "text": "The engine was our sister's."}
            ).json()["number"]
        self.assertIn(f"protest {case} of car 173 is open", self.refused(kind="final"))
        self.rule({"id": "whole-2", "kind": "revoke", "value": "whole-1",
                   "reason": "Protest upheld: it was another car", "by": "Stewards"})
        self.answer(case, "upheld", "The penalty is taken back.")
        # A second protest period as short as a test has time for.
        rules = self.office("rules").json()
        rules["scoring"]["protest_period"] = "00:00:01"
        self.put("rules", json.dumps(rules), "application/json")
        second = self.posted(kind="provisional", text="Replaces the first.")
        self.check_against(first, second, [int(merrow.TWIN)])
        self.assert_sealed(second)
        return second

    def check_against(self, old, new, cars):
        """A notice names the one before it and lists each car that differs."""
        contents = self.content(old), self.content(new)
        self.assertEqual(contents[1]["supersedes"], old)
        names = ("position", "class_position", "fails", "penalty", "status")
        was, now = ({row["car"]: {name: row[name] for name in names}
                     for key in ("standings", "unplaced") for row in content["overall"][key]}
                    for content in contents)
        self.assertEqual({d["car"]: (d["before"], d["after"]) for d in contents[1]["differences"]},
                         {car: (was[car], now[car]) for car in was if was[car] != now[car]})
        for car in cars:
            self.assertNotEqual(was[car], now[car])

    def final(self, second):
        self.wait_for(lambda: not self.ahead("final")["obstacles"])
        before = self.office("standings").body
        final = self.posted(kind="final", text="Signed.")
        self.check_against(second, final, [])
        self.assert_sealed(final)
        self.assertEqual(self.status(), "final")
        after = self.office("standings").body
        self.assertEqual(self.plain(before), self.plain(after))
        # As the demo's folder scores: other start lists change nothing but the times of day.
        demo = cairn("score", merrow.DEMO, "--format", "json")
        self.assertEqual(*([(row["car"], row["penalty"]) for row in json.loads(told)["standings"][:3]]
                           for told in (after, demo)))
        for notice in self.server.get(f"{API}/notices").json()["notices"]:
            code, out, err = verify(self.server.data, SLUG, str(notice["number"]))
            self.assertEqual((code, err), (0, ""))
            self.assertIn(notice["kind"], out)
        return final

    def assert_sealed(self, number):
        """The notice says what the public reads now."""
        content = self.content(number)
        for by in ("overall", "class", "category", "team"):
            told = self.server.get(f"{API}/standings?by={by}").json()
            for name, table in content[by].items():
                self.assertEqual(table, told[name], by)

    def prizes(self):
        """The sisters share the prize of their class; the command reads it out as the page shows
        it."""
        told = self.office("prizes").json()["prizes"]
        shared = [(p["award"], p["group"], p["place"], p["car"]) for p in told if p["shared"]]
        self.assertEqual([(award, place, car) for award, _, place, car in shared],
                         [("era", 1, int(merrow.TWIN)), ("era", 1, int(merrow.FIRST))])
        self.assertEqual(len({group for _, group, _, _ in shared}), 1)

    # What is left.

    def compare_with_the_folder(self, name, bys):
        """The exported folder scores as the server does, for both views."""
        folder = os.path.join(self.server.folder, name)
        cairn("export", self.server.data, SLUG, folder)
        for view, key in (((), self.server.organiser), (("--public",), None)):
            for by in bys:
                told = self.server.get(f"{API}/standings?by={by}", key).body
                due = cairn("score", folder, "--live", *view, "--by", by, "--format", "json")
                self.assertTrue(self.plain(told) == self.plain(due.encode()), f"{name} {by} {view}")
        return folder

    @staticmethod
    def plain(body):
        """A body without what no folder holds: the revision, and that a final notice is posted."""
        body = re.sub(rb'"revision":\d+', b"", body, count=1)
        return body.replace(b'status":"final"', b'status":"provisional"', 1)

    def the_folder(self):
        folder = self.compare_with_the_folder("end", BYS)
        for car in (1, 62, 91, 135, int(merrow.FIRST), int(merrow.TWIN)):
            self.assertEqual(self.plain(self.office(f"cars/{car}").body), self.plain(
                cairn("score", folder, "--live", "--card", str(car), "--format", "json").encode()))
        self.assertEqual(self.plain(self.office("prizes").body),
                         self.plain(cairn("prizes", folder, "--live", "--format", "json").encode()))
        again, back = (os.path.join(self.server.folder, name) for name in ("again", "back"))
        cairn("import", again, folder)
        cairn("export", again, SLUG, back)
        self.assertEqual(sorted(os.listdir(folder)), sorted(os.listdir(back)))
        for name in os.listdir(folder):
            with open(os.path.join(folder, name), "rb") as one, \
                 open(os.path.join(back, name), "rb") as other:
                self.assertEqual(one.read(), other.read(), name)

    # On paper.

    def papers(self, final):
        for by in ("overall", "class", "category", "day"):
            rows = []
            for table in board.tables(self.server.get(f"/{SLUG}/?by={by}&view=live").text):
                rows += self.page_rows(table)
            self.assertGreater(len(rows), 172)
            self.assert_paper(f"standings?by={by}", rows)
        [teams] = board.tables(self.server.get(f"/{SLUG}/?by=team&view=live").text)[:1]
        self.assert_paper("standings?by=team",
                          list(zip(teams.column("Team"), teams.column("Penalty"))))
        for day in range(1, 5):
            [table] = board.tables(self.server.get(f"/{SLUG}/starts/{day}").text)
            self.assert_paper(f"starts/{day}", self.start_rows(table))
        self.assert_paper(f"notices/{final}", self.notice_rows(self.content(final)))
        self.assert_paper("prizes", [
            (", ".join(filter(None, (prize["name"], prize["group"]))),
             *((str(prize["car"]), crew(prize), f"{prize['vehicle']}, {prize['year']}")
               if "car" in prize else (prize.get("team", "nobody"),)), prize["penalty"])
            for prize in self.office("prizes").json()["prizes"]])

    @staticmethod
    def notice_rows(content):
        """The rows of each table of a sealed classification, then every decision."""
        rows = []
        for group in [content["overall"], *content["class"]["groups"],
                      *content["category"]["groups"]]:
            rows += [(str(row["position"]), str(row["car"]), crew(row), row["vehicle"],
                      str(row["year"]), row["class"], row["penalty"])
                     for row in group["standings"]]
            rows += [(str(row["car"]), crew(row), row["vehicle"], str(row["year"]), row["class"],
                      row["status"]) for row in group["unplaced"]]
        rows += [(str(row["position"]), row["team"], row["penalty"])
                 for row in content["team"]["standings"]]
        return rows + [tuple(str(decision[name]) for name in ("kind", "car", "point", "value",
                                                              "reason") if decision.get(name))
                       for decision in content["decisions"]]

    @staticmethod
    def page_rows(table):
        """The rows of a ranking as paper has them: place, car, crew, vehicle, year, penalty."""
        rows = []
        for cells in table.rows:
            told = dict(zip(table.heads, cells))
            names, _, vehicle = told["Crew"].partition("\n")
            model, _, year = vehicle.rpartition(", ")
            rows.append(((told["Place"],) if "Place" in told else ()) +
                        (told["Car"], names, model, year) +
                        ((told["Penalty"],) if "Place" in told else ()))
        return rows

    @staticmethod
    def start_rows(table):
        return [(start, car, names, *vehicle.rsplit(", ", 1), era)
                for start, car, names, vehicle, era in (
                    (row[0], row[1], *row[2].split("\n"), row[3]) for row in table.rows)]

    def assert_paper(self, path, rows):
        """The rows stand on the paper in this order, none broken and none twice."""
        answer = self.server.get(f"{API}/paper/{path}", self.server.organiser)
        self.assertEqual(answer.media_type, "application/pdf", str(answer))
        text = squeezed(tool("pdftotext", "-raw", "-", "-", data=answer.body))
        at = 0
        for row in rows:
            cells = [re.escape(squeezed(cell)) for cell in row]
            found = re.compile(".{0,12}?".join(cells)).search(text, at)
            self.assertIsNotNone(found, f"{path}: {row} is not in its place")
            self.assertLess(found.start() - at, 500, f"{path}: there is more before {row}")
            at = found.end()
