# SPDX-License-Identifier: MIT
"""Server-sent events: what a listener is told, and when."""

import re
import threading
import time

from tests.support.serving import API, ENTRIES, SECRET, ServedTest, Stream


class StreamTest(ServedTest):
    number = 0

    def listen(self, last_id=None, key=None):
        stream = Stream(self.server, last_id, key)
        self.addCleanup(stream.close)
        self.assertEqual(stream.told.status, 200)
        return stream

    def new_id(self):
        type(self).number += 1
        return f"stream-{self.number}"

    def fine(self, car, value, kind="penalty"):
        self.assert_taken(self.server.post("decisions", [
            {"kind": kind, "car": car, "value": value, "reason": "test", "id": self.new_id()}]), 1)

    def test_the_first_message_is_the_revision_of_now(self):
        stream = self.listen()
        told = stream.told
        self.assertEqual(told.getheader("content-type").split(";")[0], "text/event-stream")
        self.assertIn("no-cache", told.getheader("cache-control"))
        self.assertIsNone(told.getheader("content-length"))
        first = stream.message()
        revision = self.public_revision()
        self.assertEqual(first["data"], {"revision": revision})
        self.assertEqual(first["id"], str(revision))
        self.assertGreaterEqual(int(first["retry"]), 1000)
        self.assertNotIn("event", first)

    def test_who_is_up_to_date_is_told_so(self):
        first = self.listen(self.public_revision()).message()
        self.assertNotIn("data", first)
        self.assertIn("retry", first)

    def test_who_missed_something_is_told_the_revision(self):
        for last in (0, self.public_revision() - 1, 99999999999999999999, "nonsense", ""):
            first = self.listen(last).message()
            self.assertEqual(first["data"], {"revision": self.public_revision()})

    def test_who_comes_amid_changes_hears_the_newest_and_never_an_older_one(self):
        falls, ended = [], []

        def listen():
            for _ in range(40):
                stream = self.listen()
                heard = [int(stream.message()["id"]) for _ in range(3)]
                stream.close()
                if heard != sorted(set(heard)):
                    falls.append(heard)
            ended.append(True)

        crowd = [threading.Thread(target=listen, daemon=True) for _ in range(6)]
        for thread in crowd:
            thread.start()
        while any(thread.is_alive() for thread in crowd):
            self.fine(3, "0.5")
        self.assertEqual(falls, [])
        self.assertEqual(len(ended), len(crowd))

    def test_a_small_change_is_told_row_by_row(self):
        stream = self.listen()
        before = stream.message()["data"]["revision"]
        self.fine(3, "7.25")
        told = stream.message()
        self.assertEqual(told["id"], str(before + 1))
        self.assertEqual(told["data"]["from"], before)
        self.assertEqual(told["data"]["revision"], before + 1)
        standings = self.server.get(f"{API}/standings").json()
        self.assertEqual(standings["revision"], before + 1)
        row = {r["car"]: r for r in standings["standings"] + standings["unplaced"]}
        self.assertIn(3, [r[0] for r in told["data"]["rows"]])
        for car, position, penalty, through in told["data"]["rows"]:
            self.assertEqual((position, penalty, through),
                             (row[car]["position"], row[car]["penalty"], row[car]["through"]))

    def test_rows_make_the_standings_of_the_next_revision(self):
        """A page that applies the rows of a patch to its standings need not ask again."""
        def table():
            told = self.server.get(f"{API}/standings").json()
            return {r["car"]: [r["position"], r["penalty"], r["through"]]
                    for r in told["standings"] + told["unplaced"]}
        stream = self.listen()
        stream.message()
        held = table()
        for car, value in ((8, "-3"), (8, "400"), (2, "0.001"), (1, "99")):
            self.fine(car, value)
            for row in stream.message()["data"]["rows"]:
                held[row[0]] = row[1:]
            self.assertEqual(held, table())
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "car": 9, "time": "08:54", "id": self.new_id()}]), 1)
        for row in stream.message()["data"]["rows"]:
            held[row[0]] = row[1:]
        self.assertEqual(held, table())

    def test_hidden_readings_send_nothing(self):
        stream = self.listen()
        before = stream.message()["data"]["revision"]
        self.assert_taken(self.server.post("readings", [
            {"point": "R1/1", "car": 2, "time": "09:07:00", "id": self.new_id()}]), 1)
        self.fine(1, "1")
        told = stream.message()
        self.assertEqual((told["data"]["from"], told["data"]["revision"]), (before, before + 1))

    def test_an_organiser_hears_no_more_than_the_public(self):
        stream = self.listen(key=self.server.organiser)
        self.assertEqual(stream.message()["data"], {"revision": self.public_revision()})
        self.assert_taken(self.server.post("readings", [
            {"point": "R1/start", "car": 2, "time": "09:00:01", "id": self.new_id()}]), 1)
        self.fine(2, "1")
        told = stream.block()
        self.assertNotIn(SECRET, "".join(told))
        self.assertNotIn("R1", "".join(told))

    def test_a_change_of_documents_is_told_without_rows(self):
        stream = self.listen()
        before = stream.message()["data"]["revision"]
        self.assertEqual(self.server.send("PUT", "entries", ENTRIES, self.server.organiser,
                                          "text/csv").status, 200)
        self.assertEqual(stream.message()["data"], {"revision": before + 1})

    def test_a_notice_is_told(self):
        stream = self.listen()
        before = stream.message()["data"]["revision"]
        self.assertEqual(self.server.post("notices", {"title": "Tea"}).status, 200)
        self.assertEqual(stream.message()["data"],
                         {"from": before, "revision": before + 1, "rows": []})

    def test_every_listener_is_told_and_one_that_left_is_forgotten(self):
        streams = [self.listen() for _ in range(30)]
        for stream in streams:
            stream.message()
        for stream in streams[::2]:
            stream.close()
        self.fine(9, "1")
        revision = self.public_revision()
        for stream in streams[1::2]:
            self.assertEqual(stream.message()["data"]["revision"], revision)
        for stream in streams:
            stream.close()
        self.wait_for(lambda: self.listeners() == 0)

    def listeners(self):
        return int(re.search(r"^cairn_listeners (\d+)$", self.server.get("/metrics").text,
                             re.M).group(1))

    def test_keys_and_events_of_streams(self):
        wrong = self.server.get(f"{API}/stream", "nonsense", source="127.2.0.1")
        self.assert_problem(wrong, 401, "no-key")
        self.assert_problem(self.server.get("/api/v1/events/other/stream"), 404, "not-found")
        self.assert_problem(self.server.ask("POST", f"{API}/stream"), 405, "wrong-method")

    def test_head_of_a_stream_ends(self):
        told = self.server.ask("HEAD", f"{API}/stream")
        self.assertEqual((told.status, told.media_type, told.body), (200, "text/event-stream", b""))

    def test_http_1_0_is_not_sent_chunks(self):
        with self.server.connect() as peer:
            peer.sendall(f"GET {API}/stream HTTP/1.0\r\n\r\n".encode())
            got = b""
            while b"data: " not in got or not got.endswith(b"\n\n"):
                part = peer.recv(4096)
                self.assertTrue(part, got)
                got += part
        head, body = got.split(b"\r\n\r\n", 1)
        self.assertNotIn(b"chunked", head.lower())
        self.assertTrue(body.startswith(b"retry: "), body)


class LargeChangeTest(ServedTest):
    """A change of more cars than a patch may have."""
    files = {"entries": "number,driver,navigator,make,model,year,category\n" + "".join(
        f"{n},Driver {n},,Calder,Six,1930,open\n" for n in range(1, 201)),
        "readings": "point,car,time\n", "decisions": "kind,car,point,value,reason\n"}

    def test_a_change_of_many_rows_tells_the_revision_alone(self):
        stream = Stream(self.server)
        self.addCleanup(stream.close)
        before = stream.message()["data"]["revision"]
        self.assert_taken(self.server.post("readings", [
            {"point": "PC1", "car": n} for n in range(1, 201)]), 200)
        self.assertEqual(stream.message()["data"], {"revision": before + 1})
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "car": 200, "time": "11:60:00"},
            {"point": "TC1", "car": 200, "time": "11:59:00"}]), 1, 0, [1])
        block = stream.block()
        self.assertLess(len("\n".join(block)), 1400)
        self.assertIn('"rows":', block[-1])


class HeartbeatTest(ServedTest):
    def test_a_beat_comes_and_the_end_of_the_server_ends_the_stream(self):
        stream = Stream(self.server)
        self.addCleanup(stream.close)
        stream.message()
        began = time.monotonic()
        self.assertEqual(stream.message(beats=True), {"event": "beat", "data": {}})
        self.assertLess(time.monotonic() - began, 29)  # the next would be later
