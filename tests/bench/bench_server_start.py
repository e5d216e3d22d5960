# SPDX-License-Identifier: MIT
"""From start to ready with the demo, and the memory that the server then takes."""

import http.client
import os
import tempfile
import time

import figures
import machine
import service

ROUNDS = 11


def get(port, path):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    connection.request("GET", path, headers={"Accept-Encoding": "gzip"})
    answer = connection.getresponse()
    answer.read()
    connection.close()
    if answer.status != 200:
        raise RuntimeError(f"{path}: {answer.status}")


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
