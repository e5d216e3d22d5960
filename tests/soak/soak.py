# SPDX-License-Identifier: MIT
"""Four days of an event in minutes, with a crowd and every trouble that its machine may have.

    python3 -m tests.soak.soak [--seconds N] [--desks N] [--listeners N] [--reads N] [--seed N]
                               [--share N] [--plain] [--loopback]

60 desks and the office send the demo's facts, each until it is acknowledged, while 2,000 clients
listen and 500 reads a second are answered, half of them through Varnish. Meanwhile the server is
killed, its disk is filled, networks are cut, delayed and lose packets, clocks are moved and every
key is changed. At the end every acknowledged fact must be stored once, the standings must be
those of `cairn score`, and neither memory nor descriptors may have grown. SOAK_MINUTES is how
long facts are sent, 6 by default.

--share N takes one car in N; --loopback does without namespaces, --plain without Varnish. The
seed decides all choices, but not the order of what happens at the same time. Exit status 1 where
something does not hold.
"""

import argparse
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time

from tests.soak import desks as people, places, verdict
from tests.soak.troubles import KILLING_SHARE, Troubles
from tests.support import figures, fronts, machine
from tests.support.cairn import ROOT, cairn
from tests.support.running import API, BYS, SLUG, read_rows, write_folder
from tests.support.server import Server

LATE_SECONDS = 60  # for what waits to be acknowledged once the last trouble is over


class Cache(fronts.Varnish):
    """The Varnish that is shipped, reachable from the crowd's network too."""

    def prepare(self, origin_port):
        command = super().prepare(origin_port)
        command[command.index("-a") + 1] = f"0.0.0.0:{self.port}"
        return [*command, "-p", "thread_pool_max=5000", "-p", "thread_pool_add_delay=0"]


class Crowd:
    """The program that listens and reads; takes one order at a time."""

    def __init__(self, soak, options):
        host = soak.town.server_address
        cache = soak.cache.port if soak.cache else soak.server.port
        self.lock = threading.Lock()
        self.process = subprocess.Popen(
            [*soak.town.wrap, soak.tools["crowd"], f"{host}:{soak.server.port}",
             f"{host}:{cache}", API, str(options.listeners), str(options.reads), str(options.seed),
             f"{soak.town.addresses[0]}+{len(soak.town.addresses)}", soak.paths],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def order(self, line):
        with self.lock:
            self.process.stdin.write(line + "\n")
            self.process.stdin.flush()
            return self.process.stdout.readline().strip()

    def tell(self):
        return {name: int(value) for name, value in
                (pair.split("=") for pair in self.order("tell").split())}

    def end(self):
        with self.lock:
            if not self.process.stdin.closed:
                self.process.stdin.close()
            try:
                self.process.wait(20)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
            self.process.stdout.close()


class Soak:
    """All parts of a run, and the violations found. `end` ends the parts in the order of `ends`."""

    def __init__(self, options, namespaces):
        self.options, self.namespaces = options, namespaces
        self.violations = []
        self.over, self.rotated = threading.Event(), threading.Event()
        self.lock = threading.Lock()
        self.ends = []
        self.desk_clocks = {}
        self.samples = []  # of the last server: seconds, MiB resident, MiB allocated
        self.starts = []   # seconds from the command to the address, each start
        self.errors = []
        self.port = 0
        self.server = self.crowd = self.cache = None
        self.folder = tempfile.mkdtemp(prefix="cairn-soak-")
        self.ends.append(lambda: shutil.rmtree(self.folder, ignore_errors=True))

    def path(self, *parts):
        return os.path.join(self.folder, *parts)

    def say(self, text):
        if not self.options.quiet:
            print(text, flush=True)

    def violation(self, text):
        with self.lock:
            self.violations.append(text)
        print(f"VIOLATION: {text}", flush=True)

    # ------------------------------------------------------------------------------ setting up

    def set_up(self):
        options = self.options
        network = places.Network if self.namespaces else places.Loopback
        self.field = network(1)
        self.ends.append(self.field.end)
        self.town = network(2, places.CROWD_ADDRESSES)
        self.ends.append(self.town.end)
        self.data = self.path("data")
        self.disk = (places.SmallDisk if self.namespaces else places.LimitedFiles)(self.data)
        self.ends.append(self.disk.end)
        self.tools = {name: machine.build_tool(self.folder, name, shared=name != "crowd",
                                               tools=machine.SOAK_TOOLS)
                      for name in ("crowd", "moved_clock", "allocated")}
        self.inside = self.new_inside("inside")
        self.readings, self.decisions = people.facts(options.share)
        self.motion = people.Motion(self.readings + self.decisions, options.seconds)
        cairn("import", self.data, write_folder(self.path("event")))
        self.office_key, _ = people.add_key(self.data, "organiser", "office")
        self.start_server()
        self.ends.append(lambda: self.server.discard())  # pylint: disable=unnecessary-lambda
        self.write_paths()
        self.line = places.Relay(self.field, self.port)
        self.ends.append(self.line.end)
        self.make_people()

    def new_inside(self, name):
        return places.Inside(self.path(name), self.tools["moved_clock"], self.tools["allocated"])

    def make_people(self):
        """Makes the desks with their keys, the office and the changer of keys."""
        options = self.options
        field = [row for row in self.readings if row["by"] != "Rally office"]
        office = [row for row in self.readings if row["by"] == "Rally office"]
        self.people = []
        for number, points in enumerate(people.share_out(field, options.desks), 1):
            mine = set(points)
            desk = people.Desk(self, number, points, [r for r in field if r["point"] in mine],
                               options.seed * 1000 + number)
            desk.key, desk.key_number = people.add_key(self.data, "timekeeper", desk.name, points)
            self.people.append(desk)
        self.desks = list(self.people)
        office = people.Office(self, office, self.decisions, options.seed * 1000 + 998)
        changer = people.KeyChanger(self, self.desks, options.seconds, options.seed * 1000 + 999)
        office.key = changer.key = self.office_key
        self.office, self.key_changer = office, changer
        self.people += [office, changer]

    def write_paths(self):
        cars = [row["number"] for row in read_rows(self.path("event", "entries.csv"))]
        paths = [API, f"{API}/standings", f"/{SLUG}/", *(f"{API}/standings?by={by}" for by in BYS),
                 *(f"/{SLUG}/?by={by}" for by in ("class", "day", "team")), f"/{SLUG}/notices",
                 f"{API}/notices", f"{API}/starts/1", f"/{SLUG}/starts/2"]
        paths += [f"/{SLUG}/cars/{car}" for car in cars[::4]]
        paths += [f"{API}/cars/{car}" for car in cars[::7]]
        self.paths = self.path("paths")
        with open(self.paths, "w", encoding="ascii") as file:
            file.write("\n".join(paths) + "\n")

    # ------------------------------------------------------------------------------ the server

    def start_server(self):
        began = time.monotonic()
        server = Server(self.data, listen=f"0.0.0.0:{self.port}",
                        more=("--access-log", "off"), env=self.inside.environment)
        server.wait_ready()
        self.starts.append(time.monotonic() - began)
        self.port = server.port
        self.samples.clear()
        self.server = server

    def end_server(self, how):
        if not self.server.running():
            self.violation(f"the server ended by itself: {self.server.errors()[-500:]}")
        code = self.server.end(how)
        if code != (0 if how == signal.SIGTERM else -how):
            self.violation(f"the server ended with {code}: {self.server.errors()[-500:]}")
        self.errors.append(self.server.errors())
        self.server.log.close()

    def descriptors(self):
        """What the server's open descriptors are. Of the event file one is told, and any beyond a
        second: once a command has taken in the log the server reads the file anew, and the
        engine keeps that descriptor for the next time."""
        found = sorted(machine.descriptors(self.server.pid).values())
        file = os.path.join(self.data, SLUG + ".cairn")
        if found.count(file) > 1:
            found.remove(file)
        return found

    def sample(self):
        """Takes the memory of the last server every half second or more often, for as long as it
        runs."""
        while not self.over.wait(min(0.5, self.options.seconds / 200)):
            try:
                self.samples.append((self.motion.now(),
                                     machine.resident_kib(self.server.pid) / 1024,
                                     self.inside.allocated()))
            except (OSError, RuntimeError):
                pass  # it is being restarted

    def set_desk_clocks(self, rng):
        for desk in rng.sample(self.desks, max(1, len(self.desks) // 4)):
            self.desk_clocks[desk.desk] = rng.choice(people.CLOCK_JUMPS)

    # ------------------------------------------------------------------------------ the run

    def start_crowd(self):
        """Starts the crowd, and the cache that half of it reads from."""
        if not self.options.plain:
            self.cache = Cache(self.server)
            self.ends.append(self.cache.end)
        self.crowd = Crowd(self, self.options)
        self.ends.append(self.crowd.end)

    def play(self):
        options = self.options
        self.start_crowd()
        if not places.wait_until(
                lambda: self.crowd.tell()["listening"] == options.listeners, 60):
            self.violation(f"not all listen at the beginning: {self.crowd.tell()}")
        self.motion.began = time.monotonic()
        threading.Thread(target=self.sample, daemon=True).start()
        for person in self.people:
            person.start()
        self.troubles = Troubles(self, options.seconds, options.seed)
        self.troubles.play()
        until = self.motion.began + options.seconds + LATE_SECONDS
        for person in self.people:
            person.join(max(0.1, until - time.monotonic()))
            if person.is_alive():
                self.violation(f"{person.name} is not done {LATE_SECONDS} s after the end, "
                               f"{getattr(person, 'unsent', 0)} unsent")
        self.say(f"{self.motion.now():6.1f} s  all is sent")
        for at, resident, allocated in self.samples[::max(1, len(self.samples) // 20)]:
            self.say(f"{at:6.1f} s  {resident:.1f} MiB resident, {allocated:.1f} MiB allocated")

    def end(self):
        self.over.set()
        for end in reversed(self.ends):
            try:
                end()
            except Exception as error:  # pylint: disable=broad-except
                print(f"at the end: {error!r}", flush=True)


def read_options():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    minutes = float(os.environ.get("SOAK_MINUTES") or 6)
    for name, default in (("desks", 60), ("listeners", 2000), ("reads", 500), ("seed", 1),
                          ("share", 1)):
        parser.add_argument(f"--{name}", type=int, default=default)
    parser.add_argument("--seconds", type=float, default=60 * minutes)
    for name in ("plain", "loopback", "quiet"):
        parser.add_argument(f"--{name}", action="store_true")
    return parser.parse_args()


def main():
    options = read_options()
    namespaces = places.enter_namespaces(not options.loopback)
    os.chdir(ROOT)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    soak = Soak(options, namespaces)
    soak.say(f"{machine.describe()}; {'namespaces' if namespaces else 'loopback'}, seed "
             f"{options.seed}, {options.seconds:g} s, killed in the first {KILLING_SHARE:.0%}")
    try:
        soak.set_up()
        soak.play()
        verdict.judge(soak)
    finally:
        soak.end()
    print()
    print(figures.table(verdict.SECTION))
    for text in soak.violations:
        print(f"VIOLATION: {text}")
    print(f"{len(soak.violations)} violations")
    return 1 if soak.violations else 0


if __name__ == "__main__":
    sys.exit(main())
