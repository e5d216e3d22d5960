# SPDX-License-Identifier: MIT
"""Papers as PDF: how long one takes, how large it is, and how much memory drawing adds; and that
commands which draw no paper start as fast as before."""

import os
import subprocess
import tempfile
import time

from tests.bench import service
from tests.support import figures, machine
from tests.support.cairn import CAIRN

ROUNDS, CARS = 7, 200


def get(port, path, key=None):
    """The body, and the ms that it took."""
    start = time.perf_counter()
    body = service.get(port, path, key).body
    return body, (time.perf_counter() - start) * 1e3


def with_cars(folder):
    """The demo's folder with entries up to `CARS` cars."""
    service.demo_without(folder, lambda row: False)
    path = os.path.join(folder, "entries.csv")
    with open(path, encoding="utf-8") as file:
        lines = file.read().splitlines()
    have = {line.split(",", 1)[0] for line in lines}
    more = (n for n in range(1, 1000) if str(n) not in have)
    while len(lines) <= CARS:
        lines.append(f"{next(more)}," + lines[len(lines) - 100].split(",", 1)[1])
    with open(path, "w", encoding="utf-8") as file:
        file.write("\n".join(lines) + "\n")


def main():
    section = figures.Section("9-paper", f"Papers of an event of {CARS} cars as PDF")
    api = f"/api/v1/events/{service.SLUG}/paper"
    with tempfile.TemporaryDirectory() as folder:
        with_cars(os.path.join(folder, "event"))
        data = service.Data(os.path.join(folder, "data"), os.path.join(folder, "event"))
        with service.serve(data) as server:
            before = machine.resident_kib(server.pid) / 1024
            _, first = get(server.port, f"{api}/standings")
            section.figure("the first paper of a server", "ms", [first], "libraries and fonts too",
                           most=1000)
            section.figure("memory that it adds", "MiB",
                           [machine.resident_kib(server.pid) / 1024 - before])
            for name, path, key in (("standings", "standings", None),
                                    ("start list", "starts/1", None),
                                    ("a car's card", "cars/91", None),
                                    ("control sheet", "control?point=TC5", data.key),
                                    ("results of every test", "standings?by=test", data.key)):
                told = [get(server.port, f"{api}/{path}", key) for _ in range(ROUNDS)]
                whole = path == "standings?by=test"
                section.figure(f"{name} as PDF", "ms", [ms for _, ms in told],
                               **({} if whole else {"most": 1000}))
                section.figure(f"{name} as PDF, size", "KB", [len(told[0][0]) / 1000],
                               **({} if whole else {"most": 150}))
            section.figure("memory that all of these add", "MiB",
                           [machine.resident_kib(server.pid) / 1024 - before])
    start = []
    for _ in range(31):
        begin = time.perf_counter()
        subprocess.run([CAIRN, "score", "--help"], check=True, stdout=subprocess.DEVNULL)
        start.append((time.perf_counter() - begin) * 1e3)
    section.figure("start of a command without paper", "ms", start)


if __name__ == "__main__":
    main()
