# SPDX-License-Identifier: MIT
"""Which values of the route are a car's own, and what is not on its route (contract, 'Other values for
some cars')."""
import route

OF_A_LINE = ("group", "category", "period", "class", "off")
KEY_BY_KEY = ("penalty", "faults")


def fits(line, entry):
    """Whether a line is for this car."""
    marks = {"group": entry.groups, "category": [entry.category], "period": [entry.period],
             "class": [entry.class_id]}
    named = next(name for name in marks if name in line)
    wanted = line[named] if isinstance(line[named], list) else [line[named]]
    return any(mark in wanted for mark in marks[named])


def merged(keys, line):
    """The item's keys with those of the line in their place."""
    found = {**keys, **{name: value for name, value in line.items() if name not in OF_A_LINE}}
    for name in KEY_BY_KEY:
        if name in line:
            found[name] = {**keys.get(name, {}), **line[name]}
    return found


def own_items(event, items, entries):
    """For each car the items of its route by id; one that is off is not there."""
    made, own = {}, {}
    for entry in entries:
        own[entry.number] = {}
        for item in items:
            lines = item.keys.get("for", [])
            number = next((n for n, line in enumerate(lines) if fits(line, entry)), None)
            if number is None:
                own[entry.number][item.id] = item
            elif not lines[number].get("off", False):
                key = item.id, number
                if key not in made:
                    made[key] = route.item_of(event, item.index, merged(item.keys, lines[number]), item.points)
                own[entry.number][item.id] = made[key]
    return own


def off_points(items, own_of_car):
    """The ids of the reading points that are not on a car's route."""
    found = set()
    for item in items:
        own = own_of_car.get(item.id)
        if own is None:
            found.update(point.id for point in item.points)
        elif item.kind in ("regularity", "set-time"):
            found.update(item.points[n].id for n, station in enumerate(route.stations(own.keys), 1)
                         if station is None)
    return found
