# SPDX-License-Identifier: MIT
"""Conditional requests, compression, and which answers may be cached by whom."""

import gzip

from tests.support import addresses
from tests.support.serving import API, SLUG, ServedTest

PUBLIC = "public, max-age=0, s-maxage=1, must-revalidate"
PRIVATE = "private, no-store"
LARGE = f"{API}/standings"  # larger than what is worth compressing


class TagsTest(ServedTest):
    def test_every_public_answer_has_a_tag_and_is_not_sent_twice(self):
        """All that the public reads, pages and documents alike, except what is new each time,
        such as /metrics."""
        style = addresses.style_path(self.server)
        self.server.post("notices", {"title": "Tea"})
        for route in addresses.routes():
            if not route.is_public_read or route.pattern.endswith(
                    ("/metrics", "/healthz", "/clock", "/enquiry", "/enquiries")):
                continue
            with self.subTest(route.pattern):
                path = addresses.example(route, style)
                got = self.server.get(path)
                self.assertRegex(got.headers.get("etag", ""), r'^(W/)?"[!#-~]+"$')
                again = self.server.get(path, If_None_Match=got.headers["etag"])
                self.assertEqual((again.status, again.body), (304, b""), str(again))
                for name in ("etag", "cache-control", "vary"):
                    self.assertEqual(again.headers.get(name), got.headers.get(name))

    def test_the_forms_of_one_answer_have_tags_of_their_own(self):
        plain = self.server.get(LARGE).headers["etag"]
        packed = self.server.get(LARGE, Accept_Encoding="gzip").headers["etag"]
        office = self.server.get(LARGE, self.server.organiser).headers["etag"]
        self.assertEqual(len({plain, packed, office}), 3)

    def test_either_tag_answers_either_form(self):
        plain = self.server.get(LARGE).headers["etag"]
        packed = self.server.get(LARGE, Accept_Encoding="gzip").headers["etag"]
        for tag in (plain, packed):
            for encoding, own in (("identity", plain), ("gzip", packed)):
                told = self.server.get(LARGE, If_None_Match=tag, Accept_Encoding=encoding)
                self.assertEqual((told.status, told.headers["etag"]), (304, own))

    def test_lists_weak_tags_and_the_star(self):
        tag = self.server.get(LARGE).headers["etag"]
        for known in (f'"one", {tag}, "other"', f'"one",{tag}', f"W/{tag}", f'"a", W/{tag}', "*",
                      f"  {tag}  "):
            self.assertEqual(self.server.get(LARGE, If_None_Match=known).status, 304, known)
        for strange in ('"nothing"', "", tag.strip('"'), tag[:-1], '"x' + tag[1:],
                        tag[:-1] + 'x"', tag.upper() + "x"):
            self.assertEqual(self.server.get(LARGE, If_None_Match=strange).status, 200, strange)

    def test_head_is_conditional_too(self):
        tag = self.server.get(LARGE).headers["etag"]
        self.assertEqual(self.server.ask("HEAD", LARGE, If_None_Match=tag).status, 304)
        self.assertEqual(self.server.ask("HEAD", LARGE, If_None_Match='"x"').status, 200)

    def test_an_error_is_never_304(self):
        self.assertEqual(self.server.get(f"{API}/cars/4", If_None_Match="*").status, 404)
        self.assertEqual(self.server.get(f"{API}/standings?by=x", If_None_Match="*").status, 400)

    def test_the_public_tag_of_an_organisers_answer_is_not_taken(self):
        public = self.server.get(LARGE).headers["etag"]
        self.assertEqual(self.server.get(LARGE, self.server.organiser,
                                         If_None_Match=public).status, 200)

    def test_no_tag_tells_a_timekeeper_another_revision(self):
        public = self.server.get(LARGE)
        own = self.server.get(LARGE, self.server.timekeeper, If_None_Match=public.headers["etag"])
        self.assertEqual(own.status, 200)
        self.assertNotEqual(own.body, public.body)

    def test_what_is_hidden_changes_no_public_tag(self):
        def public():
            return [(a.status, a.headers["etag"], a.body) for a in (
                self.server.get(path, Accept_Encoding=encoding)
                for encoding in ("identity", "gzip")
                for path in (API, LARGE, f"{LARGE}?by=test&format=csv", f"{API}/cars/2",
                             f"/{SLUG}/", f"/{SLUG}/cars/2"))]
        before, office = public(), self.server.get(LARGE, self.server.organiser).headers["etag"]
        readings = [{"point": "R1/start", "car": 2, "time": "09:10:00"},
                    {"point": "R1/1", "car": 2, "time": "09:17:00"}]
        self.assert_taken(self.server.post("readings", readings), 2)
        self.assertEqual(public(), before)
        self.assert_taken(self.server.post("decisions", [
            {"kind": "waive", "car": 2, "point": "R1/1", "reason": "held up"}]), 1)
        self.assertEqual(public(), before)
        now = self.server.get(LARGE, self.server.organiser)
        self.assertNotEqual(now.headers["etag"], office)
        self.assertEqual(self.server.get(LARGE, If_None_Match=before[1][1]).status, 304)
        # Hidden and visible rows together show, and so does a visible row alone.
        self.assert_taken(self.server.post("readings", [
            {"point": "R1/2", "car": 2, "time": "09:20:00"}, {"point": "PC1", "car": 5}]), 2)
        for old, new in zip(before, public()):
            self.assertNotEqual(new[1], old[1])
        self.assertEqual(self.server.get(LARGE, If_None_Match=before[1][1]).status, 200)

    def test_duplicates_and_refused_rows_change_no_tag(self):
        row = [{"point": "PC1", "car": 9, "id": "twice"}]
        self.assert_taken(self.server.post("readings", row), 1)
        tags = [self.server.get(LARGE, key).headers["etag"] for key in
                (None, self.server.organiser)]
        self.assert_taken(self.server.post("readings", row + [{"point": "PC9", "car": 9}]),
                          0, 1, [2])
        self.assertEqual([self.server.get(LARGE, key).headers["etag"] for key in
                          (None, self.server.organiser)], tags)


class CompressionTest(ServedTest):
    def test_both_forms_hold_the_same(self):
        for path in (LARGE, f"{LARGE}?format=csv", f"/{SLUG}/", f"{API}/cars/1"):
            plain = self.server.get(path)
            packed = self.server.get(path, Accept_Encoding="gzip")
            self.assertNotIn("content-encoding", plain.headers)
            self.assertEqual(packed.headers["content-encoding"], "gzip")
            self.assertEqual(gzip.decompress(packed.body), plain.body)
            self.assertLess(len(packed.body), len(plain.body))
            self.assertEqual(packed.headers["content-length"], str(len(packed.body)))

    def test_who_is_sent_gzip(self):
        for accept, packed in (
                ("gzip", True), ("gzip, deflate, br", True), ("br, gzip;q=0.5", True),
                ("gzip;q=1.0", True), ("gzip; q=0.001", True), ("GZIP", True), ("*", True),
                ("deflate, gzip ;q=0.3", True), ("x-gzip", True),
                ("gzip;q=0", False), ("gzip;q=0.0", False), ("gzip; q=0.000", False),
                ("gzip;q=0, deflate", False), ("identity", False), ("br", False), ("", False),
                ("*;q=0", False), ("deflate, gzip;q=0, *", False), ("gzipped", False)):
            with self.subTest(accept):
                told = self.server.get(LARGE, Accept_Encoding=accept)
                if accept in ("*", "x-gzip"):  # may be, need not
                    self.assertIn(told.headers.get("content-encoding"), (None, "gzip"))
                else:
                    self.assertEqual(told.headers.get("content-encoding") == "gzip", packed)
                if told.headers.get("content-encoding") == "gzip":
                    gzip.decompress(told.body)

    def test_small_answers_are_sent_as_they_are(self):
        told = self.server.get("/healthz", Accept_Encoding="gzip")
        self.assertNotIn("content-encoding", told.headers)


class KeepingTest(ServedTest):
    def test_a_shared_cache_may_keep_what_the_public_sees_for_a_second(self):
        for path in (API, LARGE, f"{API}/cars/1", f"{API}/notices", "/api/v1/events", "/",
                     f"/{SLUG}/", f"/{SLUG}/cars/1", "/api/v1/openapi.yaml"):
            told = self.server.get(path)
            self.assertEqual(told.headers["cache-control"], PUBLIC, path)
            language = "" if path.startswith("/api") else "Accept-Language, "
            self.assertEqual(told.headers["vary"], f"Accept-Encoding, {language}Authorization")

    def test_a_shared_cache_keeps_nothing_that_names_the_host(self):
        """A shared cache may keep one copy for all hosts."""
        self.server.post("notices", {"title": "Tea"})
        named = 0
        for route in addresses.routes():
            if not route.is_public_read or not route.has_event:
                continue
            path = addresses.example(route, "")
            one, two = (self.server.get(path, Host=name) for name in ("one.example", "two.example"))
            self.assertEqual(one.status, 200, str(one))
            if path.endswith("/clock"):  # differs by itself
                self.assertEqual(one.headers["cache-control"], "no-store")
            elif one.body != two.body or b"one.example" in one.body or "/paper/" in path:
                named += 1
                self.assertEqual(one.headers["cache-control"],
                                 "private, max-age=0, must-revalidate", path)
                if "etag" in one.headers:
                    self.assertEqual(self.server.get(
                        path, If_None_Match=one.headers["etag"]).status, 304)
            self.assertNotIn("one.example", str(one.headers), path)
        self.assertGreaterEqual(named, 4)

    def test_nobody_keeps_what_was_told_to_a_key(self):
        for key in (self.server.organiser, self.server.timekeeper):
            for path in (API, LARGE, f"{API}/cars/1", f"{API}/notices", f"/{SLUG}/",
                         f"/{SLUG}/cars/1", f"{API}/starts/1"):
                told = self.server.get(path, key)
                self.assertEqual(told.headers["cache-control"], PRIVATE, path)
                self.assertIn("Authorization", told.headers["vary"])

    def test_nobody_keeps_answers_to_writes_or_errors(self):
        told = self.server.post("readings", [])
        self.assertEqual((told.status, told.headers["cache-control"]), (200, PRIVATE))
        self.assert_problem(self.server.get(f"{API}/cars/4"), 404)

    def test_nobody_keeps_the_figures(self):
        """/metrics is for this machine alone, so no shared cache may keep it."""
        self.assertIn("no-store", self.server.get("/metrics").headers["cache-control"])

    def test_the_style_sheet_may_be_kept_for_ever(self):
        told = self.server.get(addresses.style_path(self.server))
        self.assertEqual(told.media_type, "text/css")
        self.assertEqual(told.headers["cache-control"], "public, max-age=31536000, immutable")

    def test_an_organisers_answer_is_not_given_to_the_public(self):
        """In whatever order they ask, and however the server keeps the answers."""
        paths = (f"{LARGE}?by=class", f"/{SLUG}/?by=test", f"{API}/cars/1?after=T1")
        for path in paths:
            office = self.server.get(path, self.server.organiser).body
            public = self.server.get(path).body
            desk = self.server.get(path, self.server.timekeeper).body
            self.assertNotEqual(office, public)
            self.assertEqual(self.server.get(path, self.server.organiser).body, office)
            self.assertEqual(self.server.get(path).body, public)
            self.assertEqual(self.server.get(path, self.server.timekeeper).body, desk)
