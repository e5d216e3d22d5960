# SPDX-License-Identifier: MIT
"""How long from an upload until the last of many listeners of the event stream has it, with the
standings read at a steady rate meanwhile; and what that many listeners cost in memory."""

import os
import statistics
import subprocess
import tempfile

from tests.bench import service
from tests.support import figures, machine

POSTS, READS_A_SECOND = 25, 200
LAST_DAY = "2027-05-23"
HELD_OUT = "TC"  # time controls: what is read there shows to the public at once


def run(tool, data, bodies, listeners):
    """Times of each post in ms, the reads' count, median and p99 in ms, and KiB resident before
    the listeners came and with all of them."""
    with service.serve(data) as server:
        alone = machine.resident_kib(server.pid)
        command = [tool, str(server.port), f"/api/v1/events/{service.SLUG}", data.key, bodies,
                   str(listeners), str(POSTS), str(READS_A_SECOND), "-1"]
        with machine.process(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                             text=True) as child:
            if child.stdout.readline() != "open\n":
                raise RuntimeError("the listeners could not be opened")
            child.stdin.write("go\n")
            child.stdin.flush()
            posts = [int(value) / 1e3 for value in child.stdout.readline().split()]
            count, median, p99 = map(int, child.stdout.readline().split())
            crowded = machine.resident_kib(server.pid)
            if child.wait(timeout=20) != 0:
                raise RuntimeError("the listeners ended with an error")
    return posts, (count, median / 1e3, p99 / 1e3), alone, crowded


def measure(section, folder, tool, listeners, most, rounds):
    medians, worst, p99s, memories = [], [], [], []
    for turn in range(rounds):
        place = os.path.join(folder, f"{listeners}-{turn}")
        os.makedirs(place)
        event, bodies = os.path.join(place, "event"), os.path.join(place, "bodies")
        rows = service.demo_without(event, lambda row: service.plain_row(row)
                                    and row["point"].startswith(HELD_OUT)
                                    and row["at"] >= LAST_DAY)
        if len(rows) < POSTS:
            raise RuntimeError(f"{len(rows)} readings to post")
        service.write_bodies(bodies, rows[:POSTS])
        data = service.Data(os.path.join(place, "data"), event)
        posts, reads, _, crowded = run(tool, data, bodies, listeners)
        medians.append(statistics.median(posts))
        worst.append(max(posts))
        p99s.append(reads[2])
        memories.append(crowded / 1024)
    many = f"{listeners:,} listeners"
    section.figure(f"upload to the last of {many}", "ms", medians,
                   f"median of {POSTS} uploads a round", most=most)
    section.figure(f"slowest upload to the last of {many}", "ms", worst, "")
    section.figure(f"p99 of reads beside {many}", "ms", p99s,
                   f"standings, gzip, {READS_A_SECOND} a second", most=15)
    section.figure(f"resident memory with {many}", "MiB", memories, "the demo, after the uploads",
                   **({"most": 40} if listeners == 5000 else {}))


def main():
    section = figures.Section("8-streams", "Event streams")
    with tempfile.TemporaryDirectory() as folder:
        tool = machine.build_tool(folder, "streams")
        measure(section, folder, tool, 1000, 20, 5)
        measure(section, folder, tool, 5000, 60, 5)


if __name__ == "__main__":
    main()
