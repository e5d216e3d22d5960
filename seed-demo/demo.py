#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Serves the demo event with day three under way and replays the rest in fast motion.

    seed-demo/demo.py CAIRN [--once] [--listen HOST:PORT]

The event file is made anew in a temporary folder, which goes with the program. Readings and
decisions are posted over HTTP in the order in which they were made, five minutes of the event a
second; nights are passed over. Ctrl-C ends it. With --once the state at the beginning is printed,
and that is all.
"""

import argparse
import csv
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request
from datetime import datetime, timedelta

HERE = os.path.dirname(os.path.abspath(__file__))
EVENT = os.path.join(HERE, "merrow-2027")
SLUG = "merrow-2027"
BEGINS = datetime.fromisoformat("2027-05-22T11:00:00+00:00")
STEP = timedelta(minutes=5)
STEP_SECONDS = 1.0
TIMEKEEPER_POINTS = "TC15,TC16"


def read_facts(name):
    with open(os.path.join(EVENT, name), encoding="utf-8", newline="") as f:
        rows = list(csv.DictReader(f))
    return sorted(rows, key=lambda row: datetime.fromisoformat(row["at"]))


def write_folder(folder, readings, decisions):
    for name in ("event.json", "entries.csv", "starts.csv"):
        shutil.copy(os.path.join(EVENT, name), folder)
    for name, rows in (("readings.csv", readings), ("decisions.csv", decisions)):
        with open(os.path.join(folder, name), "w", encoding="utf-8", newline="") as f:
            writer = csv.DictWriter(f, fieldnames=list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


def post(url, key, rows):
    body = json.dumps(rows).encode()
    request = urllib.request.Request(url, body, {
        "Authorization": "Bearer " + key, "Content-Type": "application/json"})
    with urllib.request.urlopen(request, timeout=30) as answer:
        told = json.load(answer)
    for row in told["refused"]:
        print("refused:", row["reason"], file=sys.stderr)
    return told


def replay(address, key, readings, decisions):
    """Posts what is left, step by step."""
    api = f"{address}api/v1/events/{SLUG}/"
    now = BEGINS
    while readings or decisions:
        times = [datetime.fromisoformat(rows[0]["at"]) for rows in (readings, decisions) if rows]
        now = max(now + STEP, min(times))
        for name, rows in (("readings", readings), ("decisions", decisions)):
            due = 0
            while due < len(rows) and datetime.fromisoformat(rows[due]["at"]) <= now:
                due += 1
            if due:
                told = post(api + name, key, rows[:due])
                del rows[:due]
        print(f"\r{now:%A %H:%M}, revision {told['revision']}   ", end="", flush=True)
        time.sleep(STEP_SECONDS)
    print("\nAll readings are in. The pages stay until Ctrl-C.")
    while True:
        time.sleep(3600)


def key_for(cairn, data, *options):
    return subprocess.run([cairn, "key", "add", data, SLUG, *options], check=True,
                          capture_output=True, text=True).stdout.strip()


def serve(options, work):
    readings, decisions = read_facts("readings.csv"), read_facts("decisions.csv")
    early = [[row for row in rows if datetime.fromisoformat(row["at"]) <= BEGINS]
             for rows in (readings, decisions)]
    late = [[row for row in rows if datetime.fromisoformat(row["at"]) > BEGINS]
            for rows in (readings, decisions)]
    folder, data = os.path.join(work, "event"), os.path.join(work, "data")
    os.mkdir(folder)
    write_folder(folder, *early)
    subprocess.run([options.cairn, "import", data, folder], check=True, stdout=subprocess.DEVNULL)
    organiser = key_for(options.cairn, data, "--role", "organiser", "--label", "Rally office")
    timekeeper = key_for(options.cairn, data, "--role", "timekeeper", "--points",
                         TIMEKEEPER_POINTS, "--label", "Desk of " + TIMEKEEPER_POINTS)
    server = subprocess.Popen([options.cairn, "serve", data, "--listen", options.listen,
                               "--access-log", "off"], stdout=subprocess.PIPE, text=True)
    try:
        line = server.stdout.readline()
        if not line.startswith("listening on "):
            return 1
        address = line.split()[2]
        print(f"Round Merrow, day three under way:  {address}{SLUG}/\n"
              f"Organiser's key:   {organiser}\n"
              f"Timekeeper's key:  {timekeeper}  (points {TIMEKEEPER_POINTS})\n"
              f"The timekeeper's desk:  {address}{SLUG}/control#{timekeeper}\n"
              f"The office:              {address}{SLUG}/office#{organiser}\n"
              f"The whole board, hidden checks too:\n"
              f"  curl -H 'Authorization: Bearer {organiser}' "
              f"{address}api/v1/events/{SLUG}/standings\n"
              f"A timekeeper's reading:\n"
              f"  curl -H 'Authorization: Bearer {timekeeper}' -H 'Content-Type: application/json'"
              f" -d '[{{\"point\":\"TC15\",\"car\":22,\"time\":\"11:30:05\"}}]' "
              f"{address}api/v1/events/{SLUG}/readings\n", flush=True)
        if options.once:
            with urllib.request.urlopen(
                    f"{address}api/v1/events/{SLUG}/standings", timeout=30) as answer:
                board = json.load(answer)
            for row in board["standings"][:10]:
                print(f"{row['position']:>3}  {row['car']:>3}  {' / '.join(row['crew']):<48}"
                      f"{row['penalty']:>10}")
            return 0
        replay(address, organiser, *late)
    except KeyboardInterrupt:
        print()
    finally:
        server.send_signal(signal.SIGTERM)
        server.wait(30)
    return 0


def stop(*_):
    raise KeyboardInterrupt


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("cairn", help="the program to run")
    parser.add_argument("--once", action="store_true", help="print the state and end")
    parser.add_argument("--listen", default="127.0.0.1:8080", help="HOST:PORT")
    options = parser.parse_args()
    # A stop from outside ends it as Ctrl-C does, also where a shell has switched that off: the
    # server is never left behind.
    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)
    with tempfile.TemporaryDirectory(prefix="cairn-demo-") as work:
        return serve(options, work)


if __name__ == "__main__":
    sys.exit(main())
