# SPDX-License-Identifier: MIT
"""A crew asks with the code that it was given on paper: codes, forms, enquiries, and who sees
what."""

import csv
import io
import json
import os
import re
import sqlite3
import subprocess
from urllib.parse import urlencode

from tests.support import addresses
from tests.support.cairn import CAIRN
from tests.support.serving import API, SECRET, SLUG, ServedTest, Server, cairn

FORM = "application/x-www-form-urlencoded"
CODE = re.compile(r"[34679ACDEFGHJKMNPQRTVWXY]{3}(?:-[34679ACDEFGHJKMNPQRTVWXY]{3}){2}")
LIMIT = addresses.limits()["LIMIT_KEY_FAILURES"]
OPEN = addresses.limits()["LIMIT_OPEN_CASES"]


class CrewTest(ServedTest):
    def code(self, car, server=None):
        told = (server or self.server).get(f"{API}/codes", (server or self.server).organiser).json()
        return next(c["code"] for c in told["codes"] if c["car"] == car)

    def ask(self, car, code, text, point="", source="127.0.0.1", **headers):
        return self.server.ask("POST", f"{API}/cars/{car}/enquiries", self.json(
            code=code, point=point, text=text), source=source, Content_Type="application/json",
            **headers)

    @staticmethod
    def json(**members):
        return json.dumps(members).encode()

    def cases(self, car, code):
        answer = self.server.ask("POST", f"{API}/cars/{car}/cases", self.json(code=code),
                                 Content_Type="application/json")
        self.assertEqual(answer.status, 200, str(answer))
        self.assertEqual(answer.headers["cache-control"], "private, no-store")
        return answer.json()["enquiries"]

    def send(self, car, place="enquiry", source="127.0.0.1", key=None, headers=None, **fields):
        return self.server.ask("POST", f"/{SLUG}/cars/{car}/{place}",
                               urlencode(fields).encode(), key, source, Content_Type=FORM,
                               **(headers or {}))

    def count(self):
        """How many enquiries and protests the office has."""
        return len(self.server.get(f"{API}/enquiries", self.server.organiser).json()["enquiries"])

    def assert_page(self, answer, status, *words):
        self.assertEqual((answer.status, answer.media_type), (status, "text/html"), str(answer))
        self.assertEqual(answer.headers["cache-control"], "private, no-store")
        self.assertIn("default-src 'none'", answer.headers["content-security-policy"])
        for word in words:
            self.assertIn(word, answer.text)


class CodesTest(CrewTest):
    def test_the_office_has_them_as_json_csv_paper_and_by_command(self):
        told = self.server.get(f"{API}/codes", self.server.organiser)
        self.assertEqual(told.headers["cache-control"], "private, no-store")
        codes = {c["car"]: c["code"] for c in told.json()["codes"]}
        self.assertEqual(sorted(codes), [1, 2, 3, 5, 8, 9])
        self.assertEqual(len(set(codes.values())), 6)
        for code in codes.values():
            self.assertRegex(code, CODE)
        table = self.server.get(f"{API}/codes?format=csv", self.server.organiser).text
        rows = list(csv.DictReader(io.StringIO(table, newline="")))
        self.assertEqual({int(r["number"]): r["code"] for r in rows}, codes)
        file = os.path.join(self.server.data, SLUG + ".cairn")
        self.assertEqual(cairn("codes", file).replace("\n", "\r\n").replace("\r\r", "\r"), table)
        self.assertEqual(cairn("codes", self.server.data, SLUG), cairn("codes", file))
        paper = self.server.get(f"{API}/paper/codes", self.server.organiser,
                                Host="results.gannet.example")
        self.assertEqual(paper.media_type, "application/pdf")
        text = subprocess.run(["pdftotext", "-raw", "-", "-"], input=paper.body,
                              capture_output=True, check=True, timeout=60).stdout.decode()
        flat = " ".join(text.split())
        for row in told.json()["codes"]:
            car, crew = row["car"], " / ".join(row["crew"])
            self.assertIn(f" {car} {crew} {row['code']} Ask the office", flat)
            self.assertIn(f"results.gannet.example/{SLUG}/cars/{car}", "".join(text.split()))
        # A hash of so few characters could be undone by trying all of them.
        self.assertNotRegex(text, r"[0-9a-f]{16}")

    def test_they_are_for_organisers_alone(self):
        for path in ("codes", "paper/codes"):
            self.assert_problem(self.server.get(f"{API}/{path}"), 401)
            self.assert_problem(self.server.get(f"{API}/{path}", self.server.timekeeper), 403)

    def test_a_renewed_code_takes_the_place_of_the_old_one(self):
        old, other = self.code(8), self.code(9)
        revision = self.public_revision()
        told = self.server.post("codes/8", {"renew": True}).json()
        self.assertEqual((told["code"], told["car"], told["renewed"]), (self.code(8), 8, 1))
        self.assertNotEqual(told["code"], old)
        self.assertEqual(self.code(9), other)
        self.assertEqual(self.public_revision(), revision)
        self.assert_problem(self.ask(8, old, "Is it on?"), 403, "wrong-key")
        self.assertEqual(self.ask(8, told["code"], "Is it on?").status, 200)
        printed = cairn("codes", self.server.data, SLUG, "--renew", "8")
        new = re.search(r"(?m)^8,.*,(\S+)\r?$", printed).group(1)
        self.assertNotIn(new, (old, told["code"]))
        self.wait_for(lambda: self.code(8) == new)
        self.server.restart()
        self.assertEqual(self.code(8), new)
        self.assert_problem(self.server.post("codes/77", {"renew": True}), 404)
        self.assert_problem(self.server.post("codes/8", {"renew": False}), 400)

    def test_where_codes_go_and_where_not(self):
        code = self.code(1)
        folder = os.path.join(self.server.folder, "out")
        cairn("export", self.server.data, SLUG, folder)
        again = os.path.join(self.server.folder, "again")
        cairn("import", again, folder)
        self.assertNotIn(code, cairn("codes", again, SLUG))
        copy = os.path.join(self.server.folder, "copy.cairn")
        cairn("backup", self.server.data, SLUG, copy)
        self.assertIn(code, cairn("codes", copy))
        self.assertIn(code, cairn("codes", self.server.data, SLUG))
        # What was merged in keeps to the codes of this side.
        cairn("merge", self.server.data, SLUG, os.path.join(again, SLUG + ".cairn"))
        self.assertIn(code, cairn("codes", self.server.data, SLUG))

    def test_a_server_that_takes_over_knows_the_papers(self):
        renewed = self.server.post("codes/5", {"renew": True}).json()["code"]
        behind = os.path.join(self.server.folder, "behind")
        os.makedirs(behind)
        done = subprocess.run(
            [CAIRN, "follow", f"http://127.0.0.1:{self.server.port}", behind, SLUG, "--once"],
            env={**os.environ, "CAIRN_KEY": self.server.organiser}, capture_output=True,
            timeout=60, check=False)
        self.assertEqual(done.returncode, 0, done.stderr)
        printed = cairn("codes", behind, SLUG)
        self.assertIn(renewed, printed)
        self.assertEqual(printed, cairn("codes", self.server.data, SLUG))

    def test_the_command_says_what_is_wrong(self):
        for arguments in ((), ("a", "b", "c"), (self.server.data, "No Slug"),
                          (os.path.join(self.server.data, "none.cairn"),),
                          (self.server.data, SLUG, "--renew", "77"),
                          (self.server.data, SLUG, "--renew")):
            done = subprocess.run([CAIRN, "codes", *arguments], capture_output=True, check=False,
                                  timeout=60)
            self.assertEqual((done.returncode, done.stdout), (2, b""), arguments)
            self.assertTrue(done.stderr)


class AskingTest(CrewTest):
    def test_a_question_is_a_case_of_the_office(self):
        before = self.public_revision()
        code = self.code(1)
        told = self.ask(1, code.lower().replace("-", " "), " Was <i>it</i> us?\r\nReally? ", "TC1")
        self.assertEqual(told.status, 200, str(told))
        receipt = told.json()
        self.assertEqual((receipt["event"], receipt["car"]), (SLUG, 1))
        self.assertRegex(receipt["received"], r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$")
        mine = next(e for e in self.server.get(f"{API}/enquiries", self.server.organiser)
                    .json()["enquiries"] if e["number"] == receipt["number"])
        self.assertEqual(mine, {
            "number": receipt["number"], "kind": "enquiry", "by": "crew", "car": 1, "point": "TC1",
            "text": "Was <i>it</i> us?\nReally?", "opened": receipt["received"], "answer": None})
        self.assertEqual(self.public_revision(), before)
        # A crew on a bad line sends again.
        count = self.count()
        again = self.ask(1, code, "Was <i>it</i> us?\nReally?", "TC1")
        self.assertEqual((again.status, again.json()), (200, receipt))
        self.assertEqual(self.count(), count)
        self.server.post(f"enquiries/{receipt['number']}", {"outcome": "answered",
                                                            "text": "It was <b>you</b>."})
        held = self.cases(1, code)[-1]
        self.assertEqual((held["answer"]["outcome"], held["answer"]["text"]),
                         ("answered", "It was <b>you</b>."))
        self.assertNotIn("revision", self.server.answers[-1].json())
        # Once answered, the same may be asked again.
        self.assertNotEqual(self.ask(1, code, "Was <i>it</i> us?\nReally?", "TC1").json()["number"],
                            receipt["number"])

    def test_the_form_leads_to_a_receipt(self):
        code = self.code(2)
        text = "Ein Schaf & <b>ein Tor</b>"
        told = self.send(2, code=code, point="PC1", text=text, lang="de")
        self.assert_page(told, 303)
        place = told.headers["location"]
        self.assertRegex(place, rf"^/{SLUG}/cars/2/enquiry\?case=\d+&receipt=[0-9a-f]{{16}}&lang=de$")
        self.assertNotIn(code, place)
        page = self.server.get(place)
        number = re.search(r"case=(\d+)", place).group(1)
        self.assertEqual((page.status, page.headers["cache-control"]), (200, "no-store"))
        self.assertIn(f"Nummer {number}", page.text)
        self.assertRegex(page.text, r'id="receipt">[^<]*<time datetime="')
        self.assertNotIn("Schaf", page.text)
        for wrong in (place.replace("cars/2", "cars/3"), place.replace("case=", "case=1"),
                      re.sub("receipt=.", "receipt=x", place), re.sub("receipt=.", "receipt=", place)):
            self.assertEqual(self.server.get(wrong).status, 404, wrong)
        listed = self.send(2, "enquiries", code=code, lang="de")
        self.assert_page(listed, 200, "Ein Schaf &amp; &lt;b&gt;ein Tor&lt;/b&gt;", "PC1",
                         "Noch nicht beantwortet")
        self.server.post(f"enquiries/{number}", {"outcome": "upheld", "text": "Eine <i>Minute</i>"})
        self.assert_page(self.send(2, "enquiries", code=code, lang="de"), 200,
                         "Eine &lt;i&gt;Minute&lt;/i&gt;", "Stattgegeben")

    def test_nobody_else_is_told(self):
        code, text, answer = self.code(3), "Quietly asked", "Quietly answered"
        number = self.ask(3, code, text, "TC1").json()["number"]
        self.server.post(f"enquiries/{number}", {"outcome": "rejected", "text": answer})
        self.assertEqual(self.cases(3, code)[-1]["text"], text)
        other = self.code(5)
        self.assertNotIn(text, str(self.cases(5, other)))
        self.assert_problem(self.server.ask("POST", f"{API}/cars/3/cases", self.json(code=other),
                                            Content_Type="application/json"), 403)
        style = addresses.style_path(self.server)
        for route in addresses.routes():
            if route.is_public_read:
                told = self.server.get(addresses.example(route, style).replace("cars/1", "cars/3"))
                self.assertNotIn(text, told.body.decode(errors="replace"), route.pattern)
                self.assertNotIn(answer, told.body.decode(errors="replace"), route.pattern)

    def test_hidden_points_are_told_nowhere(self):
        code = self.code(5)
        hidden = self.ask(5, code, "Where is it?", "R1/1")
        unknown = self.ask(5, code, "Where is it?", "X1/1")
        for answer in (hidden, unknown):
            self.assert_problem(answer, 422)
        self.assertEqual(hidden.json()["detail"].replace("R1/1", "P"),
                         unknown.json()["detail"].replace("X1/1", "P"))
        for key in (None, self.server.organiser, self.server.timekeeper):
            self.assertEqual(self.server.ask("POST", f"{API}/cars/5/enquiries", self.json(
                code=code, point="R1/1", text="?"), key, Content_Type="application/json").status, 422)
            page = self.send(5, key=key, code=code, point="X1", text="?")
            self.assert_page(page, 422)
            for trace in (SECRET, "R1"):
                self.assertNotIn(trace, page.text)
        card = self.server.get(f"/{SLUG}/cars/5").text
        self.assertIn("<option>TC1</option>", card)
        self.assertNotIn("R1", card)

    def test_what_is_wrong_is_named_and_what_was_typed_stays(self):
        code, text = self.code(9), "We <b>waited</b> & waited"
        kept = "We &lt;b&gt;waited&lt;/b&gt; &amp; waited</textarea>"
        for fields, status, word in (
                ({"code": ""}, 400, "The code of your crew is missing."),
                ({"code": "AAA-AAA-AAA"}, 403, "The code is not that of this car."),
                ({"point": "X9"}, 422, "The card does not show that point."),
                ({"text": text + " \x07"}, 422, "The question holds signs that are no text.")):
            given = {"code": code, "point": "TC1", "text": text, "lang": "en", **fields}
            page = self.send(9, **given, source="127.0.5.9")
            self.assert_page(page, status, word, kept if "text" not in fields else "waited")
            if "point" not in fields:
                self.assertIn("<option selected>TC1</option>", page.text)
        long = "é" * 1001
        self.assert_page(self.send(9, code=code, text=long, lang="en"), 422, "too long", long)
        self.assert_page(self.send(9, code=code, text=" \r\n ", lang="fr"), 400,
                         "Il manque la question.")
        self.assertEqual(self.send(9, code=code, text="é" * 1000).status, 303)
        self.assert_page(self.send(9, "enquiries", code="AAA", source="127.0.5.9"), 403)
        self.assertEqual(self.send(77, code=code, text="x").status, 404)
        before = self.count()
        for body, media_type, status in (
                (b"code=%00&text=x", FORM, 400), (b"text=%ff", FORM, 400), (b"a=b", FORM, 400),
                (b"code=a&code=b", FORM, 400), (b"text=x", "text/plain", 415),
                (b"text=" + b"x" * 17000, FORM, 413)):
            told = self.server.ask("POST", f"/{SLUG}/cars/9/enquiry", body, Content_Type=media_type)
            self.assertEqual(told.status, status, body[:20])
        for body, status in ((b"{", 400), (b"[]", 400), (b'{"code": "x"}', 403), (b"{}", 400),
                             (self.json(code=code, text="x", more=1), 400),
                             (self.json(code=code), 400), (self.json(code=code, text="\u0001"), 422)):
            told = self.server.ask("POST", f"{API}/cars/9/enquiries", body,
                                   source="127.0.5.10", Content_Type="application/json")
            self.assert_problem(told, status)
        self.assertEqual(self.count(), before)

    def test_other_sites_cannot_send_it(self):
        fields = {"code": self.code(8), "text": "Sent from here?"}
        host = f"127.0.0.1:{self.server.port}"
        before = self.count()
        for headers in ({"Sec_Fetch_Site": "cross-site"}, {"Sec_Fetch_Site": "same-site"},
                        {"Sec_Fetch_Site": "cross-site", "Origin": f"http://{host}"},
                        {"Origin": "https://elsewhere.example"}, {"Origin": "null"},
                        {"Origin": "http://127.0.0.1.elsewhere.example"}):
            self.assert_page(self.send(8, headers=headers, **fields), 403, "another site")
            self.assert_page(self.send(8, "enquiries", headers=headers, code=fields["code"]), 403)
            self.assert_problem(self.ask(8, fields["code"], "x", **headers), 403)
        self.assertEqual(self.count(), before)
        for headers in ({"Sec_Fetch_Site": "same-origin", "Origin": "null"},
                        {"Sec_Fetch_Site": "none"}, {"Origin": f"http://{host}"}, {}):
            self.assertEqual(self.send(8, headers=headers, **fields).status, 303, headers)
        self.assertEqual(self.count(), before + 1)

    def test_nothing_is_done_by_looking(self):
        before = self.count()
        query = urlencode({"code": self.code(1), "text": "By looking", "point": "TC1"})
        for path in (f"/{SLUG}/cars/1/enquiry", f"/{SLUG}/cars/1/enquiries",
                     f"{API}/cars/1/enquiries", f"{API}/cars/1/cases"):
            told = self.server.get(f"{path}?{query}")
            self.assertIn(told.status, (200, 405))
            self.assertNotIn("By looking", told.text)
        self.assertEqual(self.count(), before)

    def test_the_page_says_where_its_form_comes_from(self):
        for path in ("", "/enquiry", "/enquiries"):
            self.assertIn('<meta name="referrer" content="same-origin">',
                          self.server.get(f"/{SLUG}/cars/1{path}").text)
        self.assertNotIn('name="referrer"', self.server.get(f"/{SLUG}/").text)

    def test_a_copy_of_the_site_has_no_form(self):
        folder = os.path.join(self.server.folder, "site")
        cairn("publish", self.server.data, SLUG, folder)
        with open(os.path.join(folder, SLUG, "cars", "1", "index.html"), encoding="utf-8") as file:
            card = file.read()
        for trace in ("<form", "textarea", 'name="code"', "enquir", 'id="ask"'):
            self.assertNotIn(trace, card)


class LimitsTest(CrewTest):
    def test_so_many_wait_and_no_more(self):
        code = self.code(1)
        for n in range(OPEN):
            self.assertEqual(self.ask(1, code, f"Question {n}").status, 200)
        told = self.assert_problem(self.ask(1, code, "One more"), 409, "not-yet")
        self.assertIn(f"{OPEN} enquiries of car 1 wait", told["errors"][0])
        self.assert_page(self.send(1, code=code, text="One more"), 409, "One more</textarea>",
                         "wait for an answer")
        self.assertEqual(self.ask(2, self.code(2), "Of another car").status, 200)
        first = self.cases(1, code)[0]["number"]
        self.server.post(f"enquiries/{first}", {"outcome": "withdrawn", "text": "By the crew."})
        self.assertEqual(self.ask(1, code, "One more").status, 200)

    def test_behind_a_proxy_each_address_has_its_own_count(self):
        # The test speaks from this machine, as a proxy on it does.
        code = self.code(3)

        def through(*addresses_):
            return {"X_Forwarded_For": ", ".join(addresses_)}

        def guess(turn):
            here = f"10.1.2.{turn}"
            for n in range(LIMIT):
                # A forwarded address that a guesser sends itself is not believed.
                self.assert_problem(self.ask(3, f"AAA-AAA-A{n}A", "x",
                                             **through(f"10.9.9.{n}", here)), 403)
            self.assert_problem(self.ask(3, code, "x", **through(here)), 429)
            self.assert_problem(self.ask(3, code, "x", **through("10.9.9.9", here)), 429)
        self.within_a_minute(guess)
        for number, address in enumerate(("10.1.1.2", "2001:db8::1")):
            self.assertEqual(self.ask(3, code, f"Elsewhere {number}",
                                      **through(address)).status, 200)

    def test_a_crew_that_showed_its_code_is_not_held_up_by_a_guesser_beside_it(self):
        code, other = self.code(8), self.code(9)

        def guess(turn):
            beside = {"X_Forwarded_For": f"10.2.2.{turn}"}
            self.assertEqual(self.ask(8, code, "First", **beside).status, 200)
            for car in (9, 8):
                for n in range(LIMIT + 1):
                    self.ask(car, f"AAA-AAA-{n:03}", "x", **beside)
            self.assert_problem(self.ask(9, other, "x", **beside), 429)
            self.assertEqual(self.ask(8, code, "Second", **beside).status, 200)
        self.within_a_minute(guess)

    def test_guessing_is_slowed_and_counted(self):
        def failures():
            return int(re.search(r"cairn_key_failures_total (\d+)\n",
                                 self.server.get("/metrics").text).group(1))
        code = self.code(3)

        def guess(turn):
            here, before = f"127.0.6.{turn}", failures()
            for n in range(LIMIT):
                self.assert_problem(self.ask(3, f"AAA-AAA-A{n}A", "x", source=here), 403)
            told = self.ask(3, code, "x", source=here)
            self.assert_problem(told, 429, "too-many-wrong-keys")
            self.assertEqual(told.headers["retry-after"], "60")
            self.assert_page(self.send(3, code=code, text="x", source=here), 429, "Wait a minute")
            self.assert_problem(self.server.ask(
                "POST", f"{API}/cars/3/cases", self.json(code=code), source=here,
                Content_Type="application/json"), 429)
            self.assertEqual(failures() - before, LIMIT)
        here = f"127.0.6.{self.within_a_minute(guess)}"
        # Neither another address, nor another crew behind the same proxy, nor a key is held up.
        self.assertEqual(self.ask(3, code, "From elsewhere", source="127.0.61.2").status, 200)
        self.assertEqual(self.ask(5, self.code(5), "Same proxy", source=here).status, 200)
        self.assertEqual(self.server.get(f"{API}/enquiries", self.server.organiser,
                                         source=here).status, 200)


class SecrecyOfCodesTest(CrewTest):
    def test_no_code_is_in_the_log_or_in_the_event_file(self):
        other = Server()
        try:
            code = self.code(2, other)
            fields = {"code": code, "text": "Where was it?", "point": "TC1"}
            path = f"/{SLUG}/cars/2/enquiry"
            other.ask("POST", path, urlencode(fields).encode(), Content_Type=FORM)
            other.ask("POST", f"{API}/cars/2/enquiries", self.json(**fields),
                      Content_Type="application/json")
            other.ask("POST", f"/{SLUG}/cars/2/enquiries", urlencode({"code": code}).encode(),
                      Content_Type=FORM)
            other.ask("POST", path, urlencode({"code": "MRT-QQQ-777", "text": "x"}).encode(),
                      Content_Type=FORM)
            other.get(f"{path}?code={code}")
            self.wait_for(lambda: f"GET {path} 200" in other.log_text())
            log = other.log_text()
            db = sqlite3.connect(f"{other.data}/{SLUG}.cairn")
            kept = str(db.execute("SELECT * FROM enquiry").fetchall())
            db.close()
            self.assertIn("Where was it?", kept)
            for text in (code, code.replace("-", ""), "MRT-QQQ-777"):
                self.assertNotIn(text, log)
                self.assertNotIn(text, kept)
                for name in os.listdir(other.data):
                    with open(os.path.join(other.data, name), "rb") as file:
                        self.assertNotIn(text.encode(), file.read(), name)
        finally:
            self.assertEqual(other.end(), 0)
