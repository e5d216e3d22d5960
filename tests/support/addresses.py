# SPDX-License-Identifier: MIT
"""Every address of the server, read from its own route table, each with an example that can be
asked for."""

import functools
import json
import os
import re
import subprocess
from dataclasses import dataclass

from tests.support.cairn import ROOT
from tests.support.serving import SLUG

_LIMITS = os.path.join(ROOT, "server", "system", "hard_limits.h")
_TABLE = os.path.join(ROOT, os.environ.get("BUILD") or "build", "tests", "route_table")


@dataclass(frozen=True)
class Route:
    """A line of the route table. `limit` is the most bytes of a body, 0 for none."""
    method: str
    pattern: str
    role: str
    limit: int
    local: bool
    eventless: bool
    fresh: bool
    parameters: tuple

    @property
    def is_page(self):
        return not (self.pattern.startswith(("/api/", "/healthz", "/metrics", "/_/")) or
                    self.pattern.endswith(".js"))

    @property
    def is_public_read(self):
        """A route that everybody may read, whose answer ends."""
        return (self.method == "GET" and self.role == "public" and
                not self.pattern.endswith("/stream"))

    @property
    def has_event(self):
        return "{}" in self.pattern and not self.eventless


def limits():
    """The hard limits by name."""
    with open(_LIMITS, encoding="utf-8") as file:
        found = re.findall(r"(LIMIT_\w+) = (\d+)(?: << (\d+))?", file.read())
    return {name: int(value) << int(shift or 0) for name, value, shift in found}


@functools.cache
def routes():
    """All routes, as the server itself has them."""
    table = subprocess.run([_TABLE], check=True, stdout=subprocess.PIPE, timeout=60).stdout
    return [Route(**line | {"parameters": tuple(line["parameters"])})
            for line in json.loads(table)]


_SECOND = {"notices": "1", "enquiries": "1", "cars": "1", "tests": "S1", "starts": "1",
           "desks": "0a1b2c3d", "codes": "9", "keys": "2", "facts": "0", "log": "u1",
           "examples": "R1",
           "classifications": "final"}


def example(route, style_path):
    """An address of the route that is there."""
    if route.pattern.startswith("/_/"):
        return style_path
    path = route.pattern.replace("{}", SLUG, 1)
    path += "?point=TC1" if path.endswith(("/expected", "/paper/control", "/paper/desk")) else ""
    return re.sub(r"(\w+)/\{\}", lambda m: f"{m[1]}/{_SECOND[m[1]]}", path)


def style_path(server):
    """The address of the style sheet, as the pages name it."""
    return re.search(r'href="(/_/[^"]+/style\.css)"', server.get("/").text).group(1)
