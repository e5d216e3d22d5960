# SPDX-License-Identifier: MIT
"""Which items of the demo are hidden at a moment, worked out from its folder alone; and the same
folder without the hidden items."""

import json
import os
import re

from tests.support.running import DEMO, SLUG, write_folder

with open(os.path.join(DEMO, "event.json"), encoding="utf-8") as event_file:
    RULES = json.load(event_file)


class Item:
    """A route item that may be hidden, with every text that would give it away."""

    def __init__(self, given):
        self.id, self.name, self.day = given["id"], given["name"], given["day"]
        checks = given.get("checks", [])
        self.scored = [f"{self.id}/{n}" for n in range(1, len(checks) + 1)] or [self.id]
        # The id as a word of its own: R1 is no part of R10.
        self.pattern = re.compile(rb"(?<![A-Za-z0-9-])" + self.id.encode() + rb"(?![A-Za-z0-9-])")
        # A name that the rally gave to two items tells nothing.
        same = [other for other in RULES["route"] if other["name"] == self.name]
        self.names = [] if len(same) > 1 else sorted({
            self.name.encode(), json.dumps(self.name).strip('"').encode(),
            self.name.replace("'", "&#39;").encode()})

    def has(self, point):
        """Whether an id is that of this item or of one of its points."""
        return point == self.id or point.startswith(self.id + "/")

    def trace_in(self, body):
        """The text in a body that gives the item away; None where there is none."""
        for name in self.names:
            if name in body:
                return name
        if self.id.encode() in body:
            found = self.pattern.search(body)
            return found and found.group()
        return None


SECRET = [Item(given) for given in RULES["route"]
          if given.get("reveal", "closed" if given["kind"] == "regularity" else "at-once") ==
          "closed"]


def hidden_items(decisions):
    """The secret items that have a scored point which these decisions have not closed."""
    revoked = {row["value"] for row in decisions if row["kind"] == "revoke"}
    closed = {row["point"] for row in decisions
              if row["kind"] == "close" and row["id"] not in revoked}
    return [item for item in SECRET
            if f"day:{item.day}" not in closed and item.id not in closed and
            not all(point in closed for point in item.scored)]


def is_hidden(point, hidden):
    return any(item.has(point) for item in hidden)


def item_before(hidden_id, hidden):
    """The id of the last item before it on the route that is not hidden."""
    last = None
    for given in RULES["route"]:
        if given["id"] == hidden_id:
            return last
        if not any(item.id == given["id"] for item in hidden):
            last = given["id"]
    raise AssertionError(hidden_id)


def write_twin(folder, readings, decisions, hidden):
    """Writes the event as if the hidden items were not on the route and nothing had been read
    there. A retirement at a hidden item becomes one after the item before it."""
    kept = []
    for row in decisions:
        if not is_hidden(row["point"], hidden):
            kept.append(row)
        elif row["kind"] == "retire":
            point = item_before(row["point"].split("/")[0], hidden)
            kept.append(row | {"point": point})
    write_folder(folder, [row for row in readings if not is_hidden(row["point"], hidden)], kept)
    gone = {item.id for item in hidden}
    rules = json.loads(json.dumps(RULES))
    rules["route"] = [given for given in rules["route"] if given["id"] not in gone]
    scoring = rules["scoring"]
    scoring["ties"] = [tie for tie in scoring["ties"] if tie.removeprefix("test:") not in gone]
    rules["awards"] = [prize for prize in rules["awards"] if prize.get("of") not in gone]
    with open(os.path.join(folder, "event.json"), "w", encoding="utf-8") as file:
        json.dump(rules, file)
    assert rules["slug"] == SLUG
    return folder
