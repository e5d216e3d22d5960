# SPDX-License-Identifier: MIT
"""What a server must answer: `cairn score --live` of a folder with the same facts."""

import json
import re

from tests.support.cairn import cairn
from tests.support.running import API, BYS

REVISION = re.compile(rb'"revision":\d+')


def unnumbered(body):
    """A body with its revision set to 0; only in that the server differs from the command."""
    return REVISION.sub(b'"revision":0', body, count=1)


def score(folder, *options):
    """The command's answer for a live event."""
    return cairn("score", folder, "--live", "--format", "json", *options).stdout


def first_difference(shown, due):
    """The first row in which two JSON texts differ, for a message."""
    for a, b in zip(shown.split(b"\n"), due.split(b"\n")):
        if a != b:
            return f"\n  server:  {a[:700].decode()}\n  command: {b[:700].decode()}"
    return f"\n  server: {len(shown)} bytes, command: {len(due)} bytes"


def compare(test, client, folder, view=(), bys=BYS, cars=(), after=None):
    """Compares the server's standings and cards with those of the folder. `view` is ("--public",)
    for what the public sees."""
    more = ("--after", after) if after else ()
    query = f"&after={after}" if after else ""
    for by in bys:
        shown = unnumbered(client.good(f"{API}/standings?by={by}{query}"))
        due = unnumbered(score(folder, "--by", by, *view, *more))
        test.assertTrue(shown == due, f"by {by} {view} {more}:" + first_difference(shown, due))
    for car in cars:
        shown = unnumbered(client.good(f"{API}/cars/{car}?format=json{query}"))
        due = unnumbered(score(folder, "--card", str(car), *view, *more))
        test.assertTrue(shown == due, f"car {car} {view} {more}:" + first_difference(shown, due))


def everything(client, cars):
    """All that a client sees of an event in JSON: address to body, revisions included."""
    paths = [API, f"{API}/notices", *(f"{API}/standings?by={by}" for by in BYS),
             *(f"{API}/cars/{car}" for car in cars)]
    return {path: client.good(path) for path in paths}


def revision_of(client):
    """The revision that a client sees."""
    return json.loads(client.good(API))["revision"]
