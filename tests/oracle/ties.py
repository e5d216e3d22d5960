# SPDX-License-Identifier: MIT
"""How cars with equal fails and penalty are told apart (contract, 'Ranking' and 'Totals and ties')."""
from collections import Counter

import laps
import special

UNKNOWN = NO_MORE = (1, 0)


def settled(view, cars, scores):
    """Cars that are equal so far, parted by the tie rules: a list of lists of cars still equal, best first.

    Where a criterion parts them, each part is settled anew from the first criterion.
    """
    if len(cars) > 1:
        for key in criteria(view, cars, scores):
            parts = parted(cars, key)
            if len(parts) > 1:
                return [group for part in parts for group in settled(view, part, scores)]
    return [cars]


def parted(cars, key):
    """The cars by rising key, those of one key together."""
    groups = {}
    for car in cars:
        groups.setdefault(key(car), []).append(car)
    return [groups[value] for value in sorted(groups)]


def criteria(view, cars, scores):
    """The keys to part these cars by, in turn; a lower key is better."""
    for name in view.scoring.get("ties", []):
        if name == "first-difference":
            for item in view.items:
                if item.is_test and not item.for_ties and on_every_route(view, cars, item):
                    yield lambda car, item=item: test_key(scores[car].of(item.id))
        elif ":" in name:
            yield from by_test(view, cars, scores, *name.split(":", 1))
        else:
            yield lambda car, name=name: KEYS[name](view, car, scores[car])


def by_test(view, cars, scores, sort, wanted):
    """`test:ID` or `time:ID`, where that test is in the view and off for none of the cars."""
    for item in view.items:
        if item.id != wanted or not on_every_route(view, cars, item):
            continue
        if sort == "test":
            yield lambda car: test_key(scores[car].of(item.id))
        elif not view.is_cancelled(item.id):
            yield lambda car: time_key(view, car, view.own(car, item))


def on_every_route(view, cars, item):
    return all(view.own(car, item) is not None for car in cars)


def test_key(test):
    return (1, 0, 0) if test.absent else (0, test.fails, test.penalty)


def time_key(view, car, item):
    """The held elapsed of a special test or the reference lap, no time last."""
    if item.kind == "special-test":
        time = special.tie_time(view, car, item)
    else:
        time = laps.reference_lap(view, car, item)[0]
    return UNKNOWN if time is None else (0, time)


# Keys of a car alone

def states(score):
    return [point.state for point in score.counting_points]  # also in tests that are dropped


def most_clean(view, car, score):
    return -states(score).count("clean")


def furthest_clean(view, car, score):
    run = 0
    for state in states(score):
        if state == "clean":
            run += 1
        elif state not in ("cancelled", "waived"):
            break
    return -run


def older_car(view, car, score):
    return view.facts.entries[car].year


def smaller_engine(view, car, score):
    engine = view.facts.entries[car].engine_cc
    return UNKNOWN if engine is None else (0, engine)


def count_back(view, car, score):
    """How many points cost exactly 0, 1, 2 …: more is better. As a sort key the places of the penalties from
    the least on, each with how many there are; who has one at the first place where they differ is ahead."""
    found = Counter(point.penalty // 1000 for point in points_to_count(view, car, score)
                    if point.penalty >= 0 and point.penalty % 1000 == 0)
    return tuple((0, whole, -found[whole]) for whole in sorted(found)) + (NO_MORE,)


def points_to_count(view, car, score):
    """Scored points without fails that were clean, scored, missed or notional, in dropped tests too."""
    for item in score.counting:
        whole = item.item.is_test and view.ruling(car, item.item.id) and len(item.points) > 1
        for point in item.points:
            if not whole and not point.fails and point.state in ("clean", "scored", "missed", "notional"):
                yield point


def birth_key(view, car, sign):
    born = view.facts.entries[car].born
    return (1, ()) if born is None else (0, tuple(sign * part for part in born))


KEYS = {"most-clean": most_clean, "furthest-clean": furthest_clean, "older-car": older_car,
        "smaller-engine": smaller_engine, "count-back": count_back,
        "older-driver": lambda view, car, score: birth_key(view, car, 1),
        "younger-driver": lambda view, car, score: birth_key(view, car, -1)}
