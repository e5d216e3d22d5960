# SPDX-License-Identifier: MIT
"""`cairn send` over bad connections: nothing is lost and nothing is sent twice."""

import hashlib
import os
import re
import signal
import unittest

from tests.support.bad_line import BadLine
from tests.support.sending import Shell
from tests.support.serving import API, SLUG, ServedTest, Server, shut_port


class BadLineTest(Shell, ServedTest):
    number = 0

    def line(self, *script):
        line = BadLine(self.server, *script)
        self.addCleanup(line.end)
        return line

    def rows(self, count):
        """A file of new readings, and its ids."""
        type(self).number += 1
        ids = [f"line-{self.number}-{n}" for n in range(count)]
        text = "point,car,time,id\n" + "".join(
            f"PC1,1,{10 + self.number}:{n // 60:02}:{n % 60:02},{i}\n" for n, i in enumerate(ids))
        return self.write(f"line-{self.number}.csv", text), ids

    def held_by_server(self, ids):
        answer = self.server.post("readings", [
            {"point": "PC1", "car": 1, "time": f"{10 + self.number}:{n // 60:02}:{n % 60:02}",
             "id": i} for n, i in enumerate(ids)])
        return answer.json()["duplicates"]

    def run_line(self, line, path, *options, code=0):
        return self.cairn_send(line.url, path, *options, key=self.server.organiser, code=code)

    def test_an_answer_that_is_lost_counts_once(self):
        for what in ("lost", "torn"):
            with self.subTest(what):
                line = self.line(what)
                path, ids = self.rows(3)
                out, err = self.run_line(line, path)
                self.assertIn("3 of 3 sent: 0 new, 3 there already", out)
                self.assertIn("; trying again\n", err)
                self.assertEqual(len(line.seen), 2)
                self.assertEqual(line.seen[0][1], line.seen[1][1])
                self.assertEqual(self.held_by_server(ids), 3)

    def test_a_busy_server_is_given_the_time_it_asks_for(self):
        line = self.line(503, 429, 502)
        path, ids = self.rows(2)
        out, err = self.run_line(line, path)
        self.assertIn("2 of 2 sent: 2 new", out)
        times = [when for when, _ in line.seen]
        self.assertEqual(len(times), 4)
        for before, after in zip(times, times[1:]):
            self.assertGreaterEqual(after - before, 0.99)
        self.assertEqual([re.search(r"status (\d+)", text).group(1) for text in err.splitlines()],
                         ["503", "429", "502"])
        self.assertEqual(self.held_by_server(ids), 2)

    def test_answers_that_are_not_the_servers_are_none(self):
        good = {"accepted": 2, "duplicates": 0, "refused": [], "revision": 9}
        bad = ["other", {}, {**good, "accepted": 1}, {**good, "accepted": "2"},
               {**good, "accepted": 1, "refused": [{"row": 3, "id": "", "reason": "x"}]},
               {**good, "accepted": 0, "refused": [{"row": 1, "reason": "x"},
                                                   {"row": 1, "reason": "y"}]}]
        # Two at a time: each makes it wait longer for the next.
        for first in range(0, len(bad), 2):
            line = self.line(*bad[first:first + 2])
            path, ids = self.rows(2)
            out, err = self.run_line(line, path)
            self.assertEqual(len(line.seen), 3)
            self.assertIn("2 of 2 sent: 2 new", out)
            # The same trouble is told once.
            self.assertEqual(err, "cairn send: the answer is not one of a cairn server; there may "
                                  "be a sign-in page in between; trying again\n")
            self.assertEqual(self.held_by_server(ids), 2)

    def test_nothing_follows_a_redirection(self):
        line = self.line("away", "pass", "away", "pass")
        path, ids = self.rows(2)
        _, err = self.run_line(line, path, code=1)
        self.assertIn("the server sends on to http://sign-in.merrow.example/: give that address", err)
        # Once the server was heard, it is taken for trouble that passes.
        out, _ = self.run_line(line, path, "--batch", "1")
        self.assertIn("2 of 2 sent: 2 new", out)
        self.assertEqual(self.held_by_server(ids), 2)

    def test_it_gives_up_after_as_many_tries_as_it_is_told(self):
        line = self.line("pass", 503, 503, 503)
        path, _ = self.rows(4)
        out, err = self.run_line(line, path, "--batch", "2", "--tries", "2", code=1)
        self.assertEqual(len(line.seen), 3)
        self.assertIn("2 of 4 sent: 2 new", out)
        self.assertIn("The rest is still to be sent: run the same command again. It goes on where "
                      "this one ended.\n", out)
        self.assertIn("status 503", err)
        out, _ = self.run_line(line, path)  # the last of the script, then through
        self.assertIn("4 of 4 sent: 2 new, 0 there already, 2 by an earlier run", out)

    def test_nobody_listening(self):
        path, _ = self.rows(1)
        _, err = self.cairn_send(f"http://127.0.0.1:{shut_port(self)}/{SLUG}/", path, "--tries",
                                 "2", key=self.server.organiser, code=1)
        self.assertIn("; trying again\n", err)

    def wait_for_requests(self, line, count):
        self.wait_for(lambda: len(line.seen) >= count, 60)

    def test_killed_in_the_middle_it_goes_on(self):
        path, ids = self.rows(50)
        line = self.line(*["pass"] * 3, "held")
        process = self.start(line.url, path, "--batch", "10", key=self.server.organiser)
        self.wait_for_requests(line, 4)
        process.kill()
        process.communicate()
        self.assertEqual(process.returncode, -signal.SIGKILL)
        self.assertEqual(len(self.marks(path)), 30)
        second = self.line()
        # Another way to the same server has another address: what was noted is kept by address.
        self.write(os.path.basename(path) + ".sent", self.note_for(second, path))
        out, _ = self.run_line(second, path)
        self.assertIn("50 of 50 sent: 20 new, 0 there already, 30 by an earlier run", out)
        self.assertEqual([row["id"] for _, rows in second.seen for row in rows], ids[30:])
        self.assertEqual(self.held_by_server(ids), 50)

    def note_for(self, line, path):
        """FILE.sent as it is, but for the address of another line."""
        address = line.url.replace(f"/{SLUG}/", f"{API}/readings").encode()
        with open(path + ".sent", encoding="ascii") as file:
            lines = file.read().splitlines()
        lines[1] = hashlib.blake2b(address, digest_size=16).hexdigest()
        return "\n".join(lines) + "\n"

    def test_the_servers_end_is_waited_out(self):
        server = Server()
        self.addCleanup(server.end)
        line = BadLine(server, "pass", "held")
        self.addCleanup(line.end)
        path, ids = self.rows(4)
        process = self.start(line.url, path, "--batch", "2", key=server.organiser)
        self.wait_for_requests(line, 2)
        server.process.kill()
        server.process.wait()
        server.process.stdout.close()
        server.start()
        line.gate.set()
        out, _ = process.communicate(timeout=120)
        self.assertEqual(process.returncode, 0, out)
        self.assertIn(b"4 of 4 sent: 4 new", out)

    def test_ctrl_c_ends_it_and_says_how_to_go_on(self):
        for script in (("pass", "held"), ("pass", *[503] * 50)):  # in a request, in a pause
            with self.subTest(script[1]):
                line = self.line(*script)
                path, ids = self.rows(4)
                process = self.start(line.url, path, "--batch", "2", key=self.server.organiser)
                self.wait_for_requests(line, 2)
                process.send_signal(signal.SIGINT)
                out, _ = process.communicate(timeout=60)
                self.assertEqual(process.returncode, 1)
                self.assertIn(b"2 of 4 sent: 2 new", out)
                self.assertIn(b"run the same command again", out)
                self.assertEqual(len(self.marks(path)), 2)
                self.assertEqual(self.held_by_server(ids[:2]), 2)


if __name__ == "__main__":
    unittest.main()
