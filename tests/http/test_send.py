# SPDX-License-Identifier: MIT
"""`cairn send`: a file from a shell to a running server."""

import csv
import hashlib
import os
import pty
import re
import socket
import subprocess
import time
import unittest

from tests.support.cairn import CAIRN
from tests.support.sending import Shell, environment
from tests.support.serving import API, SLUG, ServedTest, cairn
from tests.support.tls import Certificates, TlsServer

HASHED = ("point", "car", "time", "elapsed", "faults", "at", "by", "replaces", "void", "reason")


def derived_id(**fields):
    """The contract's id of a reading that has none."""
    text = "|".join(fields.get(name, "") for name in HASHED)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


class SendTest(Shell, ServedTest):
    """Sends to the real server."""

    def setUp(self):
        super().setUp()
        self.url = f"http://127.0.0.1:{self.server.port}/{SLUG}/"

    def send(self, path, *options, key=None, **more):
        return self.cairn_send(self.url, path, *options, key=key or self.server.organiser, **more)

    def exported(self):
        """The readings of the event, by id."""
        out = os.path.join(self.folder, f"export-{time.monotonic_ns()}")
        cairn("export", self.server.data, SLUG, out)
        with open(os.path.join(out, "readings.csv"), encoding="utf-8") as file:
            return {row["id"]: row for row in csv.DictReader(file)}

    def test_each_separator_a_mark_and_decimal_commas(self):
        cases = {
            "comma.csv": "point,car,time\nPC1,3,10:00:01.5\n",
            "semicolon.csv": "time;point;car\r\n10:00:02,5;PC1;3\r\n",
            "tab.txt": "car\ttime\tpoint\n3\t10:00:03,5\tPC1\n",
            "mark.csv": "\ufeffpoint,car,time\nPC1,3,10:00:04.5\n"}
        for second, (name, text) in enumerate(cases.items(), 1):
            with self.subTest(name):
                out, err = self.send(self.write(name, text))
                self.assertEqual(err, "")
                self.assertIn("1 of 1 sent: 1 new, 0 there already\n", out)
                expected = derived_id(point="PC1", car="3", time=f"10:00:0{second}.5")
                self.assertEqual(self.exported()[expected]["time"], f"10:00:0{second}.5")

    def test_a_devices_headings_and_its_own_columns(self):
        path = self.write("pads.csv", "Nr;Zeit;Kanal\n 8 ;10:10:01,5;3\n9;10:10:02;\n")
        out, err = self.send(path, "--map", "car=Nr,time=Zeit", "--point=T1/1", "--by", "Pad one")
        self.assertEqual(err, f"{path}:1: warning: column “Kanal” is not known; it is kept, and "
                              "nothing else\n")
        self.assertIn("2 of 2 sent: 2 new", out)
        row = self.exported()[derived_id(point="T1/1", car="8", time="10:10:01.5", by="Pad one")]
        self.assertEqual((row["car"], row["by"], row["Kanal"]), ("8", "Pad one", "3"))

    def test_sending_twice_counts_once(self):
        path = self.write("twice.csv", "point,car,time\nPC1,5,11:00\nPC1,8,11:01\n")
        before = len(self.exported())
        self.send(path)
        self.assertEqual(len(self.exported()), before + 2)
        revision = self.office_revision()
        out, _ = self.send(path)
        self.assertIn("2 of 2 sent: 0 new, 0 there already, 2 by an earlier run\n", out)
        out, _ = self.send(path, "--again")
        self.assertIn("2 of 2 sent: 0 new, 2 there already\n", out)
        os.unlink(path + ".sent")
        out, _ = self.send(path)
        self.assertIn("2 of 2 sent: 0 new, 2 there already\n", out)
        self.assertEqual(self.office_revision(), revision)

    def test_wrong_rows_stay_and_refused_ones_are_told(self):
        path = self.write("mixed.csv", "point,car,time,id\n"
                                       "PC1,2,11:10,mixed-1\n"
                                       "PC1,2,11h10,mixed-2\n"
                                       "PC1,77,11:11,mixed-3\n"
                                       "TC9,2,11:12,mixed-4\n"
                                       "PC1,9,11:13,mixed-5\n")
        out, err = self.send(path, "--batch", "2", code=2)
        self.assertEqual(err.splitlines(), [
            f"{path}:3: time “11h10” is not written as a time of day, such as 10:42:59; "
            "write 11:10",
            f"{path}:4: refused: car “77” is not in the entry list",
            f"{path}:5: refused: point “TC9” is not on the route"])
        self.assertIn("2 of 4 sent, 2 refused: 2 new, 0 there already, 1 wrong and not sent\n", out)
        self.assertEqual({i for i in self.exported() if i.startswith("mixed")},
                         {"mixed-1", "mixed-5"})
        # What was refused is offered again; what was taken is not.
        out, _ = self.send(path, code=2)
        self.assertIn("2 of 4 sent, 2 refused: 0 new, 0 there already, 2 by an earlier run", out)

    def test_a_changed_row_under_its_old_id_is_not_passed_over(self):
        path = self.write("changed.csv", "point,car,time,id\nPC1,1,11:20,changed-1\n")
        self.send(path)
        self.write("changed.csv", "point,car,time,id\nPC1,1,11:21,changed-1\n")
        _, err = self.send(path, code=2)
        self.assertIn("id “changed-1” is there already with other content", err)

    def test_a_dry_run_sends_nothing(self):
        before = self.office_revision()
        path = self.write("dry.csv", "point,car,time\nPC1,1,12:00\nPC1,1,noon\n")
        process = self.start(self.url, path, "--dry-run")
        out, err = process.communicate(timeout=60)
        self.assertEqual(process.returncode, 2)
        self.assertEqual(out, b"1 good, 1 wrong and not sent; nothing was sent\n")
        self.assertIn(b"dry.csv:3: time", err)
        self.assertEqual(self.office_revision(), before)
        self.assertFalse(os.path.exists(path + ".sent"))

    def test_standard_input(self):
        out, _ = self.send("-", text=b"point,car,time\nPC1,2,12:10\n")
        self.assertIn("1 of 1 sent: 1 new", out)
        _, err = self.send("-", text=b"point,car,time\nPC1,2,noon\n", code=2)
        self.assertTrue(err.startswith("standard input:2: time"), err)

    def test_a_line_a_batch_where_there_is_no_terminal(self):
        rows = "".join(f"PC1,1,13:{n // 60:02}:{n % 60:02}\n" for n in range(1204))
        out, _ = self.send(self.write("many.csv", "point,car,time\n" + rows), "--batch", "500")
        self.assertEqual(out.splitlines(), [
            "500 of 1,204 sent", "1,000 of 1,204 sent", "1,204 of 1,204 sent",
            "1,204 of 1,204 sent: 1,204 new, 0 there already"])
        out, err = self.send(self.write("quiet.csv", "point,car,time\nPC1,1,14:00\n"), "--quiet")
        self.assertEqual((out, err), ("", ""))

    def test_one_line_on_a_terminal(self):
        path = self.write("terminal.csv", "point,car,time\nPC1,1,14:10\nPC1,1,14:11\n")
        control, terminal = pty.openpty()
        process = self.start(self.url, path, "--batch=1", key=self.server.organiser,
                             stdout=terminal)
        os.close(terminal)
        shown = b""
        try:
            while part := os.read(control, 4096):
                shown += part
        except OSError:  # the other end is closed
            pass
        os.close(control)
        self.assertEqual(process.wait(60), 0)
        self.assertTrue(shown.startswith(b"\r1 of 2 sent\x1b[K\r2 of 2 sent\x1b[K"), shown)
        self.assertTrue(shown.endswith(b"2 of 2 sent: 2 new, 0 there already\r\n"), shown)

    def test_a_key_covers_its_own_points_only(self):
        path = self.write("own.csv", "point,car,time\nTC1,5,08:50\nT1/1,5,09:50\nNOWHERE,5,09:51\n")
        _, err = self.send(path, key=self.server.timekeeper, code=2)
        # A point of another desk and one that does not exist get the same answer.
        self.assertEqual(err.splitlines(), [
            f"{path}:3: refused: the point is not one of this key's",
            f"{path}:4: refused: the point is not one of this key's"])

    def test_the_key_comes_from_a_link_a_file_or_the_environment(self):
        keys = {"link": self.server.organiser, "file": self.server.timekeeper}
        path = self.write("keys.csv", "point,car,time\nPC1,9,14:30\n")  # not the timekeeper's
        link = f"{self.url}control#{keys['link']}"
        self.cairn_send(link, path)
        private = self.write("key", keys["file"] + "\n")
        os.chmod(private, 0o600)
        _, err = self.cairn_send(link, path, "--again", "--key-file", private, key=keys["link"],
                                 code=2)
        self.assertEqual(err, f"{path}:2: refused: the point is not one of this key's\n")
        with open(private, "w", encoding="utf-8") as file:
            file.write(f"{self.url}office#{keys['link']}\n")
        os.chmod(private, 0o644)
        _, err = self.cairn_send(self.url, path, "--again", "--key-file", private)
        self.assertEqual(err, f"cairn send: warning: others on this machine can read {private}\n")
        _, err = self.cairn_send(self.url, path, code=2)
        self.assertIn("a key is needed", err)

    def test_a_key_that_is_not_taken_ends_it(self):
        path = self.write("wrong.csv", "point,car,time\nPC1,9,14:40\n")
        out, err = self.send(path, key="22222222222222222222222222222222", code=1)
        self.assertIn("the key is not taken: The key is not in force for this event.", err)
        self.assertIn("0 of 1 sent", out)
        self.assertIn("run the same command again", out)
        _, err = self.cairn_send(f"http://127.0.0.1:{self.server.port}/other/", path,
                                 key=self.server.organiser, code=1)
        self.assertIn("There is no event “other”", err)

    def test_the_key_is_in_no_address_log_or_list_of_processes(self):
        key = self.server.add_key("--role", "timekeeper", "--points", "PC1")
        path = self.write("silent.csv", "point,car,time\nPC1,9,14:50\nPC1,977,14:51\n")
        with Listener() as peer:
            process = self.start(f"http://127.0.0.1:{peer.port}/{SLUG}/control?x=1#{key}", path,
                                 "--tries", "1")
            head = peer.heard()
            with open(f"/proc/{process.pid}/cmdline", "rb") as file:
                self.assertNotIn(key.encode(), file.read())
        out, err = process.communicate(timeout=60)
        self.assertNotIn(key.encode(), out + err)
        lines = head.decode().split("\r\n")
        self.assertEqual(lines[0], f"POST {API}/readings HTTP/1.1")
        self.assertEqual([line for line in lines if key in line], [f"Authorization: Bearer {key}"])
        out, err = self.cairn_send(f"{self.url}control#{key}", path, code=2)
        self.assertNotIn(key, out + err + self.server.log_text())
        with open(path + ".sent", encoding="ascii") as file:
            self.assertNotIn(key, file.read())

    def test_one_row_that_cannot_be_read_holds_up_no_other(self):
        rows = [f"PC1,1,15:{n:02}," for n in range(20)]
        rows[7] = "PC1,1,15:07,\x1f"  # no JSON reader of ours takes this sign
        path = self.write("stumble.csv", "point,car,time,by\n" + "\n".join(rows) + "\n")
        out, err = self.send(path, code=2)
        self.assertIn("19 of 20 sent, 1 refused: 19 new", out)
        self.assertRegex(err, rf"^{re.escape(path)}:9: refused: the server says: .+\n$")

    def test_a_folder_that_cannot_be_written_is_told(self):
        path = self.write("closed.csv", "point,car,time\nPC1,1,15:40\n")
        os.mkdir(path + ".sent.new")  # in the way of the new file
        out, err = self.send(path)
        self.assertIn("1 of 1 sent: 1 new", out)
        self.assertRegex(err, r"closed\.csv\.sent cannot be written \(.+\); going on without")
        out, _ = self.send(path)
        self.assertIn("1 of 1 sent: 0 new, 1 there already", out)

    def test_a_file_of_somebody_else_is_left_alone(self):
        path = self.write("others.csv", "point,car,time\nPC1,1,15:50\n")
        self.write("others.csv.sent", "my own notes\n")
        _, err = self.send(path)
        self.assertIn("others.csv.sent is there and is not what this program writes", err)
        with open(path + ".sent", encoding="ascii") as file:
            self.assertEqual(file.read(), "my own notes\n")

    def test_another_server_is_another_matter(self):
        path = self.write("moved.csv", "point,car,time\nPC1,1,15:55\n")
        self.send(path)
        other = f"http://localhost:{self.server.port}/{SLUG}/"
        out, err = self.cairn_send(other, path, key=self.server.organiser)
        self.assertIn("is about another address; it is begun anew", err)
        self.assertIn("1 of 1 sent: 0 new, 1 there already", out)

    def test_a_torn_note_costs_nothing_but_the_row(self):
        path = self.write("torn.csv", "point,car,time\nPC1,1,15:57\nPC1,1,15:58\n")
        self.send(path)
        with open(path + ".sent", "r+", encoding="ascii") as file:
            file.truncate(len(file.read()) - 5)
        out, _ = self.send(path)
        self.assertIn("2 of 2 sent: 0 new, 1 there already, 1 by an earlier run", out)

    def test_command_lines_that_are_wrong(self):
        path = self.write("lines.csv", "point,car\nPC1,1\n")
        for arguments, said in (
                ((self.url,), "it needs an address and a file"),
                (("127.0.0.1/x/", path), "the address of an event is needed"),
                ((self.url, path, "--batch", "0"), "--batch must be a whole number from 1 to 5000"),
                ((self.url, path, "--tries", "x"), "--tries must be a whole number"),
                ((self.url, path, "--map", "zeit=time"), "“zeit” is no column of readings"),
                ((self.url, path, "--key", "x"), "--key is not known"),
                ((self.url, path, "--dry-run=yes"), "--dry-run takes no value"),
                ((self.url, os.path.join(self.folder, "none.csv")), "cannot be read"),
                ((self.url, path, "--key-file", os.path.join(self.folder, "none")),
                 "cannot be read")):
            with self.subTest(said):
                done = subprocess.run([CAIRN, "send", *arguments], capture_output=True, timeout=60,
                                      env=environment(CAIRN_KEY=self.server.organiser), check=False)
                self.assertEqual(done.returncode, 2, done)
                self.assertIn(said, done.stderr.decode())

    def test_help(self):
        done = subprocess.run([CAIRN, "send", "--help"], capture_output=True, timeout=60,
                              check=True)
        text = done.stdout.decode()
        for said in ("--key-file", "CAIRN_KEY", "FILE.sent", "list\nof processes"):
            self.assertIn(said, text)


class Listener:
    """A socket that reads one request and does not answer."""

    def __enter__(self):
        self.socket = socket.create_server(("127.0.0.1", 0))
        self.socket.settimeout(60)
        self.port = self.socket.getsockname()[1]
        self.peer = None
        return self

    def heard(self):
        self.peer, _ = self.socket.accept()
        self.peer.settimeout(60)
        got = b""
        while b"\r\n\r\n" not in got:
            got += self.peer.recv(65536)
        return got.split(b"\r\n\r\n")[0]

    def __exit__(self, *exc):
        if self.peer is not None:
            self.peer.close()
        self.socket.close()


class TrustTest(Shell):
    """A server with a certificate of its own authority."""

    def test_only_a_certificate_that_is_trusted_gets_the_key(self):
        certificates = Certificates()
        self.addCleanup(certificates.discard)
        server = TlsServer(certificates)
        self.addCleanup(server.end)
        url = f"https://127.0.0.1:{server.port}/{SLUG}/"
        path = self.write("trust.csv", "point,car,time\nPC1,1,10:00\n")
        _, err = self.cairn_send(url, path, key=server.organiser, code=1)
        self.assertIn("; --ca FILE names the certificates to trust", err)
        _, err = self.cairn_send(url.replace("127.0.0.1", "localhost"), path, "--ca",
                                 certificates.path("ca.pem"), key=server.organiser, code=1)
        self.assertIn("; --ca FILE names the certificates to trust", err)  # another name
        _, err = self.cairn_send(url, path, "--ca", os.path.join(self.folder, "none.pem"),
                                 key=server.organiser, code=1)
        self.assertRegex(err, "^cairn send: .+\n$")
        out, err = self.cairn_send(url, path, "--ca", certificates.path("ca.pem"),
                                   key=server.organiser)
        self.assertEqual(err, "")
        self.assertIn("1 of 1 sent: 1 new", out)


if __name__ == "__main__":
    unittest.main()
