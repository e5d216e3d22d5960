# SPDX-License-Identifier: MIT
"""How long `cairn track` takes for the tracks of 200 cars through 60 points, and the memory that a
track of any length needs."""

import datetime
import json
import os
import subprocess
import tempfile
import threading

from tests.support import figures
from tests.support.cairn import CAIRN

CARS, POINTS, FIXES, ROUNDS = 200, 60, 14400, 3
LONG = 10_000_000
STEP = 0.0002  # degrees east a second: 47 km/h
BEGIN = datetime.datetime(2027, 5, 20, 8, 0, 0, tzinfo=datetime.timezone.utc)
HEAD = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>\n'
TAIL = "</trkseg></trk></gpx>\n"


def write_event(folder):
    """A road of 188 km along a parallel, with a line across it every 240 s."""
    route = [{"day": 1, "id": f"PC{n}", "kind": "passage-control",
              "place": {"lat": "54.2", "lon": f"{-6 + STEP * (100 + 240 * n):.6f}", "heading": 90}}
             for n in range(POINTS - 1)]
    route.append({"day": 1, "id": "PC59", "kind": "passage-control",
                  "place": {"lat": "54.2", "lon": "-6", "heading": 270}})
    event = {"name": "Merrow Tracks", "slug": "merrow-tracks", "timezone": "Atlantic/Azores",
             "unit": "km", "classes": {"scheme": "fiva"}, "route": route,
             "days": [{"date": "2027-05-20", "first_start": "08:00", "interval": "00:01:00"}]}
    with open(os.path.join(folder, "event.json"), "w", encoding="utf-8") as file:
        json.dump(event, file)
    with open(os.path.join(folder, "entries.csv"), "w", encoding="utf-8") as file:
        file.write("number,driver,navigator,make,model,year\n")
        file.writelines(f"{car},Driver {car},,Calder,Six,1934\n" for car in range(1, CARS + 1))


def fixes(begin, count):
    """Lines of a track; its way turns back at its end and goes on, for a track that is longer."""
    for i in range(count):
        when = begin + datetime.timedelta(seconds=i)
        at = i % (2 * FIXES)
        lon = -6 + STEP * min(at, 2 * FIXES - at)
        yield (f'<trkpt lat="54.2000000" lon="{lon:.7f}"><ele>12.3</ele>'
               f"<time>{when:%Y-%m-%dT%H:%M:%SZ}</time></trkpt>\n")


def write_tracks(folder):
    for car in range(1, CARS + 1):
        with open(os.path.join(folder, f"{car}.gpx"), "w", encoding="utf-8") as file:
            file.write(HEAD)
            file.writelines(fixes(BEGIN + datetime.timedelta(minutes=car), FIXES))
            file.write(TAIL)
    with open(os.path.join(folder, "cars.csv"), "w", encoding="utf-8") as file:
        file.write("car,file\n")
        file.writelines(f"{car},{car}.gpx\n" for car in range(1, CARS + 1))


def run(*arguments):
    """(seconds of its processor, most MiB in memory, what it printed)."""
    with tempfile.TemporaryFile() as out:
        with subprocess.Popen([CAIRN, "track", *arguments], stdout=out) as process:
            _, status, used = os.wait4(process.pid, 0)
            process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode != 0:
            raise AssertionError(f"cairn track ended with {process.returncode}")
        out.seek(0)
        return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, out.read().decode()


def long_track(folder):
    """A track of ten million points, which nobody stores: it comes through a pipe."""
    pipe = os.path.join(folder, "long.gpx")
    os.mkfifo(pipe)

    def write():
        with open(pipe, "w", encoding="utf-8") as file:
            file.write(HEAD)
            file.writelines(fixes(BEGIN, LONG))
            file.write(TAIL)

    writer = threading.Thread(target=write, daemon=True)
    writer.start()
    out = run(folder, f"1={pipe}")
    writer.join()
    return out


def main():
    section = figures.Section("9-tracks", "Tracks")
    with tempfile.TemporaryDirectory() as folder:
        write_event(folder)
        write_tracks(folder)
        seconds, memory = [], []
        for _ in range(ROUNDS):
            used, most, printed = run(folder, "--list", os.path.join(folder, "cars.csv"), "--csv")
            if printed.count("\n") != 1 + CARS * (POINTS - 1):
                raise AssertionError("not every car was read at each point that it passed")
            seconds.append(used)
            memory.append(most)
        section.figure("200 cars' tracks through 60 points", "s", seconds,
                       "processor time of one process, 2.9 million fixes in 200 files")
        section.figure("memory for it", "MiB", memory, "at most")
        used, most, _ = long_track(folder)
        section.figure("a track of ten million points", "s", [used], "processor time, through a pipe")
        section.figure("memory for it, ten million points", "MiB", [most], "at most")


if __name__ == "__main__":
    main()
