# SPDX-License-Identifier: MIT
"""How long 50,000 lines of a timing device take from a pipe to the server, each kept on disk on the
way, and the memory of `cairn feed` meanwhile."""

import os
import subprocess
import tempfile
import time

from tests.support import figures
from tests.support.cairn import CAIRN
from tests.support.serving import SLUG, Server

LINES, ROUNDS = 50_000, 3
CARS = (1, 2, 3, 5, 8, 9)


def lines(turn):
    """Lines of which none says what another does, in any turn."""
    return "".join(f"{CARS[n % len(CARS)]},{8 + n // 3600}:{n // 60 % 60:02}:{n % 60:02}.{turn}\n"
                   for n in range(LINES))


def run(server, text):
    """(seconds, most MiB in memory)."""
    with tempfile.TemporaryDirectory() as folder:
        command = [CAIRN, "feed", f"http://127.0.0.1:{server.port}/{SLUG}/", "--quiet",
                   "--journal", os.path.join(folder, "lines"), "--columns", "car=1,time=2",
                   "--point", "PC1", "--clock-checked"]
        begin = time.monotonic()
        with subprocess.Popen(command, stdin=subprocess.PIPE,
                              env={**os.environ, "CAIRN_KEY": server.organiser}) as process:
            process.stdin.write(text.encode())
            process.stdin.close()
            _, status, used = os.wait4(process.pid, 0)
            process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode != 0:
            raise AssertionError(f"cairn feed ended with {process.returncode}")
        return time.monotonic() - begin, used.ru_maxrss / 1024


def main():
    section = figures.Section("9-feed", "Lines of a device")
    seconds, memory = [], []
    for turn in range(ROUNDS):
        server = Server()
        try:
            took, most = run(server, lines(turn))
        finally:
            server.end()
        seconds.append(took)
        memory.append(most)
    section.figure("50,000 lines to the server", "s", seconds, "from a pipe, each line synced first")
    section.figure("memory for it", "MiB", memory, "at most")


if __name__ == "__main__":
    main()
