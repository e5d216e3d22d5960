# SPDX-License-Identifier: MIT
"""Sealed notices, protest periods, enquiries and protests, and what stands in the way of a final
classification."""

import contextlib
import hashlib
import json
import os
import re
import sqlite3
import stat
import subprocess
from datetime import datetime

from tests.support.cairn import CAIRN
from tests.support.serving import API, EVENT, SLUG, ServedTest, cairn

CLOSED = [{"kind": "close", "point": "day:1", "reason": "last car is in"},
          {"kind": "close", "point": "day:2", "reason": "last car is in"}]


def with_period(period):
    return {**EVENT, "scoring": {**EVENT["scoring"], "protest_period": period}}


def verify(*arguments):
    done = subprocess.run([CAIRN, "verify", *arguments], capture_output=True, text=True,
                          timeout=60, check=False)
    return done.returncode, done.stdout, done.stderr


class NoticesTest(ServedTest):
    def post(self, **notice):
        return self.server.post("notices", notice)

    def posted(self, **notice):
        answer = self.post(**notice)
        self.assertEqual(answer.status, 200, str(answer))
        return answer.json()["number"]

    def content(self, number):
        return self.server.get(f"{API}/notices/{number}").json()["content"]

    def refused(self, **notice):
        return self.assert_problem(self.post(**notice), 409, "not-yet")["errors"]

    def ahead(self, kind):
        """The preview of a classification: what it would say if it were posted now."""
        answer = self.server.get(f"{API}/classifications/{kind}", self.server.organiser)
        self.assertEqual((answer.status, answer.headers.get("cache-control")),
                         (200, "private, no-store"))
        return answer.json()

    def status(self, path=""):
        return self.server.get(API + path).json()["status"]

    def decide(self, *rows):
        self.assert_taken(self.server.post("decisions", list(rows)), len(rows))


class SealsTest(NoticesTest):
    def test_a_bulletin_is_sealed_and_verified(self):
        number = self.posted(title="Fog on the moor", text="Day two <b>later</b>.")
        told = self.server.get(f"{API}/notices/{number}")
        document = told.json()
        self.assertEqual((document["content"]["kind"], document["content"]["title"],
                          document["content"]["text"]),
                         ("bulletin", "Fog on the moor", "Day two <b>later</b>."))
        canonical = json.dumps(document["content"], sort_keys=True, separators=(",", ":"),
                               ensure_ascii=False).encode()
        self.assertEqual(hashlib.sha256(canonical).hexdigest(), document["hash"])
        listed = self.server.get(f"{API}/notices").json()["notices"][number - 1]
        self.assertEqual((listed["hash"], listed["kind"]), (document["hash"], "bulletin"))
        signer = self.server.get(API).json()["signer"]
        self.assertEqual(signer, document["signer"])
        path = os.path.join(self.server.folder, "notice.json")
        with open(path, "wb") as file:
            file.write(told.body)
        good = verify(path, "--key", signer)
        self.assertEqual((good[0], good[2]), (0, ""))
        self.assertIn(f"notice {number} of {SLUG}, bulletin", good[1])
        self.assertEqual(verify(self.server.data, SLUG, str(number)), good)
        self.assertEqual(verify(path, "--key", "0" * 64)[0], 2)
        self.assertEqual(verify(self.server.data, SLUG, "99")[0], 2)
        # Read and written by others, it is still whole; with one letter changed it is not.
        with open(path, "w", encoding="utf-8") as file:
            json.dump(document, file, indent=1)
        self.assertEqual(verify(path)[0], 0)
        for change in (lambda d: d["content"].update(title="Sun on the moor"),
                       lambda d: d.update(hash="0" * 64), lambda d: d.update(signature="0" * 128),
                       lambda d: d["content"].update(number=7)):
            changed = json.loads(told.body)
            change(changed)
            with open(path, "w", encoding="utf-8") as file:
                json.dump(changed, file)
            code, out, err = verify(path)
            self.assertEqual((code, out), (2, ""))
            self.assertIn("it was changed", err)
        for text in ("", "{}", "[]", '{"content": {}}', '{"content": {}, "hash": "zz"}'):
            with open(path, "w", encoding="utf-8") as file:
                file.write(text)
            self.assertEqual(verify(path)[0], 2)
        self.assertEqual(verify(path + ".not-there")[0], 2)

    def test_the_secret_is_for_its_owner_alone(self):
        self.posted(title="Tea")
        path = os.path.join(self.server.data, SLUG + ".signing")
        self.assertEqual(stat.S_IMODE(os.stat(path).st_mode), 0o600)
        with open(path, encoding="ascii") as file:
            secret = file.read().strip()
        self.assertRegex(secret, r"^[0-9a-f]{64}$")
        folder = os.path.join(self.server.folder, "out")
        cairn("export", self.server.data, SLUG, folder)
        cairn("backup", self.server.data, SLUG, os.path.join(self.server.folder, "copy"))
        self.assertEqual(sorted(os.listdir(folder)),
                         ["decisions.csv", "entries.csv", "event.json", "readings.csv"])
        with open(os.path.join(self.server.folder, "copy"), "rb") as file:
            self.assertNotIn(secret.encode(), file.read())
        os.chmod(path, 0o644)
        try:
            self.assert_problem(self.post(title="More tea"), 503)
            self.assertIn("may be read by others", self.server.log_text())
        finally:
            os.chmod(path, 0o600)
        self.posted(title="More tea")

    def test_what_is_no_notice(self):
        for body in ({"kind": "gossip", "title": "x"}, {"kind": "bulletin"}, {"title": "x", "a": 1}):
            self.assert_problem(self.server.post("notices", body), 400)
        for number in ("0", "99", "x", "-1", "99999999999999999999"):
            self.assert_problem(self.server.get(f"{API}/notices/{number}"), 404)


class BrokenSealTest(NoticesTest):
    def test_the_notice_board_tells_of_a_broken_seal_and_of_none(self):
        whole, broken, bare = (self.posted(title=title) for title in ("Tea", "Milk", "Old"))
        with contextlib.closing(sqlite3.connect(
                os.path.join(self.server.data, SLUG + ".cairn"))) as file:
            for (trigger,) in file.execute(
                    "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'notice'"
                    ).fetchall():
                file.execute(f"DROP TRIGGER {trigger}")
            file.execute("UPDATE notice SET content = CAST(replace(CAST(content AS TEXT), 'Milk',"
                         " 'Wine') AS BLOB) WHERE id = ?", (broken,))
            file.execute("UPDATE notice SET content = NULL, hash = NULL, signature = NULL,"
                         " signer = NULL WHERE id = ?", (bare,))
            file.commit()
        self.server.restart()
        page = self.server.get(f"/{SLUG}/notices?lang=en").text
        for number, words in ((whole, "The seal is whole"), (broken, "The seal is broken"),
                              (bare, "Posted before notices were sealed.")):
            article = page.split(f'<article id="notice-{number}">')[1].split("</article>")[0]
            self.assertEqual([w for w in ("The seal is whole", "The seal is broken",
                                          "Posted before notices were sealed.") if w in article],
                             [words])


class AheadTest(NoticesTest):
    def test_nobody_posts_what_was_not_seen(self):
        def tag():
            return self.server.get(f"{API}/notices", self.server.organiser).headers["etag"]
        before = tag()
        ahead = self.ahead("final")
        self.assertEqual({o["kind"] for o in ahead["obstacles"]} - {"hidden"},
                         {"no-provisional", "open-point"})
        self.assertIn({"kind": "open-point", "number": None, "car": None, "point": "TC2",
                       "text": "TC2 is not closed"}, ahead["obstacles"])
        number = ahead["content"]["number"]
        self.assertEqual(number, len(self.server.get(f"{API}/notices").json()["notices"]) + 1)
        self.assert_taken(self.server.post("readings", [{"point": "PC1", "car": 5}]), 1)
        self.assert_problem(self.server.post("notices", {"title": "Tea"}, If_Match=before), 412,
                            "somebody-was-first")
        answer = self.server.post("notices", {"title": "Tea"}, If_Match=tag())
        self.assertEqual((answer.status, answer.json()["number"]), (200, number))
        for kind in ("bulletin", "x"):
            self.assert_problem(self.server.get(f"{API}/classifications/{kind}",
                                                self.server.organiser), 404)


class ClassificationTest(NoticesTest):
    """From the last car's finish to a final classification, and after it."""

    files = {"event": with_period("00:00:03")}

    def refused(self, **notice):
        """The preview names the same obstacles as the refusal of a post."""
        ahead = [obstacle["text"] for obstacle in self.ahead(notice["kind"])["obstacles"]]
        told = super().refused(**notice)
        if not any("protest period" in line for line in told + ahead):  # it may end in between
            self.assertEqual(ahead, told)
        return told

    def test_the_way_to_a_final_classification(self):
        self.assertEqual(self.refused(kind="provisional"), ["R1 is still hidden from the public"])
        told = self.refused(kind="final")
        self.assertIn("no provisional classification is posted", told)
        self.assertIn("TC2 is not closed", told)
        self.decide(*CLOSED)
        self.assertEqual(self.status(), "provisional")
        # Opened before, so that nothing is final yet on a slow machine either.
        case = self.server.post("enquiries", {"kind": "protest", "car": 2, "point": "TC1",
                                              "text": "We were held up."}).json()["number"]
        first = self.posted(kind="provisional", text="Protests to the secretary.")
        told = self.refused(kind="final")
        content = self.content(first)
        until = datetime.fromisoformat(content["protest_until"].replace("Z", "+00:00"))
        if datetime.now(until.tzinfo) < until:
            self.assertTrue(any("protest period of notice" in line for line in told), told)
        self.assertEqual((content["title"], content["kind"], content["supersedes"]),
                         ("Provisional classification", "provisional", None))
        for by in ("overall", "class", "category", "team"):
            told = self.server.get(f"{API}/standings?by={by}").json()
            for name, table in content[by].items():
                self.assertEqual(table, told[name], by)
        self.assertEqual(sorted((d["kind"], d["holds"]) for d in content["decisions"]),
                         [("close", True), ("close", True), ("penalty", True)])
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "car": 8, "time": "08:53", "id": "d-1"},
            {"point": "TC1", "car": 8, "time": "08:54", "id": "d-2"}]), 2)
        self.wait_for(lambda: not any("protest period" in line
                                      for line in self.refused(kind="final")))
        self.assertEqual(self.refused(kind="final"), [
            f"protest {case} of car 2 is open",
            "car 8 at TC1 is doubtful: Readings differ; d-1 counts: it was made first."])
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "car": 8, "void": True, "replaces": "d-2", "reason": "car 9"}]), 1)
        self.decide({"kind": "allowance", "car": 2, "point": "TC1", "value": "00:01",
                     "reason": "held up: protest upheld"})
        self.assertEqual(self.server.post(f"enquiries/{case}", {
            "outcome": "upheld", "text": "One minute allowed."}).status, 200)
        self.assert_problem(self.server.post(f"enquiries/{case}", {
            "outcome": "rejected", "text": "No."}), 409)
        self.assertEqual(self.status(), "provisional")
        ahead = self.ahead("final")
        final = self.posted(kind="final")
        self.assertEqual(ahead, {**ahead, "obstacles": [], "content": {
            **self.content(final), "posted": ahead["content"]["posted"]}})
        self.check_differences(first, final)
        self.check_page(first, final)
        self.assertEqual((self.status(), self.status("/standings")), ("final", "final"))
        self.assertEqual(self.status("/standings?after=TC1"), "final")
        self.server.restart()
        self.assertEqual(self.status(), "final")
        self.posted(title="Prize-giving at eight")
        self.assertEqual(self.status(), "final")
        self.change_after(final)

    def check_differences(self, before, after):
        old, new = self.content(before), self.content(after)
        self.assertEqual(new["supersedes"], before)
        rows = [{row["car"]: row for row in content["overall"]["standings"] +
                 content["overall"]["unplaced"]} for content in (old, new)]
        names = ("position", "class_position", "fails", "penalty", "status")
        self.assertEqual({d["car"]: (d["before"], d["after"]) for d in new["differences"]},
                         {car: tuple({n: side[car][n] for n in names} for side in rows)
                          for car in rows[0]
                          if any(rows[0][car][n] != rows[1][car][n] for n in names)})
        self.assertIn(2, [d["car"] for d in new["differences"]])

    def check_page(self, before, after):
        """The page of notices says the same, in each language."""
        document = self.server.get(f"{API}/notices/{after}").json()
        for lang, word, sign in (("en", "Final classification", "."),
                                 ("de", "Endgültige Wertung", ","),
                                 ("fr", "Classement définitif", ","),
                                 ("it", "Classifica definitiva", ",")):
            page = self.server.get(f"/{SLUG}/notices?lang={lang}").text
            article = page.split(f'<article id="notice-{after}">')[1].split("</article>")[0]
            for part in (word, document["hash"], document["signer"], document["content"]["posted"],
                         f'<a href="#notice-{before}">', f'href="{API}/notices/{after}"',
                         f'href="{API}/paper/notices/{after}"', "<code>cairn verify</code>"):
                self.assertIn(part, article)
            rows = {int(row.split('<span class="no">')[1].split("<")[0]): row
                    for row in re.findall(r"<tr>(<td>.*?)</tr>", article, re.DOTALL)}
            self.assertEqual(rows.keys(), {d["car"] for d in document["content"]["differences"]})
            for told in document["content"]["differences"]:
                row = rows[told["car"]]
                places = [str(told[side]["position"] or "–") for side in ("before", "after")]
                costs = [told[side]["penalty"].replace(".", sign) for side in ("before", "after")]
                for one in (places, costs):
                    text = " → ".join(one) if one[0] != one[1] else one[0]
                    self.assertIn(f"<td>{text}<", row)
        until = self.content(before)["protest_until"]
        self.assertIn(f'<time datetime="{until}">',
                      page.split(f'<article id="notice-{before}">')[1].split("</article>")[0])

    def change_after(self, final):
        """A later change replaces a final classification; the new notice names the old one."""
        old = self.server.get(f"{API}/notices/{final}").body
        self.decide({"kind": "disqualify", "car": 1, "reason": "scrutineering after the finish"})
        self.assertEqual(self.status(), "provisional")
        again = self.posted(kind="provisional")
        self.assertEqual(self.content(again)["supersedes"], final)
        self.assertIn(1, [d["car"] for d in self.content(again)["differences"]])
        self.assertEqual(self.server.get(f"{API}/notices/{final}").body, old)
        self.wait_for(lambda: self.post(kind="final").status == 200)
        self.assertEqual(self.status(), "final")
        self.assert_taken(self.server.post("readings", [
            {"point": "PC1", "car": 9, "id": "late"}]), 1)
        self.assertEqual(self.status(), "provisional")
        for notice in self.server.get(f"{API}/notices").json()["notices"]:
            self.assertEqual(verify(self.server.data, SLUG, str(notice["number"]))[0], 0)


class CasesTest(NoticesTest):
    def cases(self):
        return self.server.get(f"{API}/enquiries", self.server.organiser).json()["enquiries"]

    def test_a_case_is_opened_and_answered_once(self):
        before = self.public_revision()
        answer = self.server.post("enquiries", {"kind": "enquiry", "car": "1", "text": "PC1 <i>?</i>"})
        number = answer.json()["number"]
        self.assertEqual(answer.json()["revision"], self.office_revision())
        mine = self.cases()[-1]
        self.assertEqual((mine["number"], mine["kind"], mine["car"], mine["point"], mine["text"],
                          mine["answer"]), (number, "enquiry", 1, None, "PC1 <i>?</i>", None))
        self.assertEqual(self.server.post(f"enquiries/{number}", {
            "outcome": "answered", "text": "It was read."}).status, 200)
        self.assertEqual((self.cases()[-1]["answer"]["outcome"], self.cases()[-1]["answer"]["text"]),
                         ("answered", "It was read."))
        self.assertEqual(self.public_revision(), before)

    def test_what_is_no_case(self):
        for body, status in (({"kind": "enquiry", "car": 77, "text": "x"}, 422),
                             ({"kind": "enquiry", "car": 1, "point": "X9", "text": "x"}, 422),
                             ({"kind": "enquiry", "car": 1}, 400), ({"car": 1, "text": "x"}, 400),
                             ({"kind": "enquiry", "car": 1, "text": "x", "more": 1}, 400)):
            self.assert_problem(self.server.post("enquiries", body), status)
        good = {"outcome": "answered", "text": "x"}
        self.assert_problem(self.server.post("enquiries/99", good), 422)
        self.assert_problem(self.server.post("enquiries/x", good), 404)
        self.assert_problem(self.server.post("enquiries/1", {"outcome": "maybe", "text": "x"}), 400)
        self.assert_problem(self.server.post("enquiries/1", {"outcome": "answered"}), 400)

    def test_only_organisers_see_them(self):
        self.assert_problem(self.server.get(f"{API}/enquiries"), 401)
        self.assert_problem(self.server.get(f"{API}/enquiries", self.server.timekeeper), 403)
