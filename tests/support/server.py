# SPDX-License-Identifier: MIT
"""`cairn serve`, started and ended: the one place that reads on which port it listens."""

import os
import re
import signal
import subprocess
import tempfile
import threading

from tests.support.cairn import CAIRN, READY_SECONDS

READY = re.compile(r"listening on https?://(127\.0\.0\.1|0\.0\.0\.0|\[::1\]):(\d+)/\n")


class Server:
    """A server on a free port. `wrap` comes before the command, `more` after it, `options` go to
    Popen. What it writes to standard error goes to the file `log`, behind what is there, or to one
    of its own; `errors` reads it."""

    host = "127.0.0.1"

    def __init__(self, data, wrap=(), program=CAIRN, listen="127.0.0.1:0", more=(), log=None,
                 **options):
        self.log = tempfile.TemporaryFile(prefix="cairn-log-") if log is None else open(log, "ab+")
        self.port = None
        self.process = subprocess.Popen(
            [*wrap, program, "serve", data, "--listen", listen, *more],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=self.log, **options)

    def wait_ready(self):
        """Waits for the line that tells the address. Raises where the server ends instead."""
        timer = threading.Timer(READY_SECONDS, self.process.kill)
        timer.start()
        line = self.process.stdout.readline().decode()
        timer.cancel()
        found = READY.fullmatch(line)
        if found is None:
            self.process.wait(READY_SECONDS)
            raise AssertionError(f"the server is not ready: {line!r} {self.errors()}")
        self.port = int(found.group(2))
        return self

    @property
    def pid(self):
        return self.process.pid

    def errors(self):
        """What it wrote to standard error, the access log set aside."""
        # Without a seek: the server writes where its descriptor stands, and that is this one's too.
        log = self.log.fileno()
        text = os.pread(log, os.fstat(log).st_size, 0).decode(errors="replace")
        return "".join(line for line in text.splitlines(True)
                       if not re.match(r"\d{4}-\d\d-\d\dT\S+Z \S+ \S+ \S+ \d+ \d+$", line))

    def running(self):
        return self.process.poll() is None

    def end(self, how=signal.SIGTERM):
        """Ends it and returns its exit code."""
        if self.running():
            self.process.send_signal(how)
        try:
            code = self.process.wait(READY_SECONDS)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            raise AssertionError("the server does not end on SIGTERM") from None
        self.process.stdout.close()
        return code

    def discard(self):
        """Ends it whatever state it is in, for clean-up."""
        if self.running():
            self.process.kill()
            self.process.wait()
        self.process.stdout.close()
        self.log.close()
