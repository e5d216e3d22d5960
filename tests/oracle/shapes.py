# SPDX-License-Identifier: MIT
"""The JSON shapes of standings, groups, teams and cards (contract, section 5)."""
import ranking
import road
import scoring
import ties
import totals
import values
import view as view_module


class Results:
    """All cars of a view, scored and ranked, as the JSON of standings and cards."""

    def __init__(self, view):
        self.view = view
        event = view.facts.event
        self.cars = list(view.facts.entries)
        self.scores = {car: scoring.score_car(view, car) for car in self.cars}
        self.overall = {car: totals.total(view, car, self.scores[car], True) for car in self.cars}
        self.in_class = self.overall
        if view.scoring.get("coefficient", {}).get("standings", "all") == "overall":
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
        return self.table(self.cars, self.overall, self.by_total(self.overall), barred=barred)

    def by_class(self):
        groups = []
        for name in self.view.facts.classes:
            cars = [car for car in self.cars if self.view.facts.entries[car].class_id == name
                    and self.view.facts.entries[car].in_classes]
            if cars:
                table = self.table(cars, self.in_class, self.by_total(self.in_class))
                groups.append({"class": name, **table})
        return groups

    def by_category(self):
        groups = []
        for category in self.view.facts.event["classes"].get("categories", []):
            cars = [car for car in self.cars if self.view.facts.entries[car].category == category["id"]]
            if cars:
                table = self.table(cars, self.overall, self.by_total(self.overall))
                groups.append({"category": category["id"], **table})
        return groups

    def by_group(self):
        groups = []
        for group in self.view.facts.event["classes"].get("groups", []):
            cars = [car for car in self.cars if group["id"] in self.view.facts.entries[car].groups]
            if cars:
                table = self.table(cars, self.overall, self.by_total(self.overall))
                groups.append({"group": group["id"], "name": group.get("name", group["id"]), **table})
        return groups

    def by_day(self):
        groups = []
        for day in self.view.days:
            sums = {car: totals.Total(*totals.day_total(self.view, self.scores[car], day), set())
                    for car in self.cars}
            items = {item.id for item in self.view.items if item.day == day}
            groups.append({"day": day, **self.table(self.cars, sums, by_sum(sums), items=items)})
        return groups

    def by_test(self):
        groups = []
        for item in self.view.items:
            if not item.is_test:
                continue
            tests = {car: self.scores[car].of(item.id) for car in self.cars if self.view.own(car, item)}
            if tests:
                barred = [car for car in tests if tests[car].absent]
                table = self.table(list(tests), tests, by_sum(tests), barred=barred, items={item.id}, pending=True)
                groups.append({"test": item.id, **table})
        return groups

    def by_total(self, sums):
        return lambda cars: ranking.by_total(self.view, cars, sums, self.scores)

    def table(self, cars, sums, rank, barred=(), items=None, pending=False):
        """The standings of some cars: ranked rows, unplaced rows, and where it applies pending rows.

        `sums` gives each car's fails and penalty, `rank` groups cars that are equal, best first. `barred` cars
        are unplaced here. `items` names the range in which a car may still await a reading.
        """
        separate = pending or bool(self.view.after)
        waits = [car for car in self.placed if separate and self.awaits(car, items)]
        unplaced = [car for car in cars if car not in self.placed or car in barred]
        pended = [car for car in cars if car in waits and car not in unplaced]
        ranked = [car for car in cars if car not in unplaced and car not in pended]
        rows, leader, above = [], None, None
        for place in ranking.places(rank(ranked)):
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
                    and not (self.view.after and self.awaits(car))]
            found.update({place.car: place.position
                          for place in ranking.places(self.by_total(self.in_class)(cars))})
        return found

    def awaits(self, car, items=None):
        """Whether the car still awaits a reading, at one of these items."""
        return any(point.state == "awaiting" and (items is None or point.scored.item.id in items)
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
        rule, entries = self.view.scoring["teams"], self.view.facts.entries
        count, team_of = rule["count"], lambda car: getattr(entries[car], rule.get("by", "team"))
        positions = {row["car"]: row["position"] for row in self.overall_table()["standings"]}
        names = sorted({team_of(car) for car in entries if team_of(car)})
        full, short = [], []
        for name in names:
            cars = [car for car in positions if team_of(car) == name][:count]
            row = {"position": None, "equal": False, "team": name,
                   "fails": sum(self.overall[car].fails for car in cars),
                   "penalty": sum(self.overall[car].penalty for car in cars), "cars": cars}
            (full if len(cars) == count else short).append(row)
        key = lambda row: (row["fails"], row["penalty"], positions[row["cars"][0]])
        rows, numbers = [], list(range(len(full)))
        for place in ranking.places(ties.parted(numbers, lambda n: key(full[n]))):
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
        points = [shape for item in self.scores[car].items for shape in self.card_item(car, item, dropped)]
        return {**row, "points": points, "total": steps}

    def card_item(self, car, item, dropped):
        """The scored points of an item, and behind them what was decided in it."""
        return [self.card_point(car, point, dropped) for point in item.points] + [
            self.card_decision(car, item.item, decision, dropped) for decision in self.view.decided_in(car, item.item)]

    def card_decision(self, car, item, decision, dropped):
        """A decision in an item; where that or its point is ruled, it counts for nothing."""
        ruling = self.view.setting_aside(car, decision, item)
        fails, penalty = (0, 0) if ruling else view_module.amount(decision)
        state = scoring.STATES[ruling[0]] if ruling else "scored"
        if item.id in dropped and state in totals.DROPPABLE:
            state = "dropped"
        return {"point": decision.point, "kind": decision.kind, "day": item.day, "scheduled": None, "due": None,
                "actual": None, "deviation": None, "penalty": values.show_penalty(penalty), "fails": fails,
                "state": state}

    def card_point(self, car, point, dropped):
        """A scored point on the card; for an absent car, when it was due is left out, and of a special test
        where lateness holds all that was measured."""
        item, outcome = point.scored.item, point.outcome
        show = lambda time: values.show_time(time, point.scored.rule.precision)
        shape = {"point": point.scored.id, "kind": item.kind, "day": item.day,
                 "scheduled": show(outcome.scheduled), "due": show(outcome.due), "actual": show(outcome.actual),
                 "deviation": show(outcome.deviation), "penalty": values.show_penalty(point.penalty),
                 "fails": point.fails, "state": totals.state_of(point, dropped)}
        if self.view.is_absent(car, item, point.scored.closing[0]):
            del shape["scheduled"], shape["due"]
        elif item.kind == "special-test" and road.holds_over(self.view, car, item):
            del shape["due"], shape["actual"], shape["deviation"]
        return shape


def by_sum(sums):
    """Ranks by fails, then penalty, ties left equal."""
    return lambda cars: ties.parted(cars, lambda car: (sums[car].fails, sums[car].penalty))


def gap(car, other):
    """The difference of penalty of two sums; none where their fails differ."""
    return values.show_penalty(car.penalty - other.penalty) if car.fails == other.fails else None
