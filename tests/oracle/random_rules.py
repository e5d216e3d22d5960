# SPDX-License-Identifier: MIT
"""A random, valid event.json that uses every rule of the contract somewhere over many seeds."""
from fractions import Fraction

KINDS = {"time-control": 5, "passage-control": 2, "regularity": 3, "set-time": 2, "special-test": 2,
         "consistency": 2}
TESTS = ("regularity", "set-time", "special-test", "consistency")
PREFIX = {"time-control": "TC", "passage-control": "PC", "regularity": "R", "set-time": "T",
          "special-test": "S", "consistency": "L"}
NAMES = ("Saltmill", "Gannet Bridge", "Hollin Moor", "Harbour pads", "Old airstrip", "Kart loop", "Tern Head")


def clock(milliseconds, decimals=None):
    """HH:MM:SS with the decimals that the value needs."""
    seconds, part = divmod(milliseconds, 1000)
    text = f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
    digits = f"{part:03d}".rstrip("0") if decimals is None else f"{part:03d}"[:decimals]
    return f"{text}.{digits}" if digits else text


def plain(thousandths):
    """A penalty as a JSON number or text; both are allowed."""
    whole, part = divmod(thousandths, 1000)
    return whole if not part else f"{whole}.{part:03d}".rstrip("0")


def maybe(dice, share):
    return dice.random() < share


def event(dice):
    days = dice.choice((2, 2, 3))
    route = random_route(dice, days)
    keys = {
        "name": "Merrow Trial", "slug": "merrow-trial", "timezone": "Atlantic/Azores",
        "unit": dice.choice(("km", "mi")),
        "days": [random_day(dice, number) for number in range(days)],
        "classes": random_classes(dice),
    }
    keys["scoring"] = random_scoring(dice, route, keys["classes"]["scheme"])
    keys["route"] = route
    return keys


def random_day(dice, number):
    first = dice.choice(("08:01", "08:00:30", "09:00", "22:40", "06:59:30"))
    return {"date": f"2027-05-{20 + number}", "first_start": first,
            "interval": dice.choice(("00:01:00", "00:00:30", "00:02:00")),
            "order": dice.choice(("number", "number", "sequence"))}


def random_classes(dice):
    scheme = dice.choice(("fiva", "appendix-k", "custom", "custom"))
    keys = {"scheme": scheme}
    if scheme == "appendix-k" and maybe(dice, 0.5):
        keys["edition"] = 2025
    if scheme == "custom":
        keys["periods"] = [{"id": "OLD", "name": "Old", "to": 1930},
                           {"id": "MID", "name": "Middle", "from": 1931, "to": 1960},
                           {"id": "NEW", "name": "New", "from": 1961}]
        if maybe(dice, 0.5):
            dice.choice(keys["periods"])["overall"] = False
        if maybe(dice, 0.3):
            keys["periods"].reverse()
    if maybe(dice, 0.5):
        bands = [{"id": "1", "to": 1600}, {"id": "2", "to": 3000}, {"id": "3"}]
        keys["capacity"] = bands[dice.choice((0, 1)):]
    if maybe(dice, 0.4):
        keys["supercharged_factor"] = dice.choice(("1.4", "1.7", "1.333"))
    if maybe(dice, 0.6):
        keys["categories"] = [{"id": "sport", "name": "Sport"}, {"id": "touring", "name": "Touring"}]
        if maybe(dice, 0.5):
            keys["categories"][1]["overall"] = False
        if maybe(dice, 0.4):
            dice.choice(keys["categories"])["classes"] = False
    return keys


def random_scoring(dice, route, scheme):
    tests = [item["id"] for item in route if item["kind"] in TESTS]
    ties = ["most-clean", "furthest-clean", "older-car", "smaller-engine", "first-difference"]
    ties += [f"test:{name}" for name in tests[:2]]
    dice.shuffle(ties)
    keys = {"timing": dice.choice(("target", "scheduled")), "ties": ties[:dice.randint(0, len(ties))],
            "teams": {"count": dice.choice((1, 2, 2, 3))},
            "defaults": {kind: random_rule(dice, kind) for kind in KINDS if maybe(dice, 0.85)}}
    if maybe(dice, 0.5):
        keys["max_lateness"] = dice.choice(("00:04:00", "00:10:00", "00:30:00"))
    if maybe(dice, 0.6):
        keys["coefficient"] = random_coefficient(dice, scheme)
    if maybe(dice, 0.6):
        keys["drop_worst"] = {"count": dice.choice((1, 1, 2)), "kinds": some_tests(dice)}
        if maybe(dice, 0.7):
            keys["drop_worst"]["when"] = dice.choice(("end", "always"))
        if maybe(dice, 0.5):
            keys["drop_worst"]["each"] = dice.choice(("event", "day"))
    if maybe(dice, 0.4):
        keys["absent_day_cap"] = dice.choice(("2000", "150", "90.5"))
    if maybe(dice, 0.5):
        keys["finisher"] = {"share": dice.choice(("1/2", "2/3", "3/4"))}
        if maybe(dice, 0.6):
            keys["finisher"]["last_point"] = True
    return keys


def random_coefficient(dice, scheme):
    keys = {"by": dice.choice(("year", "class")), "apply": dice.choice(("test", "total")),
            "kinds": some_tests(dice), "round": dice.choice(("none", "whole")),
            "standings": dice.choice(("all", "overall"))}
    if keys["by"] == "class":
        names = ("OLD", "MID", "NEW") if scheme == "custom" else ("C", "D", "E")
        keys["table"] = {name: dice.choice(("1.05", "1.2", "0.955", "1.117"))
                         for name in names if maybe(dice, 0.7)}
    return keys


def some_tests(dice):
    return dice.sample(TESTS, dice.randint(1, 4))


def random_rule(dice, kind, share=0.5):
    """A penalty rule; each key is there or not."""
    keys = {}
    units = {"time-control": ("minute", "minute", "second")}.get(
        kind, ("second", "second", "tenth", "hundredth", "millisecond", "minute"))
    if kind == "special-test":
        units = units[:4]
    if maybe(dice, share):
        keys["precision"] = dice.choice(units)
    if maybe(dice, share * 0.6):
        keys["per"] = dice.choice(("minute", "second", "tenth"))
    if maybe(dice, share):
        keys["early"] = {"fails": 1} if maybe(dice, 0.15) else plain(dice.choice((0, 500, 1000, 2000, 1333)))
    if maybe(dice, share):
        keys["late"] = {"fails": 1} if maybe(dice, 0.1) else plain(dice.choice((0, 500, 1000, 1000, 10000, 667)))
    if maybe(dice, share * 0.6):
        keys["grace"] = dice.choice(("00:00:01", "00:00:02", "0.5", "00:01:00", "3"))
        if maybe(dice, 0.5):
            keys["grace_deducted"] = maybe(dice, 0.7)
    if maybe(dice, share):
        keys["cap"] = dice.choice((30, 100, "12.5", {"early": 5}, {"late": 60}, {"early": 4, "late": "20.25"}))
    if maybe(dice, share * 0.4) and kind not in ("special-test", "passage-control"):
        keys["late_limit"] = dice.choice(("00:00:05", "00:00:30", "00:03:00"))
    if maybe(dice, share + 0.3):
        keys["missed"] = {"fails": 1} if maybe(dice, 0.2) else plain(dice.choice((60000, 120000, 300000, 45500)))
    return keys


# The route

def random_route(dice, days):
    count = dice.randint(max(4, days), 12)
    day_of = sorted([*range(1, days + 1), *(dice.randint(1, days) for _ in range(count - days))])
    numbers, route = {}, []
    for day in day_of:
        kind = dice.choices(list(KINDS), list(KINDS.values()))[0]
        numbers[kind] = numbers.get(kind, 0) + 1
        item = {"day": day, "id": f"{PREFIX[kind]}{numbers[kind]}", "kind": kind, "name": dice.choice(NAMES)}
        item.update(MAKERS[kind](dice))
        if maybe(dice, 0.4):
            item["penalty"] = random_rule(dice, kind, 0.4)
        if kind in TESTS and maybe(dice, 0.3):
            item["test_cap"] = dice.choice((20, "75.5", 200))
        if kind != "time-control" and maybe(dice, 0.35):
            item["reveal"] = dice.choice(("at-once", "closed"))
        route.append(item)
    return route


def time_control(dice):
    keys = {"target": dice.choice(("00:45:00", "00:30:00", "00:20:30", "01:05:00"))}
    if maybe(dice, 0.3):
        keys["halt"] = dice.choice(("00:10:00", "00:30:00", "00:05:30"))
    if maybe(dice, 0.25):
        keys["main"] = True
    if maybe(dice, 0.3):
        keys["distance"] = 20.5
    return keys


def passage_control(dice):
    return {}


def regularity(dice):
    count = dice.randint(1, 4)
    at = sorted(dice.sample(range(800, 12000), count))
    speeds = [{"from": 0, "speed": dice.choice((40, 48, 36.5))}]
    for begin in sorted(dice.sample(range(500, 11000), dice.choice((0, 1, 2)))):
        speeds.append({"from": begin / 1000, "speed": dice.choice((42.5, 45, 38, 29.97))})
    checks = [{"at": place / 1000} for place in at]
    for check in checks:
        if maybe(dice, 0.15):
            check["ideal"] = clock(check_time(speeds, check) + dice.choice((0, 3000, 400)))
    keys = {"speeds": speeds, "checks": checks}
    if maybe(dice, 0.6):
        keys["measured"] = dice.choice(("start", "previous"))
    keys.update(control_start(dice))
    return keys


def control_start(dice):
    if not maybe(dice, 0.5):
        return {}
    keys = {"start": "control"}
    if maybe(dice, 0.6):
        keys["start_after"] = dice.choice(("00:03:00", "90", "00:02:30.5"))
    return keys


def check_time(speeds, check):
    """The ideal time of a check in milliseconds, near enough to drive by."""
    total, at = Fraction(0), Fraction(str(check["at"]))
    for n, part in enumerate(speeds):
        begin = Fraction(str(part["from"]))
        end = min(at, Fraction(str(speeds[n + 1]["from"]))) if n + 1 < len(speeds) else at
        if begin < end:
            total += (end - begin) / Fraction(str(part["speed"]))
    return int(total * 3600000)


def set_time(dice):
    keys = {"measured": dice.choice(("previous", "start"))} if maybe(dice, 0.6) else {}
    steps = [dice.choice((11700, 9000, 20500, 65000, 7330)) for _ in range(dice.randint(1, 4))]
    if keys.get("measured") == "start":
        steps = [sum(steps[:n + 1]) for n in range(len(steps))]
    keys["targets"] = [f"{step // 1000}.{step % 1000:03d}" if maybe(dice, 0.5) else clock(step) for step in steps]
    keys.update(control_start(dice))
    return keys


def special_test(dice):
    method = dice.choice(("elapsed", "over-bogey", "behind-best"))
    keys = {"method": method} if method != "elapsed" or maybe(dice, 0.5) else {}
    if method == "over-bogey" or maybe(dice, 0.4):
        keys["bogey"] = dice.choice(("00:01:10", "65"))
    if maybe(dice, 0.6):
        keys["maximum"] = dice.choice(("00:01:25", "00:03:00"))
    if method == "behind-best" and maybe(dice, 0.6):
        keys["scope"] = dice.choice(("overall", "class"))
    if maybe(dice, 0.7):
        keys["faults"] = {"cone": dice.choice((5, 0)), "line": "10.5"}
        if "maximum" in keys and maybe(dice, 0.7):
            keys["faults"]["wrong-route"] = "maximum"
    return keys


def consistency(dice):
    keys = {"laps": dice.randint(2, 4)}
    if maybe(dice, 0.8):
        keys["reference"] = dice.choice(("first", "mean", "nominated"))
    if maybe(dice, 0.6):
        keys["faults"] = {"cone": 5, "line": "2.25"}
    return keys


MAKERS = {"time-control": time_control, "passage-control": passage_control, "regularity": regularity,
          "set-time": set_time, "special-test": special_test, "consistency": consistency}
