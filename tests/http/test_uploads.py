# SPDX-License-Identifier: MIT
"""Uploads of readings: media types, forms of a body, what is accepted, refused and limited."""

import gzip
import json

from tests.support import addresses
from tests.support.serving import API, ServedTest

LIMITS = addresses.limits()


class MediaTypesTest(ServedTest):
    number = 0

    def body(self, kind):
        """One new sighting of car 8 in that form."""
        type(self).number += 1
        row = {"point": "PC1", "car": 8, "id": f"media-{self.number}"}
        return {"json": json.dumps([row]), "ndjson": json.dumps(row) + "\n",
                "csv": f"point,car,id\nPC1,8,media-{self.number}\n"}[kind]

    def test_each_media_type_and_its_parameters(self):
        for media_type, kind in (
                ("application/json", "json"), ("application/json; charset=utf-8", "json"),
                ("application/json;charset=UTF-8", "json"), ("Application/JSON", "json"),
                ("application/x-ndjson", "ndjson"), ("application/ndjson", "ndjson"),
                ("application/x-ndjson; charset=utf-8", "ndjson"), ("text/csv", "csv"),
                ("text/csv; charset=utf-8", "csv"), ("text/csv; header=present", "csv"),
                ("TEXT/CSV ; charset=utf-8", "csv"), ("text/csv\t;header=present", "csv")):
            with self.subTest(media_type):
                self.assert_taken(self.server.post("readings", self.body(kind),
                                                   media_type=media_type), 1)

    def test_unknown_media_types(self):
        before = self.office_revision()
        for media_type in (None, "", "text/plain", "application/xml", "application/jsonx",
                           "application/json+x", "text", "json", ";", "text/csv2",
                           "multipart/form-data; boundary=x",
                           "application/x-www-form-urlencoded"):
            for name in ("readings", "decisions", "entries", "rules", "notices"):
                with self.subTest(f"{name} {media_type}"):
                    method = "PUT" if name in ("entries", "rules") else "POST"
                    answer = self.server.send(method, name, b"[]", self.server.organiser,
                                              media_type)
                    told = self.assert_problem(answer, 415, "media-type")
                    self.assertIn("/", told["detail"])  # names what it takes
        for name, media_type in (("entries", "application/json"), ("rules", "text/csv"),
                                 ("notices", "text/csv"), ("notices", "application/x-ndjson")):
            method = "POST" if name == "notices" else "PUT"
            answer = self.server.send(method, name, b"[]", self.server.organiser, media_type)
            self.assert_problem(answer, 415, "media-type")
        self.assertEqual(self.office_revision(), before)

    def test_another_charset_is_refused_where_it_is_no_utf8(self):
        body = "point,car,by\nPC1,8,K\u00f8hler\n".encode("latin-1")
        answer = self.server.post("readings", body, media_type="text/csv; charset=iso-8859-1")
        self.assertIn(answer.status, (200, 400, 415))
        if answer.status == 200:
            self.assert_taken(answer, 0, 0, [1])

    def test_a_byte_order_mark_is_passed_over(self):
        for media_type, kind in (("application/json", "json"), ("application/x-ndjson", "ndjson"),
                                 ("text/csv", "csv")):
            body = b"\xef\xbb\xbf" + self.body(kind).encode()
            with self.subTest(kind):
                self.assert_taken(self.server.post("readings", body, media_type=media_type), 1)

    def test_a_compressed_body_is_not_guessed_at(self):
        answer = self.server.post("readings", gzip.compress(self.body("json").encode()),
                                  Content_Encoding="gzip")
        self.assert_problem(answer, 415)
        answer = self.server.post("readings", self.body("json").encode("utf-16"),
                                  media_type="application/json; charset=utf-16")
        self.assert_problem(answer, 415)


class RowsTest(ServedTest):
    def post(self, rows, media_type="application/json"):
        return self.server.post("readings", rows, media_type=media_type)

    def test_the_next_get_shows_what_was_taken(self):
        before = self.office_revision()
        told = self.assert_taken(self.post([{"point": "TC2", "car": 5, "time": "09:35:59",
                                             "id": "next-1"}]), 1)
        self.assertEqual(told["revision"], before + 1)
        self.assertEqual(self.office_revision(), before + 1)
        self.assertEqual(self.state(5, "TC2"), ("clean", "0.000"))
        row = next(r for r in self.server.get(f"{API}/standings").json()["standings"]
                   if r["car"] == 5)
        self.assertEqual((row["through"], row["status"]), ("TC2", "finished"))

    def test_accepted_duplicates_and_refused(self):
        rows = [{"point": "PC1", "car": 9, "id": "mix-1"},
                {"point": "PC1", "car": 9, "id": "mix-1"},
                {"point": "PC1", "car": 4, "id": "mix-2"},
                {"point": "PC7", "car": 9, "id": "mix-3"},
                {"point": "TC1", "car": 9, "id": "mix-4"},
                {"point": "TC1", "car": 9, "time": "25", "id": "mix-5"},
                {"point": "TC1", "car": 9, "time": "09:00", "elapsed": "10", "id": "mix-6"},
                {"point": "PC1", "car": 3, "id": "mix-1"},
                {"point": "S1/finish", "car": 9, "elapsed": "70", "faults": "hay=1",
                 "id": "mix-7"},
                {"point": "PC1", "car": 9, "id": "sp ace"},
                {"point": "PC1", "car": 9, "void": True, "id": "mix-8"},
                {"point": "PC1", "car": 9, "replaces": "mix-1", "id": "mix-9"},
                {"point": "TC1", "car": 9, "time": "09:00:00.1234", "id": "mix-10"},
                {"point": "T1/1", "car": 9, "elapsed": "11.7", "id": "mix-11"}]
        told = self.assert_taken(self.post(rows), 2, 1, range(3, 14))
        self.assertEqual([row["id"] for row in told["refused"]],
                         [row["id"] for row in rows[2:13]])
        for row in told["refused"]:
            self.assertNotIn("line", row)
            self.assertTrue(row["reason"])
        reasons = {row["id"]: row["reason"] for row in told["refused"]}
        self.assertIn("4", reasons["mix-2"])
        self.assertIn("PC7", reasons["mix-3"])
        self.assertIn("hay", reasons["mix-7"])
        again = self.assert_taken(self.post(rows), 0, 3, range(3, 14))
        self.assertEqual(again["revision"], told["revision"])

    def test_rows_without_an_id_count_once(self):
        rows = "point,car,time\nTC1,5,08:50:30\nTC1,5,08:50:30\n"
        self.assert_taken(self.post(rows, "text/csv"), 1, 1)
        self.assert_taken(self.post(rows, "text/csv"), 0, 2)
        self.assert_taken(self.post([{"point": "TC1", "car": "5", "time": "08:50:30"}]), 0, 1)
        self.assert_taken(self.post(b'{"time":"08:50:30","car":5,"point":"TC1"}\n',
                                    "application/x-ndjson"), 0, 1)

    def test_numbers_booleans_and_nulls_of_json(self):
        rows = [{"point": "S1/finish", "car": 8, "elapsed": 71.5, "id": "num-1",
                 "faults": {"cone": 2, "line": 1}, "time": None, "void": False, "reason": None}]
        self.assert_taken(self.post(rows), 1)
        self.assertEqual(self.state(8, "S1"), ("scored", "91.000"))
        self.assert_taken(self.post([{"point": "PC1", "car": [8]}, {"point": {"a": 1}, "car": 8},
                                     ["PC1", 8], "PC1", 8, None]), 0, 0, [1, 2, 3, 4, 5, 6])

    def test_a_correction_and_a_withdrawal(self):
        self.assert_taken(self.post([{"point": "TC1", "car": 2, "time": "08:47:00", "id": "mend",
                                      "replaces": "seed-2", "reason": "card says 47"}]), 1)
        self.assertEqual(self.state(2, "TC1"), ("clean", "0.000"))
        self.assert_taken(self.post([{"point": "TC1", "car": 2, "id": "gone", "replaces": "mend",
                                      "void": "yes", "reason": "wrong car"}]), 1)
        self.assertEqual(self.state(2, "TC1"), ("awaiting", "0.000"))

    def test_readings_that_differ_make_a_row_doubtful(self):
        self.assert_taken(self.post([{"point": "PC1", "car": 3, "time": "09:00", "id": "d-1"},
                                     {"point": "PC1", "car": 3, "time": "09:05", "id": "d-2"}]), 2)
        self.assertEqual(self.server.get(f"{API}/cars/3").json()["doubtful"], 1)

    def test_refused_rows_of_csv_and_ndjson_tell_their_line(self):
        told = self.assert_taken(self.post(
            "point;car;by\nPC9;1;\"two\nlines\"\nPC1;77;x\nPC1\n", "text/csv"), 0, 0, [1, 2, 3])
        self.assertEqual([row["line"] for row in told["refused"]], [2, 4, 5])
        told = self.assert_taken(self.post(
            b'{"point":"PC9","car":1}\n\n{"point":\n \t\r\n{"point":"PC1","car":1,"id":"l-5"}\n'
            b'{"point":"PC1","car":99}', "application/x-ndjson"), 1, 0, [1, 2, 4])
        self.assertEqual([row["line"] for row in told["refused"]], [1, 3, 6])

    def test_unknown_columns_and_members_are_kept(self):
        self.assert_taken(self.post("point,car,id,weather\nPC1,1,wet-1,rain\n", "text/csv"), 1)
        self.assert_taken(self.post([{"point": "PC1", "car": 1, "id": "wet-2", "mood": "calm"}]), 1)

    def test_columns_in_any_order(self):
        self.assert_taken(self.post("id;time;car;point\nord-1;08:55;9;TC1\n", "text/csv"), 1)

    def test_bodies_that_cannot_be_read(self):
        before = self.office_revision()
        for media_type, body in (
                ("application/json", b""), ("application/json", b"{}"),
                ("application/json", b'{"point":"PC1","car":1}'), ("application/json", b"null"),
                ("application/json", b'[{"point":"PC1","car":1}'), ("application/json", b"[] x"),
                ("application/json", b"[\xff]"), ("application/json", b"[" * 100000),
                ("application/json", b'[{"point":"PC1","point":"TC1","car":1}]'),
                ("application/json", b'[{"point":"PC1\x00","car":1}]'),
                ("text/csv", b""), ("text/csv", b"\n"), ("text/csv", b"car,time\n1,09:00\n"),
                ("text/csv", b"point,point,car\n"), ("text/csv", b"PC1,1\n"),
                ("text/csv", b"\xef\xbb\xbf")):
            with self.subTest(f"{media_type} {body[:30]}"):
                answer = self.server.post("readings", body, media_type=media_type)
                self.assert_problem(answer, 400, "bad-request")
        self.assertEqual(self.office_revision(), before)

    def test_nothing_to_take_is_taken(self):
        before = self.office_revision()
        for media_type, body in (("application/json", b"[]"), ("application/json", b" [ ]\n"),
                                 ("application/x-ndjson", b""), ("application/x-ndjson", b"\n\n"),
                                 ("text/csv", b"point,car\n"), ("text/csv", b"car;point")):
            told = self.assert_taken(self.post(body, media_type), 0)
            self.assertEqual(told["revision"], before)

    def test_broken_texts_are_refused_row_by_row(self):
        """Bytes that are not UTF-8, and control characters, are never stored."""
        self.assert_taken(self.post(b"point,car,by\nPC1,1,\xff\xfe\n", "text/csv"), 0, 0, [1])
        self.assert_taken(self.post(b'{"point":"PC1","car":1,"by":"\xff"}\n'
                                    b'{"point":"PC1","car":1,"id":"fine"}\n',
                                    "application/x-ndjson"), 1, 0, [1])

    def test_texts_of_others_come_back_in_reasons_as_texts(self):
        told = self.assert_taken(self.post([{"point": "<script>\"\\\u2028", "car": 1}]), 0, 0, [1])
        self.assertIn("<script>", told["refused"][0]["reason"])


class SizesTest(ServedTest):
    def rows(self, count):
        return b"point,car\n" + b"PC9,1\n" * count

    def test_as_many_rows_as_the_limit_and_no_more(self):
        before = self.office_revision()
        answer = self.server.post("readings", self.rows(LIMITS["LIMIT_ROWS"] + 1),
                                  media_type="text/csv")
        self.assert_problem(answer, 413, "too-large")
        body = b"{}\n" * (LIMITS["LIMIT_ROWS"] + 1)
        self.assert_problem(self.server.post("readings", body, media_type="application/x-ndjson"),
                            413, "too-large")
        body = b"[" + b"0," * LIMITS["LIMIT_ROWS"] + b"0]"
        self.assert_problem(self.server.post("readings", body), 413, "too-large")
        answer = self.server.post("readings", self.rows(LIMITS["LIMIT_ROWS"]),
                                  media_type="text/csv")
        told = answer.json()
        self.assertEqual((answer.status, told["accepted"], len(told["refused"])),
                         (200, 0, LIMITS["LIMIT_ROWS"]))
        self.assertEqual(self.office_revision(), before)

    def test_a_body_of_just_the_limit_and_one_byte_more(self):
        """A client that sends the whole body before it reads still gets its answer."""
        for name, method, limit, media_type in (
                ("notices", "POST", LIMITS["LIMIT_BODY_NOTICE"], "application/json"),
                ("decisions", "POST", LIMITS["LIMIT_BODY_DECISIONS"], "application/json"),
                ("readings", "POST", LIMITS["LIMIT_BODY_READINGS"], "application/json"),
                ("entries", "PUT", LIMITS["LIMIT_BODY_DOCUMENT"], "text/csv"),
                ("rules", "PUT", LIMITS["LIMIT_BODY_DOCUMENT"], "application/json")):
            with self.subTest(name):
                fits = self.server.send(method, name, b" " * limit, self.server.organiser,
                                        media_type)
                self.assertIn(fits.status, (400, 422))
                answer = self.server.send(method, name, b" " * (limit + 1), self.server.organiser,
                                          media_type)
                told = self.assert_problem(answer, 413, "too-large")
                self.assertIn(str(limit), told["detail"].replace(",", ""))

    def test_too_large_by_chunks(self):
        limit = LIMITS["LIMIT_BODY_NOTICE"]
        before = self.office_revision()
        for size, status in ((limit, 400), (limit + 1, 413), (limit * 3, 413)):
            whole = b" " * size
            chunks = (whole[at:at + 10000] for at in range(0, size, 10000))
            answer = self.server.ask("POST", f"{API}/notices", chunks, self.server.organiser,
                                     Content_Type="application/json")
            self.assert_problem(answer, status)
        self.assertEqual(self.office_revision(), before)

    def test_too_large_is_said_before_the_body_comes(self):
        for length in (LIMITS["LIMIT_BODY_READINGS"] + 1, 10 ** 12):
            got = self.server.raw(
                f"POST {API}/readings HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
                f"Authorization: Bearer {self.server.organiser}\r\nContent-Length: {length}\r\n"
                "Expect: 100-continue\r\n\r\n".encode())
            self.assertTrue(got.startswith(b"HTTP/1.1 413 "), got[:100])
            self.assertIn(b"application/problem+json", got)

    def test_a_wrong_key_is_told_before_the_body_comes(self):
        got = self.server.raw(f"POST {API}/readings HTTP/1.1\r\nHost: x\r\nContent-Type: text/csv\r\n"
                              "Content-Length: 1000\r\n"
                              "Expect: 100-continue\r\n\r\n".encode())
        self.assertTrue(got.startswith(b"HTTP/1.1 401 "), got[:100])
