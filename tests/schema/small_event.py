# SPDX-License-Identifier: MIT
"""A small event to which examples of documents are completed, and its entry list."""

import copy
import json

import jsonschema

BASE = {
    "name": "Rule", "slug": "rule", "timezone": "Etc/UTC", "unit": "km",
    "days": [{"date": "2027-05-20", "first_start": "08:00", "interval": "00:01:00"}],
    "classes": {"scheme": "fiva",
                "groups": [{"id": "low"}, {"id": "ladies"}],
                "categories": [{"id": "tour", "name": "Touring"}]},
    "scoring": {"timing": "target"},
    "route": [{"kind": "time-control"}, {"kind": "time-control"}, {"kind": "regularity"},
              {"kind": "regularity"}],
}

# What an item of each kind needs, where an example does not say it.
NEEDS = {
    "time-control": {"target": "00:30:00"},
    "passage-control": {},
    "regularity": {"speeds": [{"from": 0, "speed": 45}], "checks": [{"at": 3}, {"at": 6}]},
    "set-time": {"targets": ["11.70", "9.00"]},
    "special-test": {},
    "consistency": {"laps": 3},
}
LETTERS = {"time-control": "TC", "passage-control": "PC", "regularity": "R", "set-time": "T",
           "special-test": "S", "consistency": "L"}

ENTRIES = """number,driver,navigator,make,model,year,engine_cc,category,team,country,club,groups,coefficient,born
1,A. Thorne,M. Vale,Calder,Six,1929,1996,tour,Rooks,XA,Moor,low,1.2,1950
2,B. Ashdown,,Brixham,Tourer,1934,1287,,Rooks,XB,Moor,low;ladies,,1960-02-01
3,E. Quill,R. Sedge,Calder,Eight,1929,3400,,,XA,Fell,,,1948
4,P. Fenn,L. Ford,Brixham,Light,1971,998,,,XB,Fell,,,
"""


def completed(example):
    """The event of an example: what it does not say is the plain event's."""
    event = copy.deepcopy(BASE)
    for key, value in example.items():
        if isinstance(value, dict):
            event[key].update(value)
        else:
            event[key] = value
    for group in BASE["classes"]["groups"]:
        if group["id"] not in [own["id"] for own in event["classes"]["groups"]]:
            event["classes"]["groups"].append(group)
    counts = {}
    for item in event["route"]:
        kind = item["kind"]
        counts[kind] = counts.get(kind, 0) + 1
        item.setdefault("day", 1)
        item.setdefault("id", f"{LETTERS[kind]}{counts[kind]}")
        for key, value in NEEDS[kind].items():
            if key != "speeds" or "checks" not in item or "at" in item["checks"][0]:
                item.setdefault(key, value)
    return event


def schema_errors(event):
    """What schema/event.schema.json finds wrong with an event."""
    with open("schema/event.schema.json", encoding="utf-8") as file:
        schema = json.load(file)
    return [error.message for error in jsonschema.Draft202012Validator(schema).iter_errors(event)]
