# SPDX-License-Identifier: MIT
"""A standby copies the facts of a server as they come, and takes over."""

import contextlib
import os
import shutil
import sqlite3
import subprocess
import tempfile
import time
import unittest

from tests.support import cairn as program, serving, tls
from tests.support.relay import Relay, hosts

API, SLUG = serving.API, serving.SLUG
BYS = ("overall", "class", "category", "day", "test", "team")


class Standby(serving.Server):
    """A server of a folder that `cairn follow` fills."""

    def __init__(self, first):  # pylint: disable=super-init-not-called
        self.folder = tempfile.mkdtemp(prefix="cairn-standby-")
        self.data = os.path.join(self.folder, "data")
        self.log = os.path.join(self.folder, "log")
        self.answers = []
        self.organiser, self.timekeeper = first.organiser, first.timekeeper


class FollowTest(unittest.TestCase):
    def setUp(self):
        self.first = serving.Server()
        self.addCleanup(self.first.end)
        self.second = Standby(self.first)
        self.addCleanup(self.second.end)
        self.followers = []
        self.addCleanup(self.end_followers)

    def end_followers(self):
        for process in self.followers:
            if process.poll() is None:
                process.kill()
            process.communicate()

    def command(self, *options, url=None, slug=SLUG):
        return [program.CAIRN, "follow", url or f"http://127.0.0.1:{self.first.port}",
                self.second.data, slug, *options]

    def once(self, *options, code=0, key=None, proxy=None, **where):
        names = ("http_proxy", "https_proxy", "no_proxy", "all_proxy")
        env = {name: value for name, value in os.environ.items() if name.lower() not in names}
        env["CAIRN_KEY"] = key or self.first.organiser
        if proxy is not None:
            env["http_proxy"] = proxy
        done = subprocess.run(self.command("--once", *options, **where), capture_output=True,
                              timeout=120, check=False, env=env)
        told = done.stdout.decode(), done.stderr.decode()
        self.assertEqual(done.returncode, code, told)
        return told

    def start(self, *options):
        process = subprocess.Popen(self.command(*options), stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE,
                                   env={**os.environ, "CAIRN_KEY": self.first.organiser})
        self.followers.append(process)
        return process

    def export(self, server):
        path = os.path.join(server.folder, "export")
        shutil.rmtree(path, ignore_errors=True)
        serving.cairn("export", server.data, SLUG, path)
        found = {}
        for name in os.listdir(path):
            with open(os.path.join(path, name), "rb") as file:
                found[name] = file.read()
        return found

    def seen(self, server):
        """What the public sees, with its revision numbers."""
        keys = (None, self.first.organiser, self.first.timekeeper)
        return [server.get(f"{API}/standings?by={by}", key).body for by in BYS for key in keys] + \
            [server.get(f"{API}/notices").body,
             server.get(f"{API}/enquiries", self.first.organiser).body]

    def promote(self, code=0):
        done = subprocess.run([program.CAIRN, "promote", self.second.data, SLUG],
                              capture_output=True, timeout=120, check=False)
        self.assertEqual(done.returncode, code, done.stderr)
        return done.stdout.decode(), done.stderr.decode()

    def go_alone(self, *rows):
        """Makes the second folder go its own way: it has the facts that the first began with, and
        some of its own."""
        serving.cairn("export", self.first.data, SLUG, os.path.join(self.second.folder, "event"))
        path = os.path.join(self.second.folder, "event", "readings.csv")
        with open(path, "r", encoding="utf-8") as file:
            heads = file.readline().strip().split(",")
        with open(path, "a", encoding="utf-8") as file:
            for row in rows:
                file.write(",".join(str(row.get(head, "")) for head in heads) + "\n")
        serving.cairn("import", self.second.data, os.path.join(self.second.folder, "event"))

    def wait_for(self, what, seconds=60):
        until = time.monotonic() + seconds
        while not what():
            self.assertLess(time.monotonic(), until, "the standby does not follow")
            time.sleep(0.05)

    def test_what_has_no_car_of_the_list_is_followed_and_counts_once_the_entry_is_there(self):
        def put(entries):
            answer = self.first.send("PUT", "entries", entries, self.first.organiser,
                                     media_type="text/csv")
            self.assertEqual(answer.status, 200, answer)
        desk = {"point": "TC1", "desk": "0a1b2c3d"}
        self.assertEqual(self.first.post("readings", [
            {**desk, "car": 402, "time": "08:54", "id": "late-402"},
            {**desk, "time": "08:56", "id": "blank"}]).json()["accepted"], 2)
        self.once()
        self.assertIn(b"late-402", self.export(self.second)["unassigned.csv"])
        put(serving.ENTRIES + "402,Merle Quay,,Marl,Ten,1937,1200,open,,\n")
        self.once()
        there = self.export(self.second)
        self.assertEqual(there, self.export(self.first))
        self.assertIn(b"late-402", there["readings.csv"])
        self.assertNotIn(b"late-402", there["unassigned.csv"])

    def test_one_look_copies_all(self):
        told, errors = self.once()
        self.assertRegex(told, rf"^{SLUG}: 8 readings, 1 decisions, 0 notices, 0 cases, 2 keys; revision \d+\n$")
        self.assertEqual(errors, "")
        self.assertEqual(self.export(self.first), self.export(self.second))
        self.second.start()
        self.assertEqual(self.seen(self.first), self.seen(self.second))
        self.assertEqual(self.once(), ("", ""))

    def test_it_follows_and_takes_over(self):
        follower = self.start()
        self.wait_for(lambda: os.path.exists(os.path.join(self.second.data, SLUG + ".cairn")))
        self.second.start()
        desk = [{"point": "TC1", "car": 8, "time": "08:54:10", "id": "desk-1"},
                {"point": "R1/1", "car": 2, "time": "09:17:00", "id": "desk-2"}]
        self.assertEqual(self.first.post("readings", desk, self.first.timekeeper).status, 200)
        self.first.post("decisions", [{"kind": "close", "point": "TC1", "reason": "all through"}])
        self.first.send("POST", "notices", {"title": "Lunch", "text": "Is moved."},
                        self.first.organiser)
        case = self.first.post("enquiries", {"kind": "protest", "car": 2, "point": "TC1",
                                             "text": "We were early."}).json()["number"]
        told = self.first.post(f"enquiries/{case}", {"outcome": "rejected",
                                                     "text": "The card says otherwise."})
        self.assertEqual(told.status, 200, str(told))
        late = self.first.add_key("--role", "timekeeper", "--points", "PC1")
        self.wait_for(lambda: self.first.get(API, late).status == 200)
        self.first.send("PUT", "entries", serving.ENTRIES + "12,L. Comer,,Marl,Ten,1950,,open,,\n",
                        self.first.organiser, "text/csv")
        self.first.post("readings", [{"point": "PC1", "car": 12, "id": "desk-3"}], late)
        self.wait_for(lambda: self.second.get(f"/{SLUG}/").status == 200 and
                      self.seen(self.first) == self.seen(self.second))
        self.assertEqual(self.export(self.first), self.export(self.second))
        # Before it has taken over it accepts nothing.
        told = self.second.post("readings", desk, self.first.timekeeper)
        self.assertEqual(told.status, 503)
        self.assertIn("cairn promote", told.json()["detail"])
        # The first one dies, which is logged once.
        self.first.process.kill()
        self.first.process.wait()
        self.assertIn(b"trying on", follower.stderr.readline())
        self.assertIn("a server holds it: stop it first", self.promote(2)[1])
        self.second.stop()
        self.assertIn("cairn follow fills it: end that first", self.promote(2)[1])
        time.sleep(1.5)
        follower.terminate()
        self.assertEqual(follower.wait(60), 0)
        self.assertEqual(follower.stderr.read(), b"")
        told, errors = self.promote()
        self.assertRegex(told, rf"^{SLUG}: is the first now, epoch 2: 11 readings, 2 decisions, ")
        self.assertIn(f"cairn merge {self.second.data} {SLUG} ITS_FILE", told)
        self.assertEqual(errors, "")
        self.second.start()
        self.assertEqual(self.second.post("readings", desk, self.first.timekeeper)
                         .json()["duplicates"], 2)
        told = self.second.post("readings", [{"point": "PC1", "car": 12, "id": "desk-3"},
                                             {"point": "PC1", "car": 3, "id": "desk-4"}], late)
        self.assertEqual((told.json()["accepted"], told.json()["duplicates"]), (1, 1))

    def test_who_was_taken_over_from_is_known_by_its_epoch(self):
        self.once()
        self.promote()
        self.assertIn("it is the first already", self.promote(2)[1])
        before = self.export(self.second)
        _, errors = self.once(code=2)
        self.assertIn("this file was made the first after that server", errors)
        self.assertEqual(self.export(self.second), before)
        # The first one, which does not know of the takeover, accepted one more.
        self.first.post("readings", [{"point": "PC1", "car": 5, "id": "late"}])
        self.second.start()
        self.second.post("readings", [{"point": "PC1", "car": 3, "id": "new"}])
        back = [program.CAIRN, "follow", f"http://127.0.0.1:{self.second.port}", self.first.data,
                SLUG, "--once"]
        env = {**os.environ, "CAIRN_KEY": self.first.organiser}
        done = subprocess.run(back, capture_output=True, timeout=120, check=False, env=env)
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"a server holds this file as the first: stop it before", done.stderr)
        self.assertEqual(self.first.post("readings", [{"point": "PC1", "car": 2, "id": "still"}])
                         .status, 200)
        self.first.stop()
        done = subprocess.run(back, capture_output=True, timeout=120, check=False, env=env)
        self.assertEqual(done.returncode, 0, done.stderr)
        rows = self.export(self.first)["readings.csv"]
        self.assertTrue(b",late," in rows and b",new," in rows)
        self.first.start()
        self.assertEqual(self.first.post("readings", [{"point": "PC1", "car": 2}]).status, 503)

    def test_what_cannot_be_promoted(self):
        self.assertIn("no such event file", self.promote(2)[1])
        for words in ((), (self.second.data,), (self.second.data, "No"), ("--x",)):
            done = subprocess.run([program.CAIRN, "promote", *words], capture_output=True,
                                  timeout=60, check=False)
            self.assertEqual(done.returncode, 2, words)
        self.once()
        file = os.path.join(self.second.data, SLUG + ".cairn")
        with contextlib.closing(sqlite3.connect(file)) as db:
            db.execute("DROP TRIGGER reading_stays")
            db.execute("UPDATE reading SET time = '09:00:00' WHERE seq = 2")
            db.commit()
        _, errors = self.promote(2)
        self.assertIn("damaged: reading row 2 (id ", errors)
        self.assertIn("--anyway", errors)
        serving.cairn("promote", self.second.data, SLUG, "--anyway")

    def test_a_revoked_key_is_refused_by_the_standby_too(self):
        lost = self.first.add_key("--role", "timekeeper", "--points", "PC1")
        # Commands write to the file; the server sees it within a moment.
        self.wait_for(lambda: self.first.get(API, lost).status == 200)
        self.once()
        self.second.start()
        self.assertEqual(self.second.get(API, lost).status, 200)
        self.first.revoke_last_key()
        self.wait_for(lambda: self.first.get(API, lost).status == 401)
        told, _ = self.once()
        self.assertIn("1 keys", told)
        self.wait_for(lambda: self.second.get(API, lost).status == 401)

    def test_facts_that_only_the_standby_has_stay_and_the_rest_still_comes(self):
        self.go_alone({"point": "PC1", "car": 3, "id": "own"})
        self.first.post("readings", [{"point": "PC1", "car": 5, "id": "other"}])
        told, _ = self.once()
        self.assertIn(": 1 readings", told)
        rows = self.export(self.second)["readings.csv"]
        self.assertIn(b",own,", rows)
        self.assertIn(b",other,", rows)

    def test_who_has_gone_apart_is_told_to_merge(self):
        self.go_alone({"point": "PC1", "car": 3, "id": "same"})
        self.first.post("readings", [{"point": "PC1", "car": 5, "id": "same"}])
        before = self.export(self.second)
        _, errors = self.once(code=2)
        self.assertIn("gone apart", errors)
        self.assertIn("cairn merge", errors)
        self.assertEqual(self.export(self.second), before)

    def test_what_cannot_be_followed(self):
        for key, slug, told in ((self.first.timekeeper, SLUG, "the key is not taken"),
                                ("none", SLUG, "the key is not taken"),
                                (None, "no-such", "there is no event")):
            _, errors = self.once(code=2, key=key, slug=slug)
            self.assertIn(told, errors)
        _, errors = self.once(code=1, url=f"http://127.0.0.1:{serving.shut_port(self)}/")
        self.assertIn("refused", errors)
        self.assertEqual(os.listdir(self.second.data), [])
        for words in (("--every", "0"), ("--no-such",), ("--key-file", "/no/such"), ("--ca",)):
            done = subprocess.run(self.command(*words), capture_output=True, timeout=60,
                                  check=False, env={**os.environ, "CAIRN_KEY": "x"})
            self.assertEqual((done.returncode, done.stderr.count(b"\n")), (2, 1), words)
        for url in ("ftp://127.0.0.1/", "http://127.0.0.1/merrow/", "127.0.0.1:80"):
            self.once(code=2, url=url)

    def relay(self, how, host="127.0.0.1"):
        relay = Relay(self.first, how, host)
        self.addCleanup(relay.end)
        return relay

    def test_an_answer_in_chunks_is_an_answer(self):
        for host in hosts():
            with self.subTest(host):
                shutil.rmtree(self.second.data, ignore_errors=True)
                relay = self.relay("chunks", host)
                told, errors = self.once(url=f"http://{relay.host}")
                self.assertIn("8 readings", told)
                self.assertEqual(errors, "")
                self.assertEqual(self.export(self.first), self.export(self.second))
                self.assertEqual([head["host"] for head in relay.heads], [relay.host])
                self.assertNotIn(self.first.organiser, "".join(relay.lines))

    def test_other_machines_are_asked_through_the_proxy_and_this_one_never(self):
        proxy = self.relay("chunks")
        told, errors = self.once(url="http://[fd00::7]:8080/", proxy=f"http://{proxy.host}/")
        self.assertIn("8 readings", told, errors)
        self.assertEqual(proxy.heads[0]["host"], "[fd00::7]:8080")
        self.assertTrue(proxy.lines[0].startswith("GET http://[fd00::7]:8080/api/"), proxy.lines)
        for name in ("127.0.0.1", "localhost"):
            self.once(url=f"http://{name}:{self.first.port}", proxy=f"http://{proxy.host}/")
        self.assertEqual(len(proxy.lines), 1)

    def test_an_answer_that_is_not_whole_is_none(self):
        for how in ("short", "torn"):
            with self.subTest(how):
                _, errors = self.once(code=1, url=f"http://{self.relay(how).host}")
                self.assertEqual(errors.count("\n"), 1)
                self.assertFalse(os.path.exists(os.path.join(self.second.data, SLUG + ".cairn")))

    def test_an_answer_without_end_is_given_up(self):
        _, errors = self.once(code=2, url=f"http://{self.relay('endless').host}")
        self.assertIn("longer than 67108864 bytes", errors)

    def test_who_says_nothing_is_given_up(self):
        _, errors = self.once(code=1, url=f"http://{self.relay('dead').host}")
        self.assertIn("too slow", errors)

    def test_the_key_goes_nowhere_else(self):
        other = self.relay("chunks")
        away = f"HTTP/1.1 307 X\r\nLocation: http://{other.host}/\r\nContent-Length: 0\r\n\r\n"
        _, errors = self.once(code=1, url=f"http://{self.relay(away.encode()).host}")
        self.assertIn(f"sends on to http://{other.host}/: give that address", errors)
        self.assertEqual(other.lines, [])

    def test_who_speaks_no_http_is_told_so(self):
        _, errors = self.once(code=1, url=f"http://{self.relay(b'220 mail.example ready').host}")
        self.assertIn("what answers speaks no HTTP", errors)

    def test_the_endpoint_tells_nothing_that_a_key_is_made_of(self):
        told = self.first.get(f"{API}/facts/0", self.first.organiser)
        self.assertEqual(told.headers["cache-control"], "private, no-store")
        for key in (self.first.organiser, self.first.timekeeper):
            self.assertNotIn(key, told.text)
        self.assertEqual(self.first.get(f"{API}/facts/0", self.first.timekeeper).status, 403)
        self.assertEqual(self.first.get(f"{API}/facts/0").status, 401)
        for word in ("1", "x", "8-00.1-00.00", "99999999999-0000000000000000",
                     "8-0000000000000000.1-0000000000000000.000000000000000g"):
            self.assertEqual(self.first.get(f"{API}/facts/{word}", self.first.organiser).status,
                             404, word)


class TlsFollowTest(unittest.TestCase):
    def test_only_a_certificate_that_is_trusted_gets_the_key(self):
        certificates = tls.Certificates()
        self.addCleanup(certificates.discard)
        first = tls.TlsServer(certificates)
        self.addCleanup(first.end)
        key_file = certificates.path("organiser.key")
        with open(key_file, "w", encoding="ascii") as file:
            file.write(first.organiser + "\n")
        data = os.path.join(first.folder, "standby")
        command = [program.CAIRN, "follow", f"https://127.0.0.1:{first.port}", data, SLUG, "--once",
                   "--key-file", key_file]
        done = subprocess.run(command, capture_output=True, timeout=60, check=False)
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"certificate is not to be trusted", done.stderr)
        self.assertNotIn("/facts/", first.log_text())
        # A certificate for another name.
        named = [word.replace("127.0.0.1", "localhost") for word in command]
        done = subprocess.run([*named, "--ca", certificates.path("ca.pem")], capture_output=True,
                              timeout=60, check=False)
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"certificate is not to be trusted", done.stderr)
        done = subprocess.run([*command, "--ca", certificates.path("none.pem")], capture_output=True,
                              timeout=60, check=False)
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"none.pem", done.stderr)
        self.assertNotIn("/facts/", first.log_text())
        done = subprocess.run([*command, "--ca", certificates.path("ca.pem")], capture_output=True,
                              timeout=60, check=False)
        self.assertEqual((done.returncode, done.stderr), (0, b""))
        self.assertIn(b"8 readings", done.stdout)


if __name__ == "__main__":
    unittest.main()
