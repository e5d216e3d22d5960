# SPDX-License-Identifier: MIT
"""An event of 60 regularities with other speeds for each of four groups, against the same event
without them."""

import json
import os
import subprocess
import tempfile
import time

from tests.support import figures
from tests.support.cairn import CAIRN

ROUNDS = 21
CARS, SECTIONS, GROUPS = 200, 60, 4
CHECKS = ((5.37, 420), (9.02, 750), (12.5, 1000))  # km, and about when they are passed, s


def regularity(number, groups):
    item = {"day": 1, "id": f"R{number}", "kind": "regularity", "start": "control",
            "speeds": [{"from": 0, "speed": 48}, {"from": 3.2, "speed": 42.5}],
            "checks": [{"at": at} for at, _ in CHECKS]}
    if groups:
        item["for"] = [{"group": f"g{n}", "speeds": [{"from": 0, "speed": 48 - n},
                                                     {"from": 3.2, "speed": 42 - n}]}
                       for n in range(GROUPS)]
    return item


def write_event(folder, groups):
    route = []
    for number in range(SECTIONS):
        route += [{"day": 1, "id": f"TC{number}", "kind": "time-control", "target": "00:20:00"},
                  regularity(number, groups)]
    event = {"name": "Many averages", "slug": "many-averages", "timezone": "Etc/UTC", "unit": "km",
             "days": [{"date": "2027-05-20", "first_start": "00:00", "interval": "00:00:10"}],
             "classes": {"scheme": "fiva", "groups": [{"id": f"g{n}"} for n in range(GROUPS)]},
             "scoring": {"timing": "target"}, "route": route}
    with open(os.path.join(folder, "event.json"), "w", encoding="utf-8") as file:
        json.dump(event, file)
    with open(os.path.join(folder, "entries.csv"), "w", encoding="utf-8") as file:
        file.write("number,driver,navigator,make,model,year,groups\n")
        file.writelines(f"{car},Driver {car},,Calder,Six,1930,g{car % GROUPS}\n"
                        for car in range(1, CARS + 1))
    with open(os.path.join(folder, "readings.csv"), "w", encoding="utf-8") as file:
        file.write("point,car,time\n")
        for car in range(1, CARS + 1):
            for number in range(SECTIONS):
                start = car * 10 + (number + 1) * 1200
                spread = (car * 7919 + number * 104729) % 60
                file.write(f"TC{number},{car},{clock(start + spread)}\n")
                file.writelines(f"R{number}/{n},{car},{clock(start + after + spread % 20)}\n"
                                for n, (_, after) in enumerate(CHECKS, 1))


def clock(seconds):
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"


def main():
    section = figures.Section("3-variants", "Other values for some cars")
    walls = {False: [], True: []}
    with tempfile.TemporaryDirectory() as place:
        for groups in walls:
            os.mkdir(os.path.join(place, str(groups)))
            write_event(os.path.join(place, str(groups)), groups)
        for _ in range(ROUNDS):
            for groups, values in walls.items():
                start = time.perf_counter()
                subprocess.run([CAIRN, "score", os.path.join(place, str(groups))], check=True,
                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
                values.append((time.perf_counter() - start) * 1e3)
    section.figure("60 regularities scored from files", "ms", walls[False],
                   f"whole process, {CARS} cars, {SECTIONS * 4 * CARS} readings")
    section.figure("the same with speeds of four groups", "x",
                   [value / plain for value, plain in zip(walls[True], walls[False])],
                   "a line of `for` for each group at each", most=1.3)


if __name__ == "__main__":
    main()
