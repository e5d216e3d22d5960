# SPDX-License-Identifier: MIT
"""The JSON shapes of standings, groups, teams and cards (contract, section 5)."""
import ranking
import scoring
import totals
import values


class Results:
    """All cars of a view, scored and ranked, as the JSON of standings and cards."""

    def __init__(self, view):
        self.view = view
        event = view.facts.event
        self.cars = list(view.facts.entries)
        self.scores = {car: scoring.score_car(view, car) for car in self.cars}
        self.overall = {car: totals.total(view, car, self.scores[car], True) for car in self.cars}
        self.in_class = self.overall
        if event["scoring"].get("coefficient", {}).get("standings", "all") == "overall":
            self.in_class = {car: totals.total(view, car, self.scores[car], False) for car in self.cars}
        self.status = {car: ranking.status(view, car, self.scores[car]) for car in self.cars}
        self.placed = [car for car in self.cars if self.status[car] in ranking.PLACED]
        self.class_position = self.class_positions()

    # Standings

    def head(self, by):
        status = "provisional" if self.view.all_closed(self.view.whole) else "live"
        return {"event": self.view.facts.event["slug"], "status": status,
                "revision": 0, "after": self.view.after, "by": by}

    def standings(self, by):
        shape = self.head(by)
        if by == "team":
            shape.update(self.teams())
        elif by == "overall":
            shape.update(self.overall_table())
        else:
            shape["groups"] = getattr(self, f"by_{by}")()
        return shape

    def overall_table(self):
        barred = [car for car in self.cars if not self.view.facts.entries[car].in_overall]
        return self.table(self.cars, self.overall, self.total_key(self.overall), barred=barred)

    def by_class(self):
        groups = []
        for name in self.view.facts.classes:
            cars = [car for car in self.cars if self.view.facts.entries[car].class_id == name
                    and self.view.facts.entries[car].in_classes]
            if cars:
                table = self.table(cars, self.in_class, self.total_key(self.in_class))
                groups.append({"class": name, **table})
        return groups

    def by_category(self):
        groups = []
        for category in self.view.facts.event["classes"].get("categories", []):
            cars = [car for car in self.cars if self.view.facts.entries[car].category == category["id"]]
            if cars:
                table = self.table(cars, self.overall, self.total_key(self.overall))
                groups.append({"category": category["id"], **table})
        return groups

    def by_day(self):
        groups = []
        for day in self.view.days:
            sums = {car: totals.Total(*totals.day_total(self.view, self.scores[car], day), set())
                    for car in self.cars}
            key = lambda car: (sums[car].fails, sums[car].penalty)
            items = [item for item in self.view.items if item.day == day]
            groups.append({"day": day, **self.table(self.cars, sums, key, items=items)})
        return groups

    def by_test(self):
        groups = []
        for item in self.view.items:
            if not item.is_test:
                continue
            tests = {car: next(test for test in self.scores[car].tests if test.item is item)
                     for car in self.cars}
            key = lambda car: (tests[car].fails, tests[car].penalty)
            barred = [car for car in self.cars if tests[car].absent]
            table = self.table(self.cars, tests, key, barred=barred, items=[item], pending=True)
            groups.append({"test": item.id, **table})
        return groups

    def total_key(self, sums):
        return lambda car: ranking.overall_key(self.view, car, self.scores[car], sums[car])

    def table(self, cars, sums, key, barred=(), items=None, pending=False):
        """The standings of some cars: ranked rows, unplaced rows, and where it applies pending rows.

        `sums` gives each car's fails and penalty, `key` its rank. `barred` cars are unplaced here. `items` is
        the range in which a car may still await a reading.
        """
        view = self.view
        items = view.items if items is None else items
        separate = pending or bool(view.after)
        waits = [car for car in self.placed if separate and self.awaits(car, items)]
        unplaced = [car for car in cars if car not in self.placed or car in barred]
        pended = [car for car in cars if car in waits and car not in unplaced]
        ranked = [car for car in cars if car not in unplaced and car not in pended]
        rows, leader, above = [], None, None
        for place in ranking.places(ranked, key):
            here = sums[place.car]
            leader, above = leader or here, above or here
            row = self.row(place.car, here)
            row.update(position=place.position, equal=place.equal,
                       behind_leader=gap(here, leader), fails_behind_leader=here.fails - leader.fails,
                       behind_next=gap(here, above), fails_behind_next=here.fails - above.fails)
            above = here
            rows.append(row)
        shape = {"standings": rows, "unplaced": [self.row(car, sums[car]) for car in unplaced]}
        if separate:
            shape["pending"] = [self.row(car, sums[car]) for car in pended]
        return shape

    def class_positions(self):
        """The class position of every car that is placed in its class; the same in every view of one range."""
        found = {}
        for name in self.view.facts.classes:
            cars = [car for car in self.placed if self.view.facts.entries[car].class_id == name
                    and self.view.facts.entries[car].in_classes
                    and not (self.view.after and self.awaits(car, self.view.items))]
            found.update({place.car: place.position
                          for place in ranking.places(cars, self.total_key(self.in_class))})
        return found

    def awaits(self, car, items):
        return any(point.state == "awaiting" and point.scored.item in items
                   for point in self.scores[car].points)

    # Rows

    def row(self, car, total):
        """A row as it stands for an unplaced car; a ranked one gets its place added."""
        view, entry = self.view, self.view.facts.entries[car]
        read = ranking.read_points(view, car)
        last = read[-1] if read else None
        awaiting = [point for point in self.scores[car].points if point.state == "awaiting"
                    and last is not None and point.scored.reading.order < last.order]
        doubtful = [point for item in view.items for point in item.points if view.is_doubtful(car, item, point)]
        days = [totals.day_total(view, self.scores[car], day)[1] for day in view.days]
        return {"position": None, "equal": False, "car": car,
                "crew": [name for name in (entry.row["driver"], entry.row["navigator"]) if name],
                "vehicle": f"{entry.row['make']} {entry.row['model']}", "year": entry.year,
                "class": entry.class_id, "class_position": self.class_position.get(car),
                "fails": total.fails, "penalty": values.show_penalty(total.penalty),
                "behind_leader": None, "behind_next": None,
                "fails_behind_leader": None, "fails_behind_next": None,
                "days": [values.show_penalty(day) for day in days],
                "through": last.id if last else None, "status": self.status[car],
                "awaiting": len(awaiting), "doubtful": len(doubtful)}

    # Teams

    def teams(self):
        count = self.view.facts.event["scoring"]["teams"]["count"]
        positions = {row["car"]: row["position"] for row in self.overall_table()["standings"]}
        names = sorted({entry.team for entry in self.view.facts.entries.values() if entry.team})
        full, short = [], []
        for name in names:
            cars = [car for car in positions if self.view.facts.entries[car].team == name][:count]
            row = {"position": None, "equal": False, "team": name,
                   "fails": sum(self.overall[car].fails for car in cars),
                   "penalty": sum(self.overall[car].penalty for car in cars), "cars": cars}
            (full if len(cars) == count else short).append(row)
        key = lambda row: (row["fails"], row["penalty"], positions[row["cars"][0]])
        rows = []
        for place in ranking.places(list(range(len(full))), lambda n: key(full[n])):
            rows.append({**full[place.car], "position": place.position, "equal": place.equal})
        for row in rows + short:
            row["penalty"] = values.show_penalty(row["penalty"])
        return {"standings": rows, "unplaced": short}

    # Cards

    def card(self, car):
        """The car's row in the overall standings, and its scored points."""
        table = self.overall_table()
        row = next(row for rows in table.values() for row in rows if row["car"] == car)
        dropped = self.overall[car].dropped
        steps = [{"of": of, "fails": fails, "penalty": None if penalty is None else values.show_penalty(penalty)}
                 for of, fails, penalty in totals.steps(self.view, car, self.scores[car], dropped)]
        return {**row, "points": [self.card_point(car, point, dropped) for point in self.scores[car].points],
                "total": steps}

    def card_point(self, car, point, dropped):
        """A scored point on the card; for an absent car, when it was due is left out."""
        item, outcome = point.scored.item, point.outcome
        show = lambda time: values.show_time(time, item.rule.precision)
        shape = {"point": point.scored.id, "kind": item.kind, "day": item.day,
                 "scheduled": show(outcome.scheduled), "due": show(outcome.due), "actual": show(outcome.actual),
                 "deviation": show(outcome.deviation), "penalty": values.show_penalty(point.penalty),
                 "fails": point.fails, "state": totals.state_of(point, dropped)}
        if self.view.is_absent(car, item, point.scored.reading):
            del shape["scheduled"], shape["due"]
        return shape


def gap(car, other):
    """The difference of penalty of two sums; none where their fails differ."""
    return values.show_penalty(car.penalty - other.penalty) if car.fails == other.fails else None
