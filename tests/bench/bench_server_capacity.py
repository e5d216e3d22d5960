# SPDX-License-Identifier: MIT
"""The figures behind deploy/capacity.md: requests a second of one core of the server and of each
cache, bytes sent, what an upload costs, and what an event costs in memory."""

import json
import os
import re
import socket
import statistics
import subprocess
import tempfile
import time

from tests.bench import bench_server_reads as reads, service
from tests.support import client, figures, fronts, machine, serving
from tests.support.cairn import CAIRN
from tests.support.server import Server

API = f"/api/v1/events/{service.SLUG}"
BOARD = f"{API}/board"  # what a phone with the standings open asks for every 15 seconds
PAGE = f"/{service.SLUG}/"
ROUNDS, LISTENERS, UPLOADS = 5, 500, 100
MANY = 50  # events


class Nginx(fronts.Nginx):
    """nginx as shipped, on one core, but for its limits: here all requests come from one address
    over few connections, which it would hold to 100 a second and to 1,000 in all."""

    def configure(self, text):
        text = fronts.replace_once(text, "    limit_req zone=cairn_requests burst=400 nodelay;\n",
                                   "    keepalive_requests 100000000;\n")
        return machine.pinned(0, super().configure(text))


class Varnish(fronts.Varnish):
    def prepare(self, origin_port):
        return machine.pinned(0, super().prepare(origin_port))


def measure_rates(section, name, port):
    """Requests a second of one core: the page, the figures (both compressed), and 304."""
    pages, boards, same = [], [], []
    tag = reads.get(port, BOARD, {"Accept-Encoding": "gzip"})[1]["ETag"]
    for _ in range(ROUNDS):
        pages.append(reads.run_wrk(machine.tool("wrk"), port, PAGE)[0])
        boards.append(reads.run_wrk(machine.tool("wrk"), port, BOARD)[0])
        same.append(reads.run_conditional(TOOL["conditional"], port, BOARD, tag)[0])
    section.figure(f"standings pages of {name}", "/s", pages, "gzip, keep-alive, one core")
    section.figure(f"figures for an open page, of {name}", "/s", boards, "the same")
    section.figure(f"304 of {name}", "/s", same, "the same")


def on_the_wire(port, path, **headers):
    """Bytes of a whole answer with its head."""
    head = "".join(f"{name.replace('_', '-')}: {value}\r\n" for name, value in headers.items())
    with socket.create_connection(("127.0.0.1", port), timeout=10) as peer:
        peer.sendall(f"GET {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n{head}\r\n".encode())
        got = b""
        while more := peer.recv(65536):
            got += more
    return len(got)


def measure_bytes(section, port):
    tag = reads.get(port, BOARD, {"Accept-Encoding": "gzip"})[1]["ETag"]
    for name, size in (
            ("a first visit: page, style, script", first_visit(port)),
            ("the page again", on_the_wire(port, PAGE, Accept_Encoding="gzip")),
            ("figures for an open page", on_the_wire(port, BOARD, Accept_Encoding="gzip")),
            ("a 304", on_the_wire(port, BOARD, Accept_Encoding="gzip", If_None_Match=tag))):
        section.figure(f"bytes of {name}", "B", [size], "gzip, head and all; the demo")


def first_visit(port):
    html = reads.get(port, PAGE, {})[2].decode()
    files = set(re.findall(r'(?:href|src)="\.*(/_/[^"]+)"', html))
    return on_the_wire(port, PAGE, Accept_Encoding="gzip") + \
        sum(on_the_wire(port, path, Accept_Encoding="gzip") for path in files)


def processor_seconds(pid):
    with open(f"/proc/{pid}/stat", encoding="ascii") as file:
        fields = file.read().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


class Crowd:
    """Listeners of the event stream, all connected to the server itself."""

    def __init__(self, port, folder, listeners):
        paths = os.path.join(folder, "paths")
        with open(paths, "w", encoding="ascii") as file:
            file.write(API + "\n")
        there = f"127.0.0.1:{port}"
        self.process = subprocess.Popen(
            [TOOL["crowd"], there, there, API, str(listeners), "0", "1", "127.0.0.1+1", paths],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        machine.wait_for(lambda: self.tell()["listening"] == listeners, 60, "listeners")

    def tell(self):
        self.process.stdin.write("tell\n")
        self.process.stdin.flush()
        return {name: int(value) for name, value in
                (pair.split("=") for pair in self.process.stdout.readline().split())}

    def end(self):
        self.process.stdin.close()
        self.process.wait(20)
        self.process.stdout.close()


def measure_uploads(section, folder):
    """Uploads one by one, each sent to all listeners: bytes and processor time, with listeners
    and without."""
    event = os.path.join(folder, "uploads")
    rows = service.demo_without(event, lambda row: service.plain_row(row)
                                and row["point"].startswith("TC") and row["at"] >= "2027-05-23")
    sizes, alone, heard = [], [], []
    for turn in range(ROUNDS):
        data = service.Data(os.path.join(folder, f"uploads-{turn}"), event)
        with service.serve(data) as server:
            crowd = None
            for listeners, costs in ((0, alone), (LISTENERS, heard)):
                if listeners:
                    crowd = Crowd(server.port, folder, listeners)
                before = crowd.tell() if crowd else None
                began = processor_seconds(server.pid)
                first = UPLOADS if listeners else 0
                post_all(server, data.key, rows[first:first + UPLOADS])
                if crowd:
                    time.sleep(0.5)
                costs.append((processor_seconds(server.pid) - began) / UPLOADS * 1e3)
            after = crowd.tell()
            sizes.append((after["bytes"] - before["bytes"]) /
                         max(after["messages"] - before["messages"], 1))
            crowd.end()
    section.figure("bytes of an upload to one listener", "B", sizes, "its message, framing and all")
    section.figure("processor time of an upload", "ms", alone, "nobody listens; 172 cars scored")
    section.figure("processor time of an upload a listener", "us",
                   [1e3 * (b - a) / LISTENERS for a, b in zip(alone, heard)],
                   f"more with {LISTENERS} of them")


def post_all(server, key, rows):
    poster = client.Client(server, key)
    for row in rows:
        told = poster.ask("POST", f"{API}/readings",
                          json.dumps([{k: v for k, v in row.items() if v}]), "application/json")
        if told.json().get("accepted") != 1:
            raise RuntimeError(told)
    poster.close()


def hold(folder, make, count):
    """Serves a data folder with `count` events; returns MiB resident once it is ready, and ms
    until then."""
    data = os.path.join(folder, "data")
    for number in range(count):
        event = os.path.join(folder, f"event-{number}")
        make(event, f"copy-{number}")
        subprocess.run([CAIRN, "import", data, event], check=True, capture_output=True)
    memory, ready = [], []
    for _ in range(ROUNDS):
        began = time.monotonic()
        server = Server(data)
        try:
            server.wait_ready()
            ready.append((time.monotonic() - began) * 1e3)
            memory.append(machine.resident_kib(server.pid) / 1024)
            server.end()
        finally:
            server.discard()
    return memory, ready


def demo_event(folder, slug):
    service.demo_without(folder, lambda row: False)
    path = os.path.join(folder, "event.json")
    with open(path, encoding="utf-8") as file:
        text = file.read()
    with open(path, "w", encoding="utf-8") as file:
        file.write(fronts.replace_once(text, f'"slug": "{service.SLUG}"', f'"slug": "{slug}"'))


def small_event(folder, slug):
    serving.write_folder(folder, event=serving.EVENT | {"slug": slug})


def measure_events(section, folder):
    for name, make in (("the demo", demo_event), ("a small event", small_event)):
        place = os.path.join(folder, name.replace(" ", "-"))
        one, _ = hold(os.path.join(place, "one"), make, 1)
        many, ready = hold(os.path.join(place, "many"), make, MANY)
        each = [(m - statistics.median(one)) / (MANY - 1) for m in many]
        section.figure(f"resident memory with {MANY} copies of {name}", "MiB", many, "once ready")
        section.figure(f"memory of one more copy of {name}", "MiB", each, "")
        section.figure(f"start to ready with {MANY} copies of {name}", "ms", ready, "")


TOOL = {}


def main():
    section = figures.Section("8b-capacity", "Capacity")
    for name in ("nginx", "varnishd", "wrk"):
        if machine.tool(name) is None:
            section.missing("capacity", f"{name} is not installed")
            return
    with tempfile.TemporaryDirectory() as folder:
        TOOL["conditional"] = machine.build_tool(folder, "conditional")
        TOOL["crowd"] = machine.build_tool(folder, "crowd",
                                           tools=machine.SOAK_TOOLS)
        data = service.Data(os.path.join(folder, "data"), machine.DEMO)
        with service.serve(data, core=0) as server:
            measure_bytes(section, server.port)
            measure_rates(section, "the server", server.port)
            for name, make in (("nginx before it", Nginx), ("Varnish before it", Varnish)):
                front = make(server)
                try:
                    measure_rates(section, name, front.port)
                finally:
                    front.end()
        measure_uploads(section, folder)
        measure_events(section, folder)


if __name__ == "__main__":
    main()
