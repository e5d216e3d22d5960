# SPDX-License-Identifier: MIT
"""Acknowledged uploads of one reading each, compared with a bare loop of SQLite commits that are
as durable as the server's, on the same disk, in turns: first with the disk as it is, then with
every sync 5 ms longer."""

import os
import subprocess
import tempfile

from tests.bench import service
from tests.support import figures, machine

ROUNDS = 5


def run_tool(command, preload=None):
    """Rows a second, median and 99th percentile in ms, as a load generator prints them."""
    env = dict(os.environ)
    if preload:
        env["LD_PRELOAD"] = preload
    out = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True, env=env,
                         timeout=120).stdout
    rows, micros, median, p99 = map(int, out.split())
    return rows / micros * 1e6, median / 1e3, p99 / 1e3


class Writes:
    """The tools, the readings to send and a folder to work in."""

    def __init__(self, folder):
        self.folder = folder
        self.uploads = machine.build_tool(folder, "uploads")
        self.commits = machine.build_tool(folder, "commits")
        self.slow = machine.build_tool(folder, "slow_sync", shared=True)
        self.event = os.path.join(folder, "event")
        self.bodies = os.path.join(folder, "bodies")
        rows = service.demo_without(self.event, service.plain_row)
        # The demo sends some readings twice; here each is sent once.
        service.write_bodies(self.bodies, {row["id"]: row for row in rows}.values())
        self.turn = 0

    def bare(self, rows, preload):
        self.turn += 1
        path = os.path.join(self.folder, f"bare-{self.turn}.db")
        return run_tool([self.commits, path, self.bodies, str(rows), "1500"], preload)

    def served(self, connections, rows, preload):
        """Serves a new event each time, so that every reading is a new one."""
        self.turn += 1
        data = service.Data(os.path.join(self.folder, f"data-{self.turn}"), self.event)
        with service.serve(data, preload=preload) as server:
            return run_tool([self.uploads, str(server.port),
                             f"/api/v1/events/{service.SLUG}/readings", data.key, self.bodies,
                             str(connections), str(rows), "1500"])


def compare(section, writes, connections, preload, rate_aim):
    """Runs the loop and the server in turns: loop, server, loop, server."""
    commits = 100000 if preload is None else 200
    rates, waits, bare_ms, rows_a_second, p99s = [], [], [], [], []
    for _ in range(ROUNDS):
        rate, median, _ = writes.bare(commits, preload)
        served, wait, p99 = writes.served(connections, 100000, preload)
        rates.append(served / rate)
        waits.append(wait / median)
        bare_ms.append(median)
        rows_a_second.append(served)
        p99s.append(p99)
    how = f"{connections} connections" + (", 5 ms a sync" if preload else "")
    section.figure(f"one bare commit beside {how}", "ms", bare_ms,
                   "SQLite, WAL, synchronous=FULL, one row")
    section.figure(f"uploads, {how}", "/s", rows_a_second, "acknowledged, one reading each")
    section.figure(f"p99 of an upload, {how}", "ms", p99s, "from sending to the answer")
    section.figure(f"uploads to bare commits, {how}", "x", rates, "rows a second, same disk",
                   least=rate_aim)
    section.figure(f"median upload in bare commits, {how}", "x", waits, "median to median",
                   **({"most": 3} if preload is None else {}))


def main():
    section = figures.Section("7-writes", "Uploads against bare commits")
    # In the build folder: a temporary folder may be in memory, where a sync costs nothing.
    os.makedirs(os.path.dirname(figures.FOLDER), exist_ok=True)
    with tempfile.TemporaryDirectory(dir=os.path.dirname(figures.FOLDER)) as folder:
        writes = Writes(folder)
        compare(section, writes, 16, None, 3)
        compare(section, writes, 16, writes.slow, 6)
        compare(section, writes, 32, writes.slow, 15)


if __name__ == "__main__":
    main()
