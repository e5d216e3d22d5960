# SPDX-License-Identifier: MIT
"""The server under measurement: an event file in a temporary folder, on a port of its own."""

import contextlib
import csv
import json
import os
import shutil
import subprocess

import machine

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
    """A reading that neither corrects another nor is corrected: each is accepted by itself."""
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
        subprocess.run([machine.CAIRN, "import", folder, event_folder], check=True,
                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        self.key = subprocess.run(
            [machine.CAIRN, "key", "add", folder, slug, "--role", "organiser"], check=True,
            stdout=subprocess.PIPE, text=True).stdout.strip()


class Served:
    """A running server."""

    def __init__(self, child, port):
        self.child, self.port = child, port

    @property
    def pid(self):
        return self.child.pid


def serve(data, core=None, preload=None, options=()):
    """Runs the server on a free port until the block is left."""
    return serve_folder(data.folder, core, preload, options=options)


@contextlib.contextmanager
def serve_folder(folder, core=None, preload=None, env=None, options=()):
    """The same for all events of a folder, with more in its environment."""
    command = [machine.CAIRN, "serve", folder, "--listen", "127.0.0.1:0", "--access-log", "off",
               *options]
    if core is not None:
        command = machine.pinned(core, command)
    env = {**os.environ, **(env or {})}
    if preload:
        env["LD_PRELOAD"] = preload
    with machine.process(command, stdout=subprocess.PIPE, text=True, env=env) as child:
        line = child.stdout.readline()
        if not line.startswith("listening on http://127.0.0.1:"):
            raise RuntimeError(f"the server did not start: {line!r}")
        yield Served(child, int(line.rstrip().rstrip("/").rsplit(":", 1)[1]))
