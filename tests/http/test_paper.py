# SPDX-License-Identifier: MIT
"""Papers as PDF: their rows are the API's, no page is cut off, and the same facts give the same
bytes."""

import hashlib
import os
import re
import subprocess

from tests.support.cairn import CAIRN
from tests.support.serving import API, ENTRIES, EVENT, READINGS, SECRET, SLUG, ServedTest

CLOSED = [{"kind": "close", "point": "day:1", "reason": "last car is in"},
          {"kind": "close", "point": "day:2", "reason": "last car is in"}]
TRACES = (SECRET, "R1", "5.371", "9.023", "09:06:50")
HOST = "results.gannet.example"


def tool(*command, data=None):
    done = subprocess.run(command, input=data, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                          timeout=60, check=False)
    if done.returncode != 0:
        raise AssertionError(f"{command}: {done.stderr.decode(errors='replace')}")
    return done.stdout.decode("utf-8")


class Paper:
    """The text of a PDF."""

    def __init__(self, data):
        self.data = data
        self.text = tool("pdftotext", "-layout", "-", "-", data=data)
        self.info = dict(re.findall(r"^([\w ]+):\s*(.*)$", tool("pdfinfo", "-", data=data), re.M))
        self.pages = self.text.split("\f")[:-1]

    @staticmethod
    def cells(text):
        """Lines cut into cells, where columns are two blanks or more apart."""
        return [re.split(r"\s{2,}", line.strip()) for line in text.splitlines()]

    def rows(self):
        return self.cells(self.text)

    def words(self):
        """The text with every gap as one blank."""
        return " ".join(self.text.split())


def crew(row):
    return " / ".join(row["crew"])


class PaperTest(ServedTest):
    def paper(self, path, key=None, **headers):
        answer = self.server.get(f"{API}/paper/{path}", key, **headers)
        self.assertEqual((answer.status, answer.media_type), (200, "application/pdf"), str(answer))
        return Paper(answer.body)

    def command(self, *arguments, code=0):
        path = os.path.join(self.server.folder, "out.pdf")
        done = subprocess.run([CAIRN, "paper", self.server.data, SLUG, *arguments, path],
                              capture_output=True, text=True, timeout=60, check=False)
        self.assertEqual(done.returncode, code, done.stderr)
        if code != 0:
            return done.stderr
        with open(path, "rb") as file:
            return file.read()

    def assert_rows(self, paper, wanted):
        """These cells stand in these lines in this order, whatever else the lines hold."""
        lines = [" ".join(line.split()) for line in paper.text.splitlines()]
        at = 0
        for cells in wanted:
            pattern = r"(?:^|.* )" + r".*? ".join(re.escape(cell) for cell in cells) + r"(?: .*|$)"
            while at < len(lines) and not re.match(pattern, lines[at]):
                at += 1
            self.assertLess(at, len(lines), f"{cells} is not in its place in\n{paper.text}")
            at += 1


class RowsTest(PaperTest):
    def placed(self, rows):
        return [(("=" if r["equal"] else "") + str(r["position"]), str(r["car"]), crew(r),
                 r["vehicle"], str(r["year"]), r["class"], r["penalty"], r["behind_leader"])
                for r in rows]

    def test_standings_are_those_of_the_api(self):
        for key in (None, self.server.organiser):
            for by in ("overall", "class", "category", "group", "day") + (("test",) if key else ()):
                told = self.server.get(f"{API}/standings?by={by}", key).json()
                wanted = []
                for group in told.get("groups", [told]):
                    wanted += self.placed(group["standings"])
                    for name in ("pending", "unplaced"):
                        wanted += [(str(r["car"]), crew(r), r["vehicle"], r["status"])
                                   for r in group.get(name, [])]
                paper = self.paper(f"standings?by={by}", key)
                self.assertGreaterEqual(len(wanted), 3)
                self.assert_rows(paper, wanted)
                self.assertEqual(len([row for row in paper.rows() if row[-1].count(".") == 1 and
                                      re.fullmatch(r"=?\d+", row[0])]),
                                 sum(len(g["standings"]) for g in told.get("groups", [told])))
        told = self.server.get(f"{API}/standings?by=team").json()
        self.assert_rows(self.paper("standings?by=team"),
                         [(r["team"], r["penalty"]) for r in told["standings"]])

    def test_start_lists_have_room_for_remarks(self):
        for day in (1, 2):
            told = self.server.get(f"{API}/starts/{day}").json()
            paper = self.paper(f"starts/{day}")
            self.assert_rows(paper, [(s["time"], str(s["car"]), crew(s), s["vehicle"],
                                      str(s["year"]), s["class"]) for s in told["starts"]])
            self.assertIn("Remarks", paper.text)
            self.assertIn(f"Start list, day {day}, {told['date']}", paper.text)

    def test_a_card_has_each_reason(self):
        for key in (None, self.server.organiser):
            told = self.server.get(f"{API}/cars/1", key).json()
            paper = self.paper("cars/1", key)
            self.assert_rows(paper, [(p["point"], p["state"]) for p in told["points"]])
            flat = paper.words()
            for point in told["points"]:
                first = " ".join(point["why"].split()[:3])
                self.assertIn(first, flat)
            self.assertIn(f"Penalty {told['penalty']}", flat)

    def test_a_control_sheet_has_who_is_expected_and_what_was_read(self):
        key = self.server.organiser
        for point in ("TC1", "R1/1", "S1/finish"):
            told = self.server.get(f"{API}/expected?point={point}", key).json()["cars"]
            paper = self.paper(f"control?point={point}", key)
            self.assert_rows(paper, [(str(c["car"]),) if c["time"] is None else
                                     (str(c["car"]), c["time"], "read")
                                     for c in told if c["state"] != "out"])
            self.assertIn("Number", paper.text)
        self.assert_problem(self.server.get(f"{API}/paper/control?point=TC1"), 401)
        self.assert_problem(self.server.get(f"{API}/paper/control?point=TC1",
                                            self.server.timekeeper), 403)
        self.assert_problem(self.server.get(f"{API}/paper/control", key), 400)

    def test_a_desk_s_sheet_has_keys_telephone_and_the_control_sheet_behind(self):
        key = self.server.organiser
        control = self.paper("control?point=TC1", key)
        said = {"en": ("Three keys", "When something is wrong"),
                "de": ("Drei Tasten", "Wenn etwas nicht stimmt"),
                "fr": ("Trois touches", "Quand quelque chose ne va pas"),
                "it": ("Tre tasti", "Quando qualcosa non va")}
        for lang, words in said.items():
            paper = self.paper(f"desk?point=TC1&phone=%2B44%207700%20900123&lang={lang}", key)
            for text in (*words, "+44 7700 900123", "TC1"):
                self.assertIn(text, paper.pages[0])
            self.assertEqual(len(paper.pages), 1 + len(control.pages))
            rows = [row for page in paper.pages[1:] for row in Paper.cells(page)]
            self.assertEqual([row for row in rows if row[-1] != "" and re.match(r"\d\d:", row[0])],
                             [row for row in control.rows() if re.match(r"\d\d:", row[0])])
        self.assert_problem(self.server.get(f"{API}/paper/desk?point=TC1"), 401)
        self.assert_problem(self.server.get(f"{API}/paper/desk", key), 400)

    def test_prizes_are_in_the_order_of_the_api(self):
        key = self.server.organiser
        told = self.server.get(f"{API}/prizes", key).json()["prizes"]
        self.assertGreater(len(told), 3)
        self.assert_rows(self.paper("prizes", key), [
            (prize["name"].split()[0],) + ((str(prize["car"]), crew(prize)) if "car" in prize else
                                           (prize.get("team", "nobody"),)) for prize in told])
        self.assert_problem(self.server.get(f"{API}/paper/prizes"), 401)

    def test_what_is_not_there(self):
        for path, status in (("notices/99", 404), ("starts/9", 404), ("cars/77", 404),
                             ("standings?by=luck", 400), ("standings?by=test", 400), ("standings?after=X", 404),
                             ("cars/1?after=X", 404), ("starts/x", 404)):
            self.assert_problem(self.server.get(f"{API}/paper/{path}"), status)


class FrameTest(PaperTest):
    def test_hash_time_and_address_stand_at_the_foot(self):
        paper = self.paper("standings?by=class", Host=HOST)
        body = self.server.get(f"{API}/standings?by=class").body
        changed = self.server.get(API).json()["changed"]
        self.assertIn("SHA-256 " + hashlib.sha256(body).hexdigest(), paper.text)
        self.assertIn("Published " + changed, paper.text)
        address = f"http://{HOST}/{SLUG}/?by=class"
        self.assertIn(address, paper.text)
        for n, page in enumerate(paper.pages, 1):
            self.assertIn(f"Page {n} of {len(paper.pages)}", page)
        self.assertEqual(paper.info["Pages"], str(len(paper.pages)))
        self.assertEqual(self.scanned(paper), address)

    def scanned(self, paper):
        base = os.path.join(self.server.folder, "page")
        tool("pdftoppm", "-r", "150", "-l", "1", "-gray", "-singlefile", "-", base, data=paper.data)
        return tool("zbarimg", "--quiet", "--raw", base + ".pgm").strip()

    def test_a_name_that_is_no_host_is_not_printed(self):
        paper = self.paper("standings", Host="x/<y>")
        self.assertNotIn("<y>", paper.text)
        self.assertNotIn("http", paper.text)

    def test_the_same_facts_give_the_same_bytes(self):
        key = self.server.organiser
        for path, words in (("standings", ["standings"]), ("starts/1", ["starts", "1"]),
                            ("cars/1", ["card", "1"]), ("prizes", ["prizes"]),
                            ("control?point=R1/1", ["control", "R1/1"])):
            first = self.paper(path, key, Host=HOST).data
            self.assertEqual(self.paper(path, key, Host=HOST).data, first, path)
            self.assertEqual(self.command(*words, "--address", f"http://{HOST}"), first, path)
        self.assertEqual(self.command("standings", "--public", "--address", f"http://{HOST}"),
                         self.paper("standings", Host=HOST).data)

    def test_the_command_tells_what_is_wrong(self):
        for arguments in (["standings", "--by", "luck"], ["card", "77"], ["card", "x"], ["notice"],
                          ["control", "X"], ["prizes", "--public"], ["songs"], ["desk", "TC1"],
                          ["desk", "TC1", "--address", "no address"],
                          ["desk", "X", "--address", f"http://{HOST}"],
                          ["desk", "TC1", "--address", f"http://{HOST}", "--lang", "xx"],
                          ["desk", "TC1", "--address", f"http://{HOST}", "--key", "not-a-key"],
                          ["control", "TC1", "--phone", "1"],
                          ["starts", "1", "--by", "class"], ["prizes", "--after", "TC1"]):
            self.assertIn("cairn", self.command(*arguments, code=2), arguments)


class DeskTest(PaperTest):
    """The key on a desk's sheet."""

    def scanned(self, paper):
        base = os.path.join(self.server.folder, "desk")
        tool("pdftoppm", "-r", "150", "-l", "1", "-gray", "-singlefile", "-", base, data=paper)
        return tool("zbarimg", "--quiet", "--raw", base + ".pgm").strip()

    def keys(self):
        done = subprocess.run([CAIRN, "key", "list", self.server.data, SLUG], check=True,
                              capture_output=True, text=True, timeout=60)
        return [line.split("\t") for line in done.stdout.splitlines()]

    def test_its_code_opens_the_desk_of_that_point(self):
        before = self.keys()
        link = self.scanned(self.command("desk", "R1/1", "--address", f"https://{HOST}"))
        self.assertRegex(link, rf"^https://{re.escape(HOST)}/{SLUG}/control#\w{{32}}$")
        key = link.split("#")[1]
        desk = self.server.get(f"{API}/desk", key).json()
        self.assertEqual([point["id"] for point in desk["points"]], ["R1/1"])
        self.assertEqual([row[4:] for row in self.keys()[len(before):]], [["R1/1", "Paper for R1/1"]])

    def test_a_key_that_is_given_is_printed_and_none_is_made(self):
        key = self.scanned(self.command("desk", "TC1", "--address", f"https://{HOST}")).split("#")[1]
        before = self.keys()
        again = self.scanned(self.command("desk", "TC1", "--address", f"https://{HOST}", "--key", key))
        self.assertEqual(again.split("#")[1], key)
        self.assertEqual(self.keys(), before)
        for wrong in (["PC1", "--key", key], ["TC1", "--key", self.server.organiser]):
            self.command("desk", wrong[0], "--address", f"https://{HOST}", *wrong[1:], code=2)

    def test_over_http_no_key_is_on_it(self):
        paper = self.paper(f"desk?point=TC1&key={'a' * 32}", self.server.organiser, Host=HOST)
        self.assertEqual(self.scanned(paper.data), f"http://{HOST}/{SLUG}/control")


class NoticeTest(PaperTest):
    """The paper of a sealed classification."""

    def test_a_classification_on_paper(self):
        self.assert_taken(self.server.post("decisions", CLOSED), 2)
        text = "Protests to the secretary.\n\nBy word of mouth too: Ωμέγα, Đorđe."
        number = self.server.post("notices", {"kind": "provisional", "text": text}).json()["number"]
        told = self.server.get(f"{API}/notices/{number}").json()
        content = told["content"]
        paper = self.paper(f"notices/{number}", Host=HOST)
        self.assertIn(told["hash"], paper.text)
        self.assertIn("Posted " + content["posted"], paper.text)
        self.assertIn(f"{HOST}/{SLUG}/notices#notice-{number}", paper.text)
        self.assertIn("By word of mouth too: Ωμέγα, Đorđe.", paper.text)
        wanted = [(str(r["position"]), str(r["car"]), crew(r), r["penalty"])
                  for r in content["overall"]["standings"]]
        wanted += [(str(r["car"]), crew(r), r["status"]) for r in content["overall"]["unplaced"]]
        for group in content["class"]["groups"] + content["category"]["groups"]:
            wanted += [(str(r["car"]), crew(r), r["penalty"]) for r in group["standings"]]
        wanted += [(t["team"], t["penalty"]) for t in content["team"]["standings"]]
        wanted += [(d["kind"], d["reason"]) for d in content["decisions"]]
        self.assert_rows(paper, wanted)
        before = paper.data
        self.assert_taken(self.server.post("decisions", [
            {"kind": "penalty", "car": 1, "value": "5", "reason": "wrong way"}]), 1)
        self.assertEqual(self.paper(f"notices/{number}", Host=HOST).data, before)
        self.assertEqual(self.command("notice", str(number), "--address", f"http://{HOST}"), before)
        again = self.server.post("notices", {"kind": "provisional"}).json()["number"]
        paper = self.paper(f"notices/{again}")
        self.assertIn(f"What differs from notice {number}", paper.text)
        self.assertIn(f"replaces notice {number}", paper.text)


class HiddenTest(PaperTest):
    def test_the_public_s_papers_have_no_trace_of_what_is_hidden(self):
        self.server.post("notices", {"title": "Tea", "text": "At four."})
        public = ["notices/1", "starts/1", "starts/2"]
        public += [f"cars/{car}" for car in (1, 2, 3, 5, 8, 9)]
        public += [f"standings?by={by}" for by in ("overall", "class", "category", "group", "day",
                                                  "team")]
        for path in public:
            paper = self.paper(path)
            for trace in TRACES:
                self.assertNotIn(trace, paper.words(), path)
        self.assertIn("R1", self.paper("cars/1", self.server.organiser).words())
        self.assertNotIn("R1", Paper(self.command("card", "1", "--public")).words())


MANY = 120
HOSTILE = ["\"A\u202eB\u0007 'x' %s <b>&amp;</b>\"", "Łukasz Żółć-Öğün", "Γιώργος Ωμέγας", "Иван Ё",
           "漢字 太郎", "W" * 300, "x y " * 60]
NAMES = [HOSTILE[i] if i < len(HOSTILE) else f"Driver {i}" for i in range(MANY)]


class ManyTest(PaperTest):
    """Papers of several pages, with unusual names."""

    files = {"entries": ENTRIES.split("\n", 1)[0] + "\n" + "".join(
                 f"{i + 1},{name},Navigator {i},Make{i},Model,{1920 + i % 50},1500,open,,\n"
                 for i, name in enumerate(NAMES)),
             "event": {**EVENT, "awards": []}, "readings": READINGS}

    def test_rows_are_whole_and_headers_come_again(self):
        paper = self.paper("starts/1")
        self.assertGreater(len(paper.pages), 2)
        self.assertEqual(len(paper.pages), int(paper.info["Pages"]))
        for page in paper.pages:
            self.assertRegex(page, r"Start +Car +Crew +Vehicle +Year +Class +Remarks")
            self.assertIn("Start list, day 1", page)
        times = [s["time"] for s in self.server.get(f"{API}/starts/1").json()["starts"]]
        self.assertEqual(re.findall(r"^\s*(\d\d:\d\d:\d\d) ", paper.text, re.M), times)
        for i in range(len(HOSTILE), MANY):
            found = [n for n, page in enumerate(paper.pages)
                     if f"Driver {i} /" in page or f"Make{i} " in page]
            self.assertEqual(len(found), 1, i)
        for name in ("Łukasz Żółć-Öğün", "Γιώργος Ωμέγας", "Иван Ё", "<b>&amp;</b>"):
            self.assertIn(name, paper.words())

    def test_letters_that_no_font_has_are_counted(self):
        before = len(self.server.log_text())
        self.paper("starts/1")
        told = self.server.log_text()[before:]
        fonts = tool("fc-list", ":lang=ja", "family").strip()
        self.assertEqual("print as boxes" in told, fonts == "", told)

    def test_a_text_goes_on_over_pages(self):
        lines = [f"Line {n} of the regulations." for n in range(300)]
        number = self.server.post("notices", {"title": "Rules", "text": "\n".join(lines)}).json()
        paper = self.paper(f"notices/{number['number']}")
        self.assertGreater(len(paper.pages), 4)
        self.assertEqual(re.findall(r"^Line \d+ of the regulations\.$", paper.text, re.M), lines)
