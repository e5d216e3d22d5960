# SPDX-License-Identifier: MIT
"""How long the server takes from its start until it is ready with the demo, and the memory it
then uses."""

import os
import tempfile
import time

from tests.bench import service
from tests.support import figures, machine

ROUNDS = 11


def get(port, path):
    service.get(port, path, headers={"Accept-Encoding": "gzip"})


def main():
    section = figures.Section("5-start", "Start and memory with the demo")
    ready, first, fresh, used = [], [], [], []
    api = f"/api/v1/events/{service.SLUG}"
    with tempfile.TemporaryDirectory() as folder:
        data = service.Data(os.path.join(folder, "data"), machine.DEMO)
        for _ in range(ROUNDS):
            start = time.perf_counter()
            with service.serve(data) as server:
                ready.append((time.perf_counter() - start) * 1e3)
                fresh.append(machine.resident_kib(server.pid) / 1024)
                get(server.port, f"{api}/standings")
                first.append((time.perf_counter() - start) * 1e3)
                for by in ("overall", "class", "category", "day", "test", "team"):
                    get(server.port, f"{api}/standings?by={by}")
                    get(server.port, f"/{service.SLUG}/?by={by}")
                for car in range(1, 41):
                    get(server.port, f"{api}/cars/{car}")
                used.append(machine.resident_kib(server.pid) / 1024)
    section.figure("start to ready, the demo", "ms", ready, "until it says that it listens",
                   most=150)
    section.figure("start to the first standings", "ms", first, "asked once ready")
    section.figure("resident memory, the demo", "MiB", fresh, "once ready", most=16)
    section.figure("resident memory, the demo, in use", "MiB", used,
                   "every table as JSON and page, 40 cards", most=16)


if __name__ == "__main__":
    main()
