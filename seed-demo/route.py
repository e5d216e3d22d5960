# SPDX-License-Identifier: MIT
"""The route of Round Merrow and its rules: what becomes event.json."""

import json
from fractions import Fraction

DATES = ["2027-05-20", "2027-05-21", "2027-05-22", "2027-05-23"]

SCORING = {
    "timing": "target",
    "max_lateness": "00:30:00",
    "coefficient": {"by": "year", "apply": "total", "kinds": ["regularity", "set-time"], "round": "none",
                    "standings": "all"},
    "drop_worst": {"count": 1, "kinds": ["regularity", "set-time"], "when": "end"},
    "teams": {"count": 3},
    "ties": ["most-clean", "furthest-clean", "test:R13", "older-car", "smaller-engine"],
    "absent_day_cap": "2000",
    "protest_period": "00:30:00",
    "finisher": {"share": "2/3", "last_point": True},
    "defaults": {
        "time-control": {"precision": "minute", "per": "minute", "early": 60, "late": 10, "cap": {"late": 300},
                         "missed": 900},
        "passage-control": {"missed": 300},
        "regularity": {"precision": "second", "per": "second", "early": 1, "late": 1, "cap": 60,
                       "late_limit": "00:10:00", "missed": 120},
        "set-time": {"precision": "hundredth", "per": "hundredth", "early": 1, "late": 1, "cap": 100, "missed": 300},
        "special-test": {"precision": "tenth", "per": "second", "late": 1, "cap": 60, "missed": 150},
        "consistency": {"precision": "tenth", "per": "tenth", "early": "0.5", "late": "0.5", "cap": 20, "missed": 60},
    },
}

AWARDS = [
    {"id": "overall", "name": "Merrow Bowl", "by": "overall", "places": 3},
    {"id": "era", "name": "Best of its era", "by": "class", "once": True},
    {"id": "pads", "name": "Harbour Plate", "by": "test", "of": "T1"},
    {"id": "day", "name": "Fisherman's Lamp of the day", "by": "day"},
    {"id": "team", "name": "Harbour Shield", "by": "team"},
]

FAULTS = {"cone": 5, "line": 10, "wrong-route": "maximum"}
HOME_EARLY = {"early": 0}  # the last control of a day may be entered early
_items = []


def _add(day, ident, kind, name, km, desk, drive=None, **keys):
    """One item. `desk` begins the ids of its readings; `drive` is for the simulation alone."""
    item = {"day": day, "id": ident, "kind": kind, "name": name, "distance": km}
    item.update(keys)
    _items.append({"item": item, "desk": desk, "drive": drive or {}})


def _tc(day, n, name, km, target, desk, drive=None, **keys):
    _add(day, "TC%d" % n, "time-control", name, km, desk, drive, target=target, **keys)


def _pc(day, n, name, km, desk, drive=None, **keys):
    _add(day, "PC%d" % n, "passage-control", name, km, desk, drive, **keys)


def _reg(day, n, name, km, desk, speeds, checks, drive=None, **keys):
    _add(day, "R%d" % n, "regularity", name, km, desk, drive,
         speeds=[{"from": a, "speed": v} for a, v in speeds],
         checks=[c if isinstance(c, dict) else {"at": c} for c in checks], **keys)


BEAM = {"tenths": True}          # a light beam that prints tenths
CARDS = {"sighting": True}       # a stamp on the card, no clock
BY_DEVICE = {"elapsed": True}    # the device sends an elapsed time, not times of day

# Day 1, the southern half.
_tc(1, 1, "Saltmill", 30.2, "00:45:00", "sm")
_pc(1, 1, "Gannet Bridge", 7.4, "gb", CARDS)
_reg(1, 1, "Hollin Moor", 13.2, "hm", [(0, 48), (3.2, 42.5)], [5.37, 9.02], measured="start")
_tc(1, 2, "Hollin Cross", 42.3, "01:06:00", "hc")
_add(1, "T1", "set-time", "Harbour pads", 11.8, "hp", BY_DEVICE, targets=["11.70", "9.00", "14.20"],
     measured="previous", test_cap=250)
_add(1, "S1", "special-test", "Old airstrip", 15.2, "oa", {"elapsed": True, "base": 66500}, bogey="00:01:10",
     maximum="00:03:00", method="over-bogey", faults=FAULTS)
_pc(1, 2, "Withy Ford", 27.0, "wf")
_tc(1, 3, "Port Anselm, lunch on the mole", 43.5, "01:10:00", "pa", halt="01:00:00")
_reg(1, 2, "Fallow Dyke", 1.6, "fd", [(0, 45), (2.15, 39.6), (5.8, 47.2)], [7.64], BEAM,
     start="control", start_after="00:04:00")
_pc(1, 3, "Eel House", 24.8, "eh", CARDS)
_tc(1, 4, "Lowgarth", 46.0, "01:10:00", "lg")
_add(1, "L1", "consistency", "Kart loop", 14.1, "kl", {"elapsed": True, "base": 48200}, laps=3, reference="first",
     faults={"cone": 5})
_tc(1, 5, "Stackpool Green", 41.5, "01:04:00", "sg")
_reg(1, 3, "Kittiwake Head", 2.1, "kh", [(0, 49), (4.1, 44.4)], [6.88], start="control", start_after="00:05:00")
_add(1, "S2", "special-test", "Quarry floor", 31.0, "qf", {"elapsed": True, "base": 61000}, maximum="00:02:30",
     method="elapsed", faults=FAULTS, penalty={"late": "0.2"})
_tc(1, 6, "Kirk Merrow", 48.6, "01:15:00", "km", penalty=HOME_EARLY)

# Day 2, the hills.
_pc(2, 4, "Abbot's Gate", 6.2, "ag")
_reg(2, 4, "Sorrel Common", 11.0, "sc", [(0, 43.2), (4.4, 47.5), (8.1, 40)], [4.92, 10.36], measured="previous")
_tc(2, 7, "Nether Sorrel", 41.2, "01:05:00", "ns")
_add(2, "H1", "set-time", "Cobbler's Pass", 17.5, "cp", {"hill": True, "km": 4.1}, targets=["00:06:00"],
     measured="start", penalty={"precision": "second", "per": "second", "early": 3, "late": 1, "grace": "00:00:01",
                                "cap": {"early": 90, "late": 60}, "missed": 200})
_pc(2, 5, "Summit Cairnfield", 24.0, "su", CARDS)
_tc(2, 8, "Upper Tarnside", 38.7, "01:02:00", "ut")
_reg(2, 5, "Long Tarn", 1.9, "lt", [(0, 46.8), (3.55, 41.4), (6.9, 48.6)], [5.12, 11.47],
     start="control", start_after="00:05:00")
_tc(2, 9, "Wrackness, lunch at the kelp works", 42.6, "01:04:00", "wr", halt="00:55:00")
_add(2, "S3", "special-test", "Kelp yard", 0.9, "ky", {"elapsed": True, "base": 58000}, maximum="00:02:40",
     method="behind-best", scope="class", faults=FAULTS)
_add(2, "T2", "set-time", "Chapel pad", 19.6, "ch", BY_DEVICE, targets=["16.50"])
_tc(2, 10, "Saltmarsh Halt", 44.8, "01:10:00", "sh")
_reg(2, 6, "Blackthorn Lanes", 2.4, "bt", [(0, 38), (1.9, 44), (4.75, 36.5)], [8.21], start="control",
     start_after="00:05:00")
_pc(2, 6, "Drover's Wall", 29.3, "dw", reveal="closed")
_tc(2, 11, "Drovers' Rest", 46.3, "01:12:00", "dr")
_pc(2, 7, "Lamplighter's Steps", 18.1, "ls", CARDS)
_tc(2, 12, "Kirk Merrow", 36.9, "00:54:00", "kn", penalty=HOME_EARLY)

# Day 3, the long way north.
_reg(3, 7, "Pilgrim's Strand", 3.0, "ps", [(0, 49.2)],
     [{"at": 4.4, "ideal": "00:05:24"}, {"at": 8.85, "ideal": "00:11:02"}], start="control", start_after="00:07:00")
_tc(3, 13, "Strand End", 43.1, "01:06:00", "se")
_add(3, "L2", "consistency", "Show field", 8.8, "sf", {"elapsed": True, "base": 55400}, laps=3, reference="mean",
     test_cap=40)
_pc(3, 8, "Tithe Barn", 21.2, "tb")
_tc(3, 14, "Much Wenning", 44.6, "01:10:00", "mw")
_reg(3, 8, "Nine Bends", 2.2, "nb", [(0, 41), (1.3, 47.7), (3.05, 38.9), (5.6, 45.45)], [7.93], BEAM,
     start="control", start_after="00:05:00")
_tc(3, 15, "Cape Anselm, lunch at the light", 45.5, "01:08:00", "ca", halt="01:00:00")
_add(3, "S4", "special-test", "Coastguard hard", 12.0, "cg", {"elapsed": True, "base": 74000}, maximum="00:03:00",
     method="behind-best", faults=FAULTS, penalty={"late": "0.5", "cap": 40})
_add(3, "T3", "set-time", "Rope walk pads", 16.2, "rw", BY_DEVICE, targets=["10.00", "24.60"], measured="start",
     penalty={"grace": "0.02", "grace_deducted": True})
_tc(3, 16, "Tarn Edge, regroup", 41.0, "01:06:00", "te", {"out": True}, halt="00:10:00")
_reg(3, 9, "Sallow Bay", 2.6, "sb", [(0, 44.1), (5.2, 40.8)], [4.66, 9.91], measured="previous",
     start="control", start_after="00:06:00")
_pc(3, 9, "Net Lofts", 25.5, "nl", CARDS)
_tc(3, 17, "Sallow Bay", 47.2, "01:12:00", "sy")
_pc(3, 10, "Ferryman's Cross", 22.7, "fc")
_tc(3, 18, "Kirk Merrow", 45.1, "01:06:00", "ko", penalty=HOME_EARLY)

# Day 4, home to Saltmill.
_reg(4, 10, "Priory Woods", 2.8, "pw", [(0, 46.2), (3.9, 42)], [6.27], start="control", start_after="00:06:00")
_tc(4, 19, "Priory", 38.4, "00:58:00", "py")
_add(4, "S5", "special-test", "Cattle market", 10.4, "cm", {"elapsed": True, "base": 59000}, bogey="00:01:02",
     maximum="00:02:45", method="over-bogey", faults=FAULTS)
_pc(4, 11, "Old Toll", 23.3, "ot")
_tc(4, 20, "Tollhouse Green", 42.0, "01:04:00", "tg")
_reg(4, 11, "Hag Fell", 9.5, "hf", [(0, 40.5), (2.7, 48), (6.6, 43.3)], [9.45])
_add(4, "T4", "set-time", "Churchyard pad", 29.8, "cy", BY_DEVICE, targets=["8.40"])
_tc(4, 21, "Fellgate, lunch", 44.4, "01:08:00", "fg", halt="00:50:00")
_add(4, "L3", "consistency", "Brickfield ring", 6.1, "bf", {"elapsed": True, "base": 61500}, laps=2,
     reference="nominated")
_pc(4, 12, "Sunken Lane", 20.0, "sl", CARDS)
_tc(4, 22, "Candlewick", 41.9, "01:06:00", "cw")
_reg(4, 12, "Candle Heath", 2.0, "cd", [(0, 47), (2.45, 41.3), (5.0, 48.8)], [7.36], start="control",
     start_after="00:05:00")
_add(4, "S6", "special-test", "Dry dock", 30.5, "dd", {"base": 62500}, bogey="00:01:06", maximum="00:03:00",
     method="over-bogey", faults=FAULTS)
_tc(4, 23, "Merrow Dry Dock", 43.7, "01:08:00", "md")
_reg(4, 13, "Beacon Hill", 2.3, "bh", [(0, 44.8), (3.3, 39.2)], [8.02], start="control", start_after="00:05:00")
_add(4, "T5", "set-time", "Esplanade pad", 27.4, "es", BY_DEVICE, targets=["12.00"])
_tc(4, 24, "Saltmill, finish", 36.2, "00:58:00", "sz", penalty=HOME_EARLY)


def items():
    """The items in route order: {"item": as in event.json, "desk": …, "drive": …}."""
    return _items


def ms(text):
    """A duration or time of day of event.json in milliseconds."""
    total = Fraction(0)
    for part in text.split(":"):
        total = total * 60 + Fraction(part)
    return int(total * 1000)


def ideals(item):
    """The ideal times of a regularity's checks in milliseconds, whole seconds."""
    out = []
    for check in item["checks"]:
        if "ideal" in check:
            out.append(ms(check["ideal"]))
            continue
        at, hours = Fraction(str(check["at"])), Fraction(0)
        for n, part in enumerate(item["speeds"]):
            low = Fraction(str(part["from"]))
            high = Fraction(str(item["speeds"][n + 1]["from"])) if n + 1 < len(item["speeds"]) else at
            if at > low:
                hours += (min(high, at) - low) / Fraction(str(part["speed"]))
        out.append(int(hours * 3600 + Fraction(1, 2)) * 1000)
    return out


def event_json():
    """The text of event.json, one route item to a line."""
    def dump(value):
        return json.dumps(value, ensure_ascii=False)

    lines = ["{"]
    lines.append('  "name": "Round Merrow 2027",\n  "slug": "merrow-2027",')
    lines.append('  "timezone": "Atlantic/Azores",\n  "unit": "km",\n  "days": [')
    lines.append(",\n".join("    " + dump({"date": d, "first_start": "08:01", "interval": "00:01:00",
                                          "order": "number"}) for d in DATES))
    lines.append('  ],\n  "classes": {"scheme": "fiva", "supercharged_factor": "1.4",')
    lines.append('    "categories": [{"id": "competition", "name": "Competition"},')
    lines.append('      {"id": "touring", "name": "Touring", "overall": false}],')
    lines.append('    "capacity": [{"id": "1", "to": 1500}, {"id": "2", "to": 3000}, {"id": "3"}]},')
    lines.append('  "awards": [')
    lines.append(",\n".join("    " + dump(award) for award in AWARDS) + "\n  ],")
    lines.append('  "scoring": {')
    rules = [(k, v) for k, v in SCORING.items() if k != "defaults"]
    lines.extend("    %s: %s," % (dump(k), dump(v)) for k, v in rules)
    lines.append('    "defaults": {')
    lines.append(",\n".join("      %s: %s" % (dump(k), dump(v)) for k, v in SCORING["defaults"].items()))
    lines.append('    }\n  },\n  "route": [')
    lines.append(",\n".join("    " + dump(i["item"]) for i in _items))
    lines.append("  ]\n}\n")
    return "\n".join(lines)
