# SPDX-License-Identifier: MIT
"""The server under measurement: an event file in a temporary folder, on a port of its own."""

import contextlib
import csv
import json
import os
import shutil

from tests.support import client, machine
from tests.support.cairn import cairn
from tests.support.server import Server

SLUG = "merrow-2027"


def demo_without(folder, held_out):
    """A copy of the demo's folder without the readings that `held_out` picks.
    Returns those, as dictionaries, in the order of the file."""
    shutil.copytree(machine.DEMO, folder)
    path = os.path.join(folder, "readings.csv")
    with open(path, encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        names = reader.fieldnames
        rows = list(reader)
    taken = [row for row in rows if held_out(row)]
    ids = {row["id"] for row in taken}
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, names, lineterminator="\n")
        writer.writeheader()
        writer.writerows(row for row in rows if row["id"] not in ids)
    return taken


def plain_row(row):
    """Whether a reading neither corrects another nor is corrected: such a one is accepted by
    itself."""
    return row["replaces"] == "" and row["void"] == "" and row["id"] != ""


def write_bodies(path, rows):
    """One posted body a line, each a JSON array of one reading."""
    with open(path, "w", encoding="utf-8") as file:
        for row in rows:
            fields = {key: value for key, value in row.items() if value}
            file.write(json.dumps([fields], ensure_ascii=False) + "\n")


class Data:
    """A data folder with an event and an organiser's key."""

    def __init__(self, folder, event_folder, slug=SLUG):
        self.folder = folder
        os.makedirs(folder, exist_ok=True)
        cairn("import", folder, event_folder)
        self.key = cairn("key", "add", folder, slug, "--role", "organiser").stdout.decode().strip()


def serve(data, core=None, preload=None, options=()):
    """Runs the server on a free port until the block is left."""
    return serve_folder(data.folder, core, preload, options=options)


@contextlib.contextmanager
def serve_folder(folder, core=None, preload=None, env=None, options=()):
    """The same for all events of a folder, with more in its environment."""
    env = {**os.environ, **(env or {})}
    if preload:
        env["LD_PRELOAD"] = preload
    server = Server(folder, wrap=machine.pinned(core, []) if core is not None else (),
                    more=("--access-log", "off", *options), env=env)
    try:
        yield server.wait_ready()
        server.end()
    finally:
        server.discard()


def get(port, path, key=None, headers=None):
    """The body of an answer, asked for on a new connection; raises where the answer is not a good
    one."""
    answer = client.ask(port, "GET", path, key=key, headers=headers)
    if answer.status != 200:
        raise RuntimeError(str(answer))
    return answer
