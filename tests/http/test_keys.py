# SPDX-License-Identifier: MIT
"""Who may do what: every route with every role, keys that are revoked or expired, guessed keys."""

import itertools
import re
import subprocess

from tests.support import addresses, cairn as program, serving
from tests.support.serving import API, SECRET, SLUG, ServedTest, Server

RANK = {"public": 0, "timekeeper": 1, "organiser": 2}
# What is sent to each write, and the status of the answer to whoever may use it: it is accepted, or
# refused for what it says.
BODIES = {"readings": ("application/json", b"[]"), "decisions": ("application/json", b"[]"),
          "notices": ("application/json", b"{}"), "entries": ("text/csv", b"broken"),
          "rules": ("application/json", b"{}"), "desks": ("application/json", b"{}"),
          "keys": ("application/json", b"{}"), "entries/try": ("text/csv", b"broken"),
          "entries/import": ("application/json", b'{"list": ""}'),
          "entries/number": ("application/json", b"{}"),
          "rules/try": ("application/json", b"{}"),
          "rules/examples": ("application/json", b"{}"), "starts": ("application/json", b"{}"),
          "effects": ("application/json", b"[]"), "doubts": ("application/json", b"{}"), "enquiries": ("application/json", b"{}"),
          "codes": ("application/json", b"{}"), "cars/enquiries": ("application/json", b"{}"),
          "cars/cases": ("application/json", b"{}"),
          "page/enquiry": ("application/x-www-form-urlencoded", b""),
          "page/enquiries": ("application/x-www-form-urlencoded", b"")}
PUBLIC = ("cars/", "page/")  # they ask for a crew's code in place of a key
TAKEN = {"readings": 200, "decisions": 200, "notices": 400, "entries": 422, "rules": 422,
         "desks": 400, "keys": 400, "entries/try": 200, "entries/import": 200,
         "entries/number": 200, "rules/try": 200,
         "rules/examples": 200, "starts": 200,
         "effects": 200, "doubts": 400, "enquiries": 400, "codes": 400, "cars/enquiries": 400, "cars/cases": 400,
         "page/enquiry": 400, "page/enquiries": 400}


class PermissionsTest(ServedTest):
    addresses_used = itertools.count()

    def source(self):
        """Another address of this machine, so that wrong keys of one test do not count with
        another's."""
        number = next(self.addresses_used)
        return f"127.1.{number // 200}.{number % 200 + 1}"

    def ask(self, route, path, **options):
        if route.method == "GET":
            return self.server.ask("GET", path, **options)
        media_type, body = BODIES[self.name_of(path)]
        return self.server.ask(route.method, path, body, Content_Type=media_type, **options)

    @staticmethod
    def name_of(path):
        """The part of a path behind the event, without ids."""
        parts = path.split("/")
        if parts[1] != "api":
            return "page/" + parts[-1]
        parts = parts[5:]
        if parts[0] == "cars":
            return "cars/" + parts[-1]
        return "/".join(parts[:2] if parts[0] in ("entries", "rules") else parts[:1])

    def expected(self, route, role):
        """The status that a right key gets."""
        if RANK[role] < RANK[route.role]:
            return 401 if role == "public" else 403
        return 200 if route.method == "GET" else TAKEN[self.name_of(route.pattern)]

    def test_every_route_with_every_role(self):
        self.server.post("notices", {"title": "Tea"})
        style = addresses.style_path(self.server)
        keys = {"public": None, "timekeeper": self.server.timekeeper,
                "organiser": self.server.organiser}
        seen = 0
        for route in addresses.routes():
            if route.pattern.endswith("/stream"):
                continue  # it does not end; tested with the streams
            path = addresses.example(route, style)
            for role, key in keys.items():
                with self.subTest(f"{route.method} {route.pattern} as {role}"):
                    answer = self.ask(route, path, key=key)
                    self.assertEqual(answer.status, self.expected(route, role), str(answer))
                    seen += 1
        self.assertEqual(seen, 3 * (len(addresses.routes()) - 1))

    def test_every_route_with_a_wrong_or_revoked_key(self):
        revoked = self.server.add_key("--role", "organiser")
        self.server.revoke_last_key()
        self.wait_for(lambda: self.server.get(API, revoked, source=self.source()).status == 401)
        style = addresses.style_path(self.server)
        for route in addresses.routes():
            for key in (revoked, "nonsense"):
                with self.subTest(f"{route.method} {route.pattern}"):
                    answer = self.ask(route, addresses.example(route, style), key=key,
                                      source=self.source())
                    if not route.has_event:  # keys belong to events
                        self.assertEqual(answer.status, 200)
                        continue
                    self.assert_problem(answer, 401, "no-key")
                    self.assertRegex(answer.headers["www-authenticate"], r"^Bearer\b")

    def test_a_write_without_a_key_is_asked_for_one(self):
        for name, (media_type, body) in BODIES.items():
            if name.startswith(PUBLIC):
                continue
            method = "PUT" if name in ("entries", "rules") else "POST"
            name += {"desks": "/0a1b2c3d", "starts": "/1", "codes": "/1",
                     "rules/examples": "/R1"}.get(name, "")
            answer = self.server.send(method, name, body, None, media_type)
            self.assert_problem(answer, 401, "no-key")
            self.assertIn("www-authenticate", answer.headers)

    def test_a_timekeeper_is_told_that_its_key_is_too_small(self):
        before = self.office_revision()
        answer = self.server.post("decisions", [{"kind": "disqualify", "car": 1, "reason": "x"}],
                                  self.server.timekeeper)
        self.assert_problem(answer, 403, "wrong-key")
        self.assertEqual(self.office_revision(), before)

    def test_ways_to_write_the_header(self):
        key = self.server.organiser
        for value, status in (("Bearer " + key, 200), ("bearer " + key, 200),
                              ("BEARER " + key, 200), ("Bearer  " + key, None),
                              ("Basic " + key, 401), (key, 401), ("Bearer", 401),
                              ("Bearer ", 401), ("Bearer " + key[:-1], 401),
                              ("Bearer " + key + "x", 401), ("Bearer " + key.upper(), 401),
                              (f"Bearer {key} {key}", 401), (f"Bearer {key}, {key}", 401)):
            answer = self.server.ask("POST", f"{API}/readings", b"[]", source=self.source(),
                                     Authorization=value, Content_Type="application/json")
            if status is not None:
                self.assertEqual(answer.status, status, value[:12])
            else:
                self.assertIn(answer.status, (200, 401))

    def test_a_key_in_the_address_is_none(self):
        for query in (f"key={self.server.organiser}", f"access_token={self.server.organiser}"):
            answer = self.server.ask("POST", f"{API}/readings?{query}", b"[]",
                                     Content_Type="application/json")
            self.assert_problem(answer, 401)

    def test_a_revoked_key_is_refused_at_once(self):
        key = self.server.add_key("--role", "timekeeper", "--points", "PC1")
        self.assertEqual(self.server.get(API, key).status, 200)
        self.server.revoke_last_key()
        source = self.source()
        answer = self.server.ask("POST", f"{API}/readings", b'[{"point": "PC1", "car": 8}]', key,
                                 source, Content_Type="application/json")
        self.assert_problem(answer, 401, "no-key")
        # Reads may go on until the server looks next, which it does ten times a second.
        self.wait_for(lambda: self.server.get(API, key, source=self.source()).status == 401)

    def test_a_key_works_for_its_own_event_only(self):
        """Two events in one folder, each with its own keys."""
        other = dict(serving.EVENT, slug="other-2031", name="Other")
        folder = serving.write_folder(self.server.folder + "/other", event=other)
        serving.cairn("import", self.server.data, folder)
        address = "/api/v1/events/other-2031"
        self.wait_for(lambda: self.server.get(address).status == 200)
        answer = self.server.get(address, self.server.organiser, source=self.source())
        self.assert_problem(answer, 401, "no-key")
        slugs = [e["slug"] for e in self.server.get("/api/v1/events").json()["events"]]
        self.assertEqual(sorted(slugs), [SLUG, "other-2031"])


class TimekeeperTest(ServedTest):
    """A timekeeper's key: for TC1, R1 (all of it) and S1."""

    def post(self, rows, key=None):
        return self.server.post("readings", rows, key or self.server.timekeeper)

    def test_its_own_points_only(self):
        told = self.assert_taken(self.post([
            {"point": "TC1", "car": 5, "time": "08:50:00"}, {"point": "TC2", "car": 5, "time": "9:00"},
            {"point": "R1/2", "car": 5, "time": "09:30:00"}, {"point": "PC1", "car": 5},
            {"point": "NO", "car": 5}, {"point": "S1/finish", "car": 5, "elapsed": "75.5"},
            {"point": "T1/1", "car": 5, "elapsed": "11.7"}, {"point": "", "car": 5}]),
            3, 0, [2, 4, 5, 7, 8])
        reasons = {row["reason"] for row in told["refused"]}
        self.assertEqual(len(reasons), 1, "another's point and none are told alike")
        self.assertEqual(self.state(5, "S1")[0], "scored")
        self.assertEqual(self.state(5, "PC1")[0], "awaiting")

    def test_not_through_replaces_either(self):
        told = self.assert_taken(self.post([
            {"point": "TC1", "car": 2, "time": "08:47:00", "replaces": "seed-5", "reason": "mine"},
            {"point": "TC1", "car": 2, "replaces": "seed-5", "void": True, "reason": "gone"}]),
            0, 0, [1, 2])
        self.assertIn("replaces", told["refused"][0]["reason"])
        self.assertEqual(self.state(2, "PC1")[0], "clean")
        self.assert_taken(self.post([{"point": "TC1", "car": 3, "time": "08:49:00", "id": "mend-1",
                                      "replaces": "seed-3", "reason": "misread"}]), 1)
        self.assertEqual(self.state(3, "TC1"), ("scored", "10.000"))

    def test_a_key_for_one_point_of_a_test(self):
        key = self.server.add_key("--role", "timekeeper", "--points", "T1/1")
        self.assert_taken(self.post([{"point": "T1/1", "car": 9, "elapsed": "11.7"},
                                     {"point": "T1/2", "car": 9, "elapsed": "9"}], key), 1, 0, [2])

    def test_it_sees_its_own_hidden_test(self):
        card = self.server.get(f"{API}/cars/1", self.server.timekeeper).json()
        self.assertIn("R1/1", [p["point"] for p in card["points"]])
        self.assertEqual(self.server.get(f"{API}/tests/R1", self.server.timekeeper).status, 200)
        self.assertIn(SECRET, self.server.get(API, self.server.timekeeper).text)

    def test_it_does_not_see_anothers_hidden_test(self):
        key = self.server.add_key("--role", "timekeeper", "--points", "PC1,T1")
        for path in (API, f"{API}/standings?by=test", f"{API}/cars/1", f"/{SLUG}/",
                     f"/{SLUG}/cars/1", f"{API}/cars/1?format=csv"):
            told = self.server.get(path, key).text
            self.assertNotIn(SECRET, told, path)
            self.assertNotIn("R1", told, path)
        self.assert_problem(self.server.get(f"{API}/tests/R1", key), 404)

    def test_some_points_of_a_hidden_test_do_not_open_the_rest(self):
        key = self.server.add_key("--role", "timekeeper", "--points", "R1/1")
        for path in (f"{API}/cars/1", f"{API}/standings?by=test", f"/{SLUG}/cars/1"):
            self.assertNotIn("R1/2", self.server.get(path, key).text, path)


class GuessingTest(ServedTest):
    def test_guessing_is_slowed_and_counted_for_that_address_alone(self):
        limit = addresses.limits()["LIMIT_KEY_FAILURES"]

        def guess(turn):
            here, before = f"127.0.3.{turn}", self.failures()
            wrong = [self.server.get(API, f"guess-{n}", source=here) for n in range(limit + 3)]
            self.assertEqual([a.status for a in wrong], [401] * limit + [429] * 3)
            told = self.assert_problem(wrong[-1], 429, "too-many-wrong-keys")
            self.assertEqual(wrong[-1].headers["retry-after"], "60")
            self.assertNotIn("guess", told["detail"])
            self.assertEqual(self.server.get(API, "guess", source=f"127.0.30.{turn}").status, 401)
            self.assertEqual(self.server.get(API, source=here).status, 200)
            self.assertEqual(self.failures() - before, limit + 4)
        self.within_a_minute(guess)

    def test_a_right_key_is_let_in_from_an_address_that_guessed(self):
        for _ in range(15):
            self.server.get(API, "guess", source="127.0.4.1")
        self.assertEqual(self.server.get(API, self.server.organiser, source="127.0.4.1").status, 200)

    def test_a_revoked_key_is_told_so_whoever_guesses_beside_it(self):
        key = self.server.add_key("--role", "timekeeper", "--points", "TC1")
        self.assertEqual(self.server.get(API, key, source="127.0.5.1").status, 200)
        self.server.revoke_last_key()
        limit = addresses.limits()["LIMIT_KEY_FAILURES"]

        def guess(turn):
            here = f"127.0.50.{turn}"
            for n in range(limit):
                self.server.get(API, f"guess-{n}", source=here)
            self.assertEqual(self.server.get(API, "guess", source=here).status, 429)
            before = self.failures()
            for _ in range(limit + 1):
                self.assert_problem(self.server.get(API, key, source=here), 401, "no-key")
            self.assertEqual(self.failures(), before)
        self.within_a_minute(guess)

    def failures(self):
        return int(re.search(r"cairn_key_failures_total (\d+)\n",
                             self.server.get("/metrics").text).group(1))


class KeyCommandTest(ServedTest):
    def refused(self, *arguments, code=2):
        done = subprocess.run([program.CAIRN, "key", *arguments], capture_output=True, text=True,
                              timeout=60, check=False)
        self.assertEqual((done.returncode, done.stdout), (code, ""), done.stderr)
        return done.stderr

    def test_what_is_no_key_is_refused_and_nothing_printed(self):
        data = self.server.data
        before = serving.cairn("key", "list", data, SLUG)
        for options, told in (
                ((), "--role"), (("--role", "king"), "organiser or timekeeper"),
                (("--role", "timekeeper"), "needs --points"),
                (("--role", "organiser", "--points", "TC1"), "--points"),
                (("--role", "timekeeper", "--points", "TC1,X9"), "“X9” is not on the route"),
                (("--role", "organiser", "--link", "gannet.example"), "--link"),
                (("--role", "organiser", "--qr", "/tmp/x.svg"), "--link"),
                (("--role", "organiser", "--colour", "red"), "--colour")):
            with self.subTest(options):
                self.assertIn(told, self.refused("add", data, SLUG, *options))
        self.assertIn("no slug", self.refused("list", data, "../x"))
        self.refused("list", data, "not-there")
        self.refused("list", data)
        self.refused("make", data, SLUG)
        self.assertIn("number", self.refused("revoke", data, SLUG, "first"))
        self.refused("revoke", data, SLUG, "99999")
        self.assertEqual(serving.cairn("key", "list", data, SLUG), before)

    def test_a_code_that_cannot_be_written_is_told(self):
        """The key is in force all the same, so its link is printed."""
        done = subprocess.run([
            program.CAIRN, "key", "add", self.server.data, SLUG, "--role", "organiser", "--link",
            "https://gannet.example", "--qr", "/not-there/key.svg"], capture_output=True,
            text=True, timeout=60, check=False)
        self.assertEqual(done.returncode, 1)
        self.assertIn("/not-there/key.svg", done.stderr)
        key = done.stdout.strip().removeprefix(f"https://gannet.example/{SLUG}/office#")
        self.wait_for(lambda: self.server.get(API, key, source="127.0.9.1").status == 200)


class SecrecyOfKeysTest(ServedTest):
    def test_no_key_is_in_the_log_or_in_the_event_file(self):
        other = Server()
        try:
            other.get(f"{API}?key={other.organiser}", other.organiser)
            other.get(API, "wrong-key-12345")
            other.post("readings", [{"point": "PC1", "car": 3}])
            self.wait_for(lambda: f"POST {API}/readings 200" in other.log_text())
            log = other.log_text()
            with open(f"{other.data}/{SLUG}.cairn", "rb") as file:
                kept = file.read()
            for key in (other.organiser, other.timekeeper):
                self.assertGreaterEqual(len(key), 26)  # 128 bits at five bits a sign
                self.assertNotIn(key, log)
                self.assertNotIn(key.encode(), kept)
            self.assertNotIn("wrong-key-12345", log)
            listed = serving.cairn("key", "list", other.data, SLUG)
            self.assertNotIn(other.organiser, listed)
        finally:
            self.assertEqual(other.end(), 0)
