# SPDX-License-Identifier: MIT
"""What one request sees of an event: the part of the route, and the facts that count in it.

A view is final or live, full or public, and may end at a point (`--after`). It answers which items are
there, which reading of a car counts, what is open, who is absent, and which rulings hold.
"""
import facts as facts_module
import values


class View:
    def __init__(self, facts, live=False, public=False, after=None):
        self.facts = facts
        self.live = live
        self.after = after
        self._closed = {d.point for d in facts.decisions if d.kind == "close"}
        visible = [item for item in facts.items if not (live and public and self._hidden(item))]
        self.whole = visible
        last = self._item_holding(after) if after else None
        self.items = [item for item in visible if last is None or item.index <= last.index]
        self.last_day = last.day if last else len(facts.event["days"])
        self.days = range(1, self.last_day + 1)
        self._decisions = self._seen_decisions({item.id for item in facts.items if item not in visible})
        self._standing = facts_module.standing(facts.readings)
        self._retirements = self._retirement_orders(last)
        self._rejoins = {}
        for decision in self._of_kind("rejoin"):
            self._rejoins.setdefault(decision.car, []).append(int(decision.value))
        self._rulings = self._gather_rulings()
        self._allowances = self._gather_allowances()
        self.memory = {}

    def remembered(self, key, make):
        """The value under `key`, made once; saves working out the same schedule again."""
        if key not in self.memory:
            self.memory[key] = make()
        return self.memory[key]

    # What is on the route

    def _hidden(self, item):
        usual = "closed" if item.kind == "regularity" else "at-once"
        if item.keys.get("reveal", usual) != "closed":
            return False
        return any(self.is_open(item, scored.reading) for scored in item.scored)

    def _item_holding(self, name):
        if name in self.facts.item_of:
            return self.facts.item_of[name]
        return self.facts.point_of[name][0]

    def _seen_decisions(self, hidden_items):
        """All but those that name a hidden item or its points; a retirement stays where it is."""
        return [decision for decision in self.facts.decisions
                if decision.kind == "retire" or decision.point.split("/")[0] not in hidden_items]

    def _of_kind(self, kind):
        return [decision for decision in self._decisions if decision.kind == kind]

    # Open and closed

    def is_open(self, item, point):
        """Whether a reading at this point may still come."""
        if not self.live:
            return False
        return not self._closed & {point.id, item.id, f"day:{item.day}"}

    def closed(self, scored):
        return not self.is_open(scored.item, scored.reading)

    def all_closed(self, items):
        return all(self.closed(scored) for item in items for scored in item.scored)

    # Absence

    def _retirement_orders(self, last):
        """For each car its retirements as (order of the last point before it, day), up to --after."""
        found = {}
        for decision in self._of_kind("retire"):
            if not decision.point:
                found.setdefault(decision.car, []).append((-1, 0))
                continue
            item = self._item_holding(decision.point)
            # At a hidden item it counts as one after the item before that is shown.
            shown = max((other.index for other in self.whole if other.index <= item.index), default=-1)
            if last is not None and shown > last.index:
                continue
            if decision.point == item.id:
                order = item.points[-1].order
            else:
                order = self.facts.point_of[decision.point][1].order
            found.setdefault(decision.car, []).append((order, item.day))
        return found

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
        if not group or self.is_absent(car, item, point):
            return None
        return group[0]

    def is_doubtful(self, car, item, point):
        group = self._standing.get((car, point.id), [])
        if group and self.is_absent(car, item, point):
            return True
        return len({reading.value for reading in group}) > 1

    # Decisions

    def disqualified(self, car):
        return any(decision.car == car for decision in self._of_kind("disqualify"))

    def added_penalty(self, car):
        return sum(self.added_penalties(car))

    def added_penalties(self, car):
        return [values.penalty(decision.value) for decision in self._of_kind("penalty") if decision.car == car]

    def _gather_rulings(self):
        found = {}
        for decision in self._decisions:
            if decision.kind in ("cancel", "notional", "waive"):
                found.setdefault((decision.car, decision.point), []).append(decision)
        return found

    def ruling(self, car, name):
        """The ruling on a point or whole test: ('cancel'|'notional'|'waive', value) or None."""
        if (None, name) in self._rulings:
            return "cancel", 0
        mine = self._rulings.get((car, name), [])
        notional = [decision for decision in mine if decision.kind == "notional"]
        if notional:
            return "notional", values.penalty(min(notional, key=facts_module.earliest).value)
        return ("waive", 0) if mine else None

    def is_cancelled(self, name):
        return (None, name) in self._rulings

    def _gather_allowances(self):
        found = {}
        for decision in self._of_kind("allowance"):
            order = self._order_of(decision.point)
            found.setdefault(decision.car, []).append((order, values.duration(decision.value)))
        return found

    def _order_of(self, name):
        return self.facts.point_of[name][1].order

    def allowances(self, car, after, upto):
        """The allowances at points later than order `after`, up to and including `upto`."""
        return sum(value for order, value in self._allowances.get(car, []) if after < order <= upto)
