# SPDX-License-Identifier: MIT
"""How long a timekeeper's post takes beside a crowd that asks for the most expensive page.

Each connection of the crowd asks again and again for the results of every test up to one of its
points, in one of the languages: another variant each time. The crowd comes first from one
address, which counts as a proxy's, then from many that are held to the limit of an address. It is
a process of the lowest priority, since it stands for other machines.
"""

import multiprocessing
import os
import selectors
import socket
import tempfile
import time

from tests.bench import service
from tests.support import client, figures, machine
from tests.support.cairn import LANGUAGES

CONNECTIONS, POSTS, PAUSE = 300, 200, 0.02


def addresses(points):
    """The addresses of all variants of the page."""
    return [f"/{service.SLUG}/?by=test&after={point}&lang={lang}"
            for point in points for lang in LANGUAGES]


class Reader:
    """One connection of the crowd: asks, reads the answer to its end, asks for the next."""

    def __init__(self, port, source, wanted, step):
        self.port, self.source, self.wanted, self.at = port, source, wanted, step
        self.socket, self.left, self.got, self.status = None, 0, b"", 0

    def open(self):
        self.socket = socket.create_connection(("127.0.0.1", self.port), timeout=60,
                                               source_address=(self.source, 0))
        self.ask()
        return self.socket

    def ask(self):
        self.at = (self.at + 7) % len(self.wanted)
        self.got, self.left = b"", 0
        self.socket.sendall(f"GET {self.wanted[self.at]} HTTP/1.1\r\nHost: x\r\n"
                            "Accept-Encoding: gzip\r\n\r\n".encode())

    def hear(self):
        """The status of an answer once all of it is there, 0 before that, -1 where the server has
        closed."""
        part = self.socket.recv(262144)
        if not part:
            return -1
        if self.left == 0:
            self.got += part
            head, sep, body = self.got.partition(b"\r\n\r\n")
            if not sep:
                return 0
            self.status = int(head.split()[1])
            length = head.lower().split(b"content-length: ")[1].split(b"\r\n")[0]
            self.left = int(length) - len(body)
        else:
            self.left -= len(part)
        return self.status if self.left == 0 else 0


def crowd(port, sources, wanted, over, told):
    """Runs the crowd until `over` is set; then puts how many answers it had and how many were
    refused."""
    os.nice(19)
    readers = {}
    chooser = selectors.DefaultSelector()
    count = {200: 0, 503: 0}
    for n in range(CONNECTIONS):
        reader = Reader(port, sources[n % len(sources)], wanted, n * 13)
        readers[reader.open()] = reader
        chooser.register(reader.socket, selectors.EVENT_READ)
    begun = time.monotonic()
    while not over.is_set():
        for key, _ in chooser.select(0.1):
            reader = readers[key.fileobj]
            status = reader.hear()
            if status == 0:
                continue
            if status < 0:
                raise RuntimeError("the server closed a connection of the crowd")
            count[status] += 1
            if status == 200:
                reader.ask()
            else:  # as it is told: later; here at the crowd's own pace
                time.sleep(0.002)
                reader.ask()
    told.put((count[200], count[503], time.monotonic() - begun))


def posts(server, data, rows):
    """How many ms each post took; they are sent one after the other with a pause."""
    times = []
    poster = client.Client(server, data.key)
    path = f"/api/v1/events/{service.SLUG}/readings"
    for row in rows:
        start = time.perf_counter()
        answer = poster.ask("POST", path, row, "application/json")
        times.append((time.perf_counter() - start) * 1e3)
        if answer.status != 200:
            raise RuntimeError(f"a post: {answer}")
        time.sleep(PAUSE)
    poster.close()
    return times


def point(times, share):
    return sorted(times)[min(len(times) - 1, int(len(times) * share))]


def beside(section, name, server, data, rows, sources, wanted):
    over, told = multiprocessing.Event(), multiprocessing.Queue()
    process = multiprocessing.Process(target=crowd,
                                      args=(server.port, sources, wanted, over, told), daemon=True)
    process.start()
    time.sleep(2)
    times = posts(server, data, rows)
    over.set()
    good, refused, seconds = told.get(timeout=60)
    process.join()
    section.figure(f"a keyed post, median, {name}", "ms", [point(times, 0.5)],
                   f"{CONNECTIONS} connections ask for the dearest page", most=20)
    section.figure(f"a keyed post, p99, {name}", "ms", [point(times, 0.99)],
                   f"of {len(times)}", most=20)
    section.figure(f"dear pages a second, {name}", "/s", [good / seconds],
                   f"{refused / seconds:.0f} a second told to come again")


def main():
    section = figures.Section("8-crowd", "Posts beside a crowd that asks for the dearest pages")
    with tempfile.TemporaryDirectory() as folder:
        event = os.path.join(folder, "event")
        taken = service.demo_without(event, lambda row: service.plain_row(row) and
                                     hash(row["id"]) % 20 == 0)
        bodies = os.path.join(folder, "bodies")
        service.write_bodies(bodies, taken)
        with open(bodies, encoding="utf-8") as file:
            rows = [line.encode() for line in file][:3 * POSTS]
        points = sorted({row["point"] for row in taken})
        wanted = addresses(points)
        data = service.Data(os.path.join(folder, "data"), event)
        with service.serve(data) as server:
            times = posts(server, data, rows[:POSTS])
            section.figure("a keyed post, median, alone", "ms", [point(times, 0.5)])
            section.figure("a keyed post, p99, alone", "ms", [point(times, 0.99)],
                           f"of {len(times)}")
            beside(section, "one address", server, data, rows[POSTS:2 * POSTS], ["127.0.0.1"],
                   wanted)
            section.figure("resident memory after it", "MiB",
                           [machine.resident_kib(server.pid) / 1024])
        with service.serve(data, options=("--proxy", "192.0.2.1")) as server:
            beside(section, "many addresses", server, data, rows[2 * POSTS:],
                   [f"127.0.{n // 250}.{n % 250 + 2}" for n in range(CONNECTIONS)], wanted)


if __name__ == "__main__":
    main()
