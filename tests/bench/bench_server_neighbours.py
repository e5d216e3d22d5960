# SPDX-License-Identifier: MIT
"""Two events of one server, one of them on a disk that takes 50 ms for a sync: whether that slows
uploads to the other.

Measured in turns: with nobody posting to the slow event, and with eight connections posting to
it. Then what each further event costs in memory, its thread included.
"""

import os
import shutil
import subprocess
import tempfile

from tests.bench import service
from tests.support import figures, machine
from tests.support.cairn import CAIRN

ROUNDS = 7
CONNECTIONS, MAX_MS = 8, 2500
SLOW, WELL = "slow-2027", "well-2027"
SLOW_MS = 50
COPIES = 50


def renamed(folder, slug):
    """Gives an event folder another slug."""
    path = os.path.join(folder, "event.json")
    with open(path, encoding="utf-8") as file:
        text = file.read()
    with open(path, "w", encoding="utf-8") as file:
        file.write(text.replace(f'"slug": "{service.SLUG}"', f'"slug": "{slug}"'))


class Neighbours:
    """The tools, the two events, and the readings to send."""

    def __init__(self, folder):
        self.folder = folder
        self.uploads = machine.build_tool(folder, "uploads")
        self.slow = machine.build_tool(folder, "slow_sync", shared=True)
        self.bodies = os.path.join(folder, "bodies")
        rows = []
        for slug in (SLOW, WELL):
            event = os.path.join(folder, slug)
            rows = service.demo_without(event, service.plain_row)
            renamed(event, slug)
        service.write_bodies(self.bodies, {row["id"]: row for row in rows}.values())
        self.turn = 0

    def load(self, port, slug, key):
        return subprocess.Popen(
            [self.uploads, str(port), f"/api/v1/events/{slug}/readings", key, self.bodies,
             str(CONNECTIONS), "100000", str(MAX_MS)], stdout=subprocess.PIPE, text=True)

    def round(self, both):
        """The median time of an upload to the fast event and to the slow one, ms."""
        self.turn += 1
        data = os.path.join(self.folder, f"data-{self.turn}")
        keys = {slug: service.Data(data, os.path.join(self.folder, slug), slug).key
                for slug in (SLOW, WELL)}
        env = {"SLOW_SYNC_MS": str(SLOW_MS), "SLOW_SYNC_OF": SLOW}
        with service.serve_folder(data, preload=self.slow, env=env) as server:
            loads = [self.load(server.port, slug, keys[slug])
                     for slug in ([SLOW, WELL] if both else [WELL])]
            medians = [int(load.communicate(timeout=60)[0].split()[2]) / 1e3 for load in loads]
        shutil.rmtree(data)
        return medians[-1], medians[0]


def memory_of_copies(folder, count):
    """Resident and mapped KiB of a server with that many copies of the demo."""
    data = os.path.join(folder, f"copies-{count}")
    for n in range(count):
        event = os.path.join(folder, "copy")
        shutil.copytree(machine.DEMO, event)
        renamed(event, f"copy-{n}")
        subprocess.run([CAIRN, "import", data, event], check=True,
                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        shutil.rmtree(event)
    with service.serve_folder(data) as server:
        sizes = machine.resident_kib(server.pid), machine.resident_kib(server.pid, "VmSize")
    shutil.rmtree(data)
    return sizes


def main():
    section = figures.Section("7-writes-neighbours", "One event on a slow disk, and another")
    os.makedirs(os.path.dirname(figures.FOLDER), exist_ok=True)
    with tempfile.TemporaryDirectory(dir=os.path.dirname(figures.FOLDER)) as folder:
        neighbours = Neighbours(folder)
        alone, beside, slow, ratios = [], [], [], []
        for _ in range(ROUNDS):
            alone.append(neighbours.round(False)[0])
            well, stuck = neighbours.round(True)
            beside.append(well)
            slow.append(stuck)
            ratios.append(well / alone[-1])
        how = f"{CONNECTIONS} connections"
        section.figure("median upload, the other event idle", "ms", alone, how)
        section.figure(f"median upload to the event with {SLOW_MS} ms a sync", "ms", slow, how)
        section.figure("median upload beside it", "ms", beside, how)
        section.figure("the same, beside to alone", "x", ratios, "pairs of runs, one after the other",
                       most=1.5)
        one, many = memory_of_copies(folder, 1), memory_of_copies(folder, COPIES)
        section.figure("resident memory, one more event", "MiB",
                       [(many[0] - one[0]) / 1024 / (COPIES - 1)], f"copies of the demo, of {COPIES}")
        section.figure("address space, one more event", "MiB",
                       [(many[1] - one[1]) / 1024 / (COPIES - 1)], "the stack of its thread in it")


if __name__ == "__main__":
    main()
