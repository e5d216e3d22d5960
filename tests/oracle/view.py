# SPDX-License-Identifier: MIT
"""What one request sees of an event: the part of the route, and the facts that count in it.

A view is final or live, full or public, and may end at a point (`--after`). It answers which items are
there, which reading of a car counts, what is open, who is absent, and which decisions hold.
"""
import facts as facts_module
import values

NAMING = ("penalty", "fails", "faults")


class View:
    def __init__(self, facts, live=False, public=False, after=None):
        self.facts = facts
        self.live = live
        self.after = after
        self._closed = {d.point for d in facts.decisions if d.kind == "close"}
        visible = [item for item in facts.items if not (live and public and self._hidden(item))]
        self.whole = visible
        last = self._item_holding(after) if after else None
        self._reached = [item for item in facts.items if last is None or item.index <= last.index]
        self.items = [item for item in self._reached if item in visible]
        self.last_day = last.day if last else len(facts.event["days"])
        self.days = range(1, self.last_day + 1)
        self.hidden = {item.id for item in facts.items if item not in visible}
        self._decisions = self._seen_decisions()
        self._standing = facts_module.standing(facts.readings)
        self._retirements = self._retirement_orders(last)
        self._rejoins = {}
        for decision in self._of_kind("rejoin"):
            self._rejoins.setdefault(decision.car, []).append(int(decision.value))
        self._rulings = self._gather_rulings()
        self._allowances = self._gather_allowances()
        self._named = self._gather_named()
        self.memory = {}

    def remembered(self, key, make):
        """The value under `key`, made once; saves working out the same schedule again."""
        if key not in self.memory:
            self.memory[key] = make()
        return self.memory[key]

    @property
    def scoring(self):
        return self.facts.event.get("scoring", {})

    # What is on the route

    def _hidden(self, item):
        usual = "closed" if item.kind == "regularity" else "at-once"
        if item.keys.get("reveal", usual) != "closed":
            return False
        return any(not self.closed(scored) for scored in item.scored)

    def _item_holding(self, name):
        if name in self.facts.item_of:
            return self.facts.item_of[name]
        return self.facts.point_of[name][0]

    def own(self, car, item):
        """The item as it is for this car, or None where it is off."""
        return self.facts.own[car].get(item.id)

    def route_of(self, car):
        """The car's own items in the view."""
        return self.remembered(("route", car), lambda: self._own_of(car, self.items))

    def whole_route_of(self, car):
        """The car's own items of the whole route that is shown."""
        return self.remembered(("whole", car), lambda: self._own_of(car, self.whole))

    def road_of(self, car, day):
        """The car's own time controls and road points of a day, the hidden ones too."""
        return [item for item in self._own_of(car, self._reached) if item.is_road and item.day == day]

    def _own_of(self, car, items):
        own = self.facts.own[car]
        return [own[item.id] for item in items if item.id in own]

    def is_off(self, car, name):
        """Whether the item or point of that name is not on the car's route."""
        if name in self.facts.item_of:
            return name not in self.facts.own[car]
        return name in self.facts.off[car]

    def _seen_decisions(self):
        """All but those that name a hidden item or its points, or what is not on that car's route; a
        retirement stays where it is."""
        return [decision for decision in self.facts.decisions
                if decision.kind == "retire"
                or (decision.point.split("/")[0] not in self.hidden
                    and (decision.car is None or not decision.point or not self.is_off(decision.car, decision.point)))]

    def _of_kind(self, kind):
        return [decision for decision in self._decisions if decision.kind == kind]

    # Open and closed

    def is_open(self, item, point):
        """Whether a reading at this point may still come."""
        if not self.live:
            return False
        return not self._closed & {point.id, item.id, f"day:{item.day}"}

    def closed(self, scored):
        return not any(self.is_open(scored.item, point) for point in scored.closing)

    def all_closed(self, items):
        return all(self.closed(scored) for item in items for scored in item.scored)

    # Absence

    def _retirement_orders(self, last):
        """For each car its retirements as (order of the last point before it, day), up to --after."""
        found = {}
        for decision in self._of_kind("retire"):
            place = self._retirement_place(decision)
            if place is None:
                found.setdefault(decision.car, []).append((-1, 0))
                continue
            item, order = place
            # At a hidden item it counts as one after the item before that is shown.
            shown = max((other.index for other in self.whole if other.index <= item.index), default=-1)
            if last is None or shown <= last.index:
                found.setdefault(decision.car, []).append((order, item.day))
        return found

    def _retirement_place(self, decision):
        """The item, and the order of the point, after which the car is out; None before the start."""
        name, car = decision.point, decision.car
        if not name:
            return None
        item = self._item_holding(name)
        order = item.points[-1].order if name == item.id else self.facts.point_of[name][1].order
        if not self.is_off(car, name):
            return item, order
        return max(((other, point.order) for other in self.facts.items if other.id in self.facts.own[car]
                    for point in other.points if point.order < order and point.id not in self.facts.off[car]),
                   key=lambda place: place[1], default=None)

    def lasting_retirements(self, car):
        """The retirements that no rejoin ended."""
        return [(order, day) for order, day in self._retirements.get(car, [])
                if not any(rejoin > day for rejoin in self._rejoins.get(car, []))]

    def retired_before_day(self, car, day):
        """Retired on an earlier day, or before the start, and not back by this day."""
        return any(retired < day and not any(retired < rejoin <= day for rejoin in self._rejoins.get(car, []))
                   for _, retired in self._retirements.get(car, []))

    def is_absent(self, car, item, point):
        return any(order < point.order
                   and not any(retired < rejoin <= item.day for rejoin in self._rejoins.get(car, []))
                   for order, retired in self._retirements.get(car, []))

    def rejoined_after(self, car, day):
        return any(rejoin > day for rejoin in self._rejoins.get(car, []))

    # Readings

    def counted(self, car, item, point):
        """The reading that counts, or None."""
        group = self._standing.get((car, point.id))
        if not group or point.id in self.facts.off[car] or self.is_absent(car, item, point):
            return None
        return self._first(item, group)

    @staticmethod
    def _first(item, group):
        """Of a track and a marshal, the one of the item's clock; then in the contract's order."""
        mine = [reading for reading in group if reading.track == (item.keys.get("clock") == "track")]
        return (mine or group)[0]

    def is_doubtful(self, car, item, point):
        group = self._standing.get((car, point.id), [])
        if group and (point.id in self.facts.off[car] or self.is_absent(car, item, point)):
            return True
        return bool(group) and not all(reading.bears_out(self._first(item, group)) for reading in group)

    # Decisions

    def disqualified(self, car):
        return any(decision.car == car for decision in self._of_kind("disqualify"))

    def of_the_total(self, car):
        """The `penalty` and `fails` decisions without a point, as (fails, penalty)."""
        mine = sorted(self._named.get(car, []), key=facts_module.earliest)
        return [amount(decision) for decision in mine if not decision.point]

    def decided_in(self, car, item):
        """The `penalty` and `fails` decisions at an item's points or at it as a whole."""
        return sorted((decision for decision in self._named.get(car, [])
                       if decision.kind != "faults" and decision.point.split("/")[0] == item.id),
                      key=facts_module.earliest)

    def setting_aside(self, car, decision, item):
        """The ruling for which a decision in an item counts for nothing, or None."""
        return self.ruling(car, item.id) or self.ruling(car, decision.point)

    def of_item(self, car, item):
        """The `penalty` and `fails` decisions that count in an item, as (fails, penalty)."""
        return [amount(decision) for decision in self.decided_in(car, item)
                if not self.setting_aside(car, decision, item)]

    def told_faults(self, car, point):
        """The faults told by judges at a point, as counts by name."""
        return [facts_module.fault_counts(decision.value) for decision in self._named.get(car, [])
                if decision.kind == "faults" and decision.point == point.id]

    def is_named(self, car, scored):
        """Whether a `penalty`, `fails` or `faults` decision names a scored point."""
        alone = len(scored.item.scored) == 1 and scored.id == scored.item.id
        names = {scored.id, *(point.id for point in scored.item.points if alone)}
        return any(decision.point in names for decision in self._named.get(car, []))

    def _gather_named(self):
        found = {}
        for decision in self._decisions:
            if decision.kind in NAMING:
                found.setdefault(decision.car, []).append(decision)
        return found

    def _gather_rulings(self):
        found = {}
        for decision in self._decisions:
            if decision.kind in ("cancel", "notional", "waive"):
                found.setdefault((decision.car, decision.point), []).append(decision)
        return found

    def ruling(self, car, name):
        """The ruling on a point or whole test: ('cancel'|'notional'|'waive', value) or None.

        The value of a notional result is thousandths, or None where it is the average.
        """
        if (None, name) in self._rulings:
            return "cancel", 0
        mine = self._rulings.get((car, name), [])
        notional = [decision for decision in mine if decision.kind == "notional"]
        if notional:
            value = min(notional, key=facts_module.earliest).value
            return "notional", None if value == "average" else values.penalty(value)
        return ("waive", 0) if mine else None

    def is_cancelled(self, name):
        return (None, name) in self._rulings

    def _gather_allowances(self):
        found = {}
        for decision in self._of_kind("allowance"):
            order = self.facts.point_of[decision.point][1].order
            found.setdefault(decision.car, []).append((order, values.duration(decision.value)))
        return found

    def allowances(self, car, after, upto):
        """The allowances at points later than order `after`, up to and including `upto`."""
        return sum(value for order, value in self._allowances.get(car, []) if after < order <= upto)


def amount(decision):
    """What a `penalty` or `fails` decision adds, as (fails, penalty)."""
    return (int(decision.value), 0) if decision.kind == "fails" else (0, values.penalty(decision.value))
