# SPDX-License-Identifier: MIT
"""Adds the contract's "More rules" to a random event.json: every key often, and in all combinations."""
import random_rules
from random_rules import TESTS, check_time, clock, maybe, plain

DIVISORS = ("0.6", "6", "0.06", "2", "0.25", "00:00:30", "00:15:00")
FINE = ("second", "tenth", "hundredth", "millisecond", "0.25", "2")  # these go into any step
SECTIONS = ("regularity", "set-time")
GROUPS = ("low", "high", "ladies", "tour")


def event(dice, coarse):
    """An event.json; a coarse one has few different penalties, so that many cars are equal."""
    keys = random_rules.event(dice)
    keys["classes"]["groups"] = [{"id": name, "name": name.title()} for name in GROUPS]
    if coarse:
        make_coarse(dice, keys)
    for item in keys["route"]:
        enrich_item(dice, keys, item, coarse)
    enrich_scoring(dice, keys, coarse)
    for item in keys["route"]:
        if maybe(dice, 0.35):
            item["for"] = [line(dice, keys, item) for _ in range(dice.randint(1, 3))]
        make_steps_fit(keys, item)
    return keys


def make_coarse(dice, keys):
    for kind in random_rules.KINDS:
        keys["scoring"]["defaults"][kind] = {"early": {"once": 1}, "late": {"once": dice.choice((1, 2))},
                                             "grace": dice.choice(("0", "2")), "missed": dice.choice((0, 1, 3))}
    for item in keys["route"]:
        item.pop("penalty", None)
        item.pop("test_cap", None)
    for name in ("coefficient", "finisher"):
        keys["scoring"].pop(name, None)


# Penalty rules

def more_of_a_rule(dice, kind, share):
    """Keys of a penalty rule that go beyond the older ones."""
    keys = {}
    measured = kind != "passage-control"
    if measured and maybe(dice, share):
        keys["precision"] = dice.choice(DIVISORS[:6])
    if measured and maybe(dice, share):
        keys["per"] = dice.choice(DIVISORS + ("minute", "second"))
    if measured and maybe(dice, share):
        keys["part"] = maybe(dice, 0.8)
    for side in ("early", "late"):
        if measured and maybe(dice, share):
            keys[side] = dice.choice((once, steps, fails))(dice)
    if kind not in ("passage-control", "special-test") and maybe(dice, share * 0.6):
        keys["early_limit"] = dice.choice(("00:00:05", "00:00:30", "00:03:00"))
    return keys


def once(dice):
    return {"once": plain(dice.choice((1000, 10000, 12500, 0)))}


def fails(dice):
    return {"fails": dice.choice((1, 2))}


def steps(dice):
    bounds = sorted(dice.sample((2, 4, 10, 20, 60), dice.randint(1, 3)))
    rates = [plain(dice.choice((0, 500, 1000, 2000, 333))) for _ in bounds] + [plain(dice.choice((5000, 1500)))]
    return [{"to": clock(bound * 1000), "rate": rate} for bound, rate in zip(bounds, rates)] + [{"rate": rates[-1]}]


def fitting(rule):
    """Steps need a `per` that goes into them."""
    misfit = any(isinstance(rule.get(side), list) for side in ("early", "late"))
    return {**rule, "per": "second"} if misfit and rule.get("per") not in FINE else rule


def make_steps_fit(keys, item):
    """The rule of the item, of each line and of each check, merged, has a `per` that goes into its steps."""
    rule = {**keys["scoring"]["defaults"].get(item["kind"], {}), **item.get("penalty", {})}
    fit_one(rule, item)
    for own in [item, *item.get("for", [])]:
        merged = {**rule, **own.get("penalty", {})}
        fit_one(merged, own)
        for place in own.get("checks", item.get("checks", [])) + own.get("targets", item.get("targets", [])):
            if isinstance(place, dict) and "penalty" in place:
                fit_one({**merged, **place["penalty"]}, place)


def fit_one(merged, holder):
    """Where the merged rule has a misfit, its holder gets a `per` of its own."""
    if fitting(merged) != merged:
        merged["per"] = "second"
        holder["penalty"] = {**holder.get("penalty", {}), "per": "second"}


# Items

def enrich_item(dice, keys, item, coarse):
    kind = item["kind"]
    if not coarse and maybe(dice, 0.4):
        item["penalty"] = {**item.get("penalty", {}), **more_of_a_rule(dice, kind, 0.35)}
    if maybe(dice, 0.5):
        item["faults"] = {"board": 1} if coarse else {**item.get("faults", {}), **some_faults(dice)}
    if kind == "time-control":
        enrich_control(dice, keys, item)
    elif kind in SECTIONS:
        enrich_section(dice, item, coarse)
    elif kind == "special-test":
        enrich_special(dice, item)
    if kind in TESTS and "counts" not in item and maybe(dice, 0.12):
        item["counts"] = "ties"
    if kind in TESTS and kind != "consistency" and maybe(dice, 0.4):
        item["finish"] = "control"
        item["target"] = road_target(dice, item)


def some_faults(dice):
    worths = {"stop": dice.choice((60, "2.5", 0)), "wrong-way": "missed", "offence": {"fails": dice.choice((1, 2))},
              "board": 1}
    return {name: worths[name] for name in dice.sample(list(worths), dice.randint(1, 3))}


def enrich_control(dice, keys, item):
    if keys["scoring"]["timing"] == "scheduled" and maybe(dice, 0.35):
        item["early_from"] = "due"
    if maybe(dice, 0.35):
        item["shortest"] = dice.choice(("00:20:00", "00:29:00", "00:44:30", "00:30:00"))


def enrich_section(dice, item, coarse):
    own = lambda: more_of_a_rule(dice, item["kind"], 0.3) or {"late": 2, "missed": 7}
    if item["kind"] == "regularity":
        if maybe(dice, 0.3):
            item["ideals"] = "down"
        for check in item["checks"]:
            if not coarse and maybe(dice, 0.3):
                check["penalty"] = own()
        return
    for n, target in enumerate(item["targets"]):
        if not coarse and maybe(dice, 0.3):
            item["targets"][n] = {"target": target, "penalty": own()} if maybe(dice, 0.8) else {"target": target}
    if item.get("measured", "previous") == "previous" and maybe(dice, 0.5):
        item["lost"] = "next-too"


def enrich_special(dice, item):
    if maybe(dice, 0.5):
        item["attempts"] = dice.choice((2, 2, 3))
        if maybe(dice, 0.75):
            item["counts"] = dice.choice(("best", "last", "sum", "sum", "ties"))
    if maybe(dice, 0.5):
        item["maximum"] = by_best(dice)
    if item.get("method") == "behind-best" or isinstance(item.get("maximum"), dict):
        if maybe(dice, 0.7):
            item["best"] = dice.choice(("time", "faultless", "result"))
    if "maximum" in item:
        if maybe(dice, 0.5):
            item["penalty"] = {**item.get("penalty", {}), "missed": "maximum"}
        if maybe(dice, 0.5):
            item["faults"] = {**item.get("faults", {}), "wrong-route": "maximum"}
    elif "maximum" in item.get("faults", {}).values():
        del item["faults"]
    if item.get("best") == "result":
        item["penalty"] = {**item.get("penalty", {}), "late": "0.5"}


def by_best(dice):
    return {"best": dice.choice(("class", "overall", "category")), "plus": dice.choice(("00:00:30", "5", "2.5"))}


def road_target(dice, item):
    """A time for the road that is near to what the test takes."""
    if item["kind"] == "regularity":
        took = max([int(check_time(item["speeds"], check)) for check in item["checks"]])
    else:
        took = 90000
    return clock(took // 60000 * 60000 + dice.choice((60000, 120000, 150000, 180000)))


# Other values for some cars

def line(dice, keys, item):
    """A line of `for`; it may be for cars that an earlier line already holds for."""
    found = {}
    sort = dice.choice([name for name in ("group", "group", "category", "period", "class")
                        if name != "category" or "categories" in keys["classes"]])
    names = {"group": GROUPS, "category": ("sport", "touring"),
             "period": periods(keys), "class": classes(keys)}[sort]
    found[sort] = dice.choice(names) if maybe(dice, 0.5) else dice.sample(names, min(2, len(names)))
    if maybe(dice, 0.3):
        found["off"] = True
        return found
    own = OWN[item["kind"]](dice, item)
    if maybe(dice, 0.4):
        penalty = more_of_a_rule(dice, item["kind"], 0.3)
        own["penalty"] = without_odd_late(item, penalty)
    if maybe(dice, 0.3):
        own["faults"] = dice.choice(({"stop": 7}, {"extra": 3}, {"stop": "missed"}))
    if item["kind"] in TESTS and maybe(dice, 0.2):
        own["test_cap"] = dice.choice((15, 40, "100.5"))
    if item.get("finish") == "control" and maybe(dice, 0.4):
        own["target"] = road_target(dice, item)
    found.update(own or {"penalty": {"missed": 13}})
    return found


def without_odd_late(item, penalty):
    """What is compared with `best: result` is a penalty, not fails."""
    if item.get("best") == "result":
        penalty.pop("late", None)
    return penalty or {"missed": 11}


def periods(keys):
    if keys["classes"]["scheme"] == "custom":
        return ["OLD", "MID", "NEW"]
    return ["C", "D", "E", "F"]


def classes(keys):
    capacity = keys["classes"].get("capacity")
    return [f"{period}-{band['id']}" for period in periods(keys) for band in capacity] if capacity else periods(keys)


def own_control(dice, item):
    keys = {"target": dice.choice(("00:30:00", "00:45:00", "00:25:30"))} if maybe(dice, 0.6) else {}
    if maybe(dice, 0.3):
        keys["halt"] = dice.choice(("00:10:00", "00:02:30", "0"))
    if maybe(dice, 0.2):
        keys["shortest"] = "00:28:00"
    if maybe(dice, 0.2):
        keys["main"] = not item.get("main", False)
    return keys


def own_passage(dice, item):
    return {}


def own_section(dice, item):
    """Other speeds or targets, and checks and pads that are not on these cars' route."""
    keys = {}
    places = "checks" if item["kind"] == "regularity" else "targets"
    if item["kind"] == "regularity" and maybe(dice, 0.6):
        keys["speeds"] = [{"from": part["from"], "speed": part["speed"] - 4} for part in item["speeds"]]
    if maybe(dice, 0.5):
        kept = [dict(place) if isinstance(place, dict) else place for place in item[places]]
        gone = dice.sample(range(len(kept)), dice.randint(0, len(kept) - 1))
        keys[places] = [None if n in gone else place for n, place in enumerate(kept)]
    if item.get("start") == "control" and maybe(dice, 0.3):
        keys["start_after"] = dice.choice(("00:01:00", "00:04:00"))
    return keys


def own_special(dice, item):
    keys = {"bogey": dice.choice(("00:01:05", "60"))} if "bogey" in item and maybe(dice, 0.5) else {}
    if "maximum" in item and maybe(dice, 0.5):
        keys["maximum"] = dice.choice(("00:01:20", by_best(dice))) if "best" not in item or maybe(dice, 0.5) \
            else by_best(dice)
    return keys


OWN = {"time-control": own_control, "passage-control": own_passage, "regularity": own_section,
       "set-time": own_section, "special-test": own_special, "consistency": own_passage}


# Scoring

def enrich_scoring(dice, keys, coarse):
    scoring, route = keys["scoring"], keys["route"]
    if not coarse:
        for kind, rule in scoring["defaults"].items():
            if maybe(dice, 0.35):
                scoring["defaults"][kind] = fitting({**rule, **more_of_a_rule(dice, kind, 0.25)})
    if maybe(dice, 0.5):
        scoring["max_lateness"] = dice.choice(("00:01:00", "00:04:00", "00:10:00"))
    if "max_lateness" in scoring and maybe(dice, 0.6):
        scoring["max_lateness_holds"] = True
    if "max_lateness" in scoring and scoring["timing"] == "target" and maybe(dice, 0.5):
        scoring["lateness"] = "cumulative"
    if maybe(dice, 0.35):
        scoring["day_cap"] = dice.choice((5, "60.5", 300))
    if maybe(dice, 0.7):
        scoring["coefficient"] = more_coefficient(dice, keys)
    if "finisher" in scoring and maybe(dice, 0.6):
        scoring["finisher"]["of"] = dice.choice(("tests", "all", "controls"))
    if maybe(dice, 0.4):
        scoring["teams"]["by"] = dice.choice(("club", "team"))
    if maybe(dice, 0.2):
        scoring["shown"] = "time"
    scoring["ties"] = more_ties(dice, route, scoring["ties"])


def more_coefficient(dice, keys):
    """By what it is, of which kinds; a table by category."""
    by = dice.choice(("year", "entry", "category") if "categories" in keys["classes"] else ("year", "entry"))
    found = {"by": by, "apply": dice.choice(("test", "total")),
             "kinds": "all" if maybe(dice, 0.4) else dice.sample(list(random_rules.KINDS), dice.randint(1, 6)),
             "round": dice.choice(("none", "whole")), "standings": dice.choice(("all", "overall"))}
    if by == "category":
        found["table"] = {name: dice.choice(("1.15", "0.9", "1.333")) for name in ("sport", "touring")
                          if maybe(dice, 0.7)}
    return found


def more_ties(dice, route, ties):
    found = [*ties, *dice.sample(("count-back", "older-driver", "younger-driver", "first-difference"), 2)]
    for item in route:
        if item["kind"] in ("special-test", "consistency") and maybe(dice, 0.5):
            found.append(f"time:{item['id']}")
        if item["kind"] in TESTS and maybe(dice, 0.15):
            found.append(f"test:{item['id']}")
    found = list(dict.fromkeys(found))
    dice.shuffle(found)
    if maybe(dice, 0.5):
        found.sort(key=lambda name: not name.startswith("time:"))
    return found[:dice.randint(0, len(found))]
