# SPDX-License-Identifier: MIT
"""The timekeeper's desk in Chromium: how long from a key press until the screen shows the
reading, and until the reading is on the disk."""

import json
import os
import subprocess

from tests.support import figures, machine
from tests.support.cairn import CAIRN

ROUNDS = 3
SCRIPT = os.path.join(os.path.dirname(__file__), "desk_times.mjs")
NODE = "/usr/bin/node" if os.path.exists("/usr/bin/node") else "node"

# name, key of the script's answer, aim in ms, note
ROWS = (
    ("key to paint, p98", "paint", 50, "100 stamps at a control of 172 cars"),
    ("key to paint, processor 6 times slower, p98", "paintSlow", 100, "50 stamps"),
    ("key to disk, p95", "durable", 20, "IndexedDB, strict"),
    ("stamp off the key's true time, p95", "error", 20, "as the server holds it"),
    ("desk opens with the server stopped", "boot", 1000, "median of 5, second visit"),
)


def main():
    section = figures.Section("9-desk", "The timekeeper's desk, in Chromium")
    if machine.tool("node") is None or machine.tool("chromium-headless-shell") is None:
        section.missing("the desk", "node or Chromium is not installed")
        return
    environment = dict(os.environ, CAIRN=CAIRN)
    rounds = []
    for _ in range(ROUNDS):
        said = subprocess.run([NODE, SCRIPT], check=True, stdout=subprocess.PIPE, text=True,
                              env=environment, timeout=300).stdout
        rounds.append(json.loads(said.splitlines()[-1]))
    for name, key, aim, note in ROWS:
        section.figure(name, "ms", [told[key] for told in rounds], note, most=aim)


if __name__ == "__main__":
    main()
