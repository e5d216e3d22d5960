# SPDX-License-Identifier: MIT
"""Special tests: elapsed time between bogey and maximum, with faults, in one attempt or several
(contract, section 3)."""
from dataclasses import dataclass

import bests
import values
from charge import Outcome, capped, priced, scored
from faults import Worth
from route import Cost


@dataclass
class Attempt:
    """One attempt: state `done`, `awaiting` or `missed`, its held elapsed, what it is measured from, its cost."""
    state: str
    held: int | None = None
    due: int | None = None
    penalty: int = 0
    fails: int = 0
    faulty: bool = False


def outcome(view, car, item):
    """The outcome of the test as one scored point."""
    tries = attempts(view, car, item)
    numbers = range(len(tries))
    read = [number for number in numbers if bests.run(view, car, item, number).read]
    unreached = bool(read) and all(bests.is_missed_as_read(view, car, item, number) for number in read)
    found = Outcome(read=bool(read), unreached=unreached)
    if is_summed(item):
        return summed(view, car, item, tries, found)
    counting = that_counts(item, tries)
    if counting is not None:
        return shown(found, [counting], counting.due)
    if any(attempt.state == "awaiting" for attempt in tries):
        found.state = "awaiting"
        return found
    return missed_once(view, car, item, found)


def is_summed(item):
    return item.keys.get("counts") == "sum" and len(item.attempts) > 1


def summed(view, car, item, tries, found):
    """All attempts together; each one that was not completed costs `missed`."""
    done = [attempt for attempt in tries if attempt.state == "done"]
    found = shown(found, done, None)
    if len(done) < len(tries):
        found.actual = found.deviation = None
    cost = missed_cost(view, car, item)
    lost = sum(attempt.state == "missed" for attempt in tries)
    found.penalty += lost * cost.penalty
    found.fails += lost * cost.fails
    if any(attempt.state == "awaiting" for attempt in tries):
        found.state = "awaiting"
    elif not done:
        found.state = "missed"
    elif lost:
        found.state = "scored"
    return found


def shown(found, done, due):
    """The outcome of completed attempts together."""
    found.penalty = sum(attempt.penalty for attempt in done)
    found.fails = sum(attempt.fails for attempt in done)
    if done and all(attempt.held is not None for attempt in done):
        found.actual = sum(attempt.held for attempt in done)
        found.due, found.deviation = due, found.actual - (due or 0)
    found = scored(found)
    if any(attempt.faulty for attempt in done):
        found.state = "scored"
    return found


def missed_once(view, car, item, found):
    cost = missed_cost(view, car, item)
    found.state, found.penalty, found.fails = "missed", cost.penalty, cost.fails
    return found


def that_counts(item, tries):
    """The attempt that counts, or None where none was completed."""
    done = [attempt for attempt in tries if attempt.state == "done"]
    if item.keys.get("counts") == "last":
        return done[-1] if done else None
    return min(done, key=lambda attempt: (attempt.fails, attempt.penalty, attempt.held is None, attempt.held or 0),
               default=None)


def tie_time(view, car, item):
    """The held elapsed of the attempt that counts, or the sum where all count; None where there is none."""
    tries = attempts(view, car, item)
    if is_summed(item):
        return None if any(attempt.held is None for attempt in tries) else sum(attempt.held for attempt in tries)
    counting = that_counts(item, tries)
    return counting.held if counting else None


# One attempt

def attempts(view, car, item):
    return view.remembered(("attempts", car, item.id), lambda: [
        one_attempt(view, car, item, number) for number in range(len(item.attempts))])


def one_attempt(view, car, item, number):
    here, finish = bests.run(view, car, item, number), item.attempts[number][1]
    if view.is_absent(car, item, finish):
        return Attempt("missed" if is_charged(view, car, item, finish) else "awaiting")
    if bests.is_missed_as_read(view, car, item, number):
        return Attempt("missed")
    if here.elapsed is None:
        return Attempt("awaiting" if view.is_open(item, here.lacks) else "missed")
    if not here.told.maximum:
        limit = bests.maximum(view, car, item)
        held = here.elapsed if limit is None else min(here.elapsed, limit)
        return priced_attempt(view, car, item, held, here.told)
    if not bests.has_maximum(view, car, item):
        return Attempt("awaiting" if view.is_open(item, finish) else "missed")
    found = at_maximum(view, car, item)
    found.faulty = True
    return found


def at_maximum(view, car, item):
    """An attempt that takes the test's maximum, without faults."""
    held = bests.maximum(view, car, item)
    if held is not None:
        return priced_attempt(view, car, item, held, Worth())
    return behind_best_result(view, car, item, bests.most_result(view, car, item), Attempt("done"))


def priced_attempt(view, car, item, held, told):
    """The cost of a held elapsed by the test's method, with its faults."""
    found = Attempt("done", held=held, faulty=told.any)
    if bests.by_result(item):
        cost = bests.result(item, held, told)
        most = bests.most_result(view, car, item)
        found.due = None if bests.is_by_best(item) else bests.base(item) or None
        found.fails = priced(item.rule, item.rule.late, max(0, held - bests.base(item)))[1] + told.fails
        return behind_best_result(view, car, item, cost if most is None else min(cost, most), found)
    found.due = measured_from(view, car, item, held)
    penalty, fails = priced(item.rule, item.rule.late, max(0, held - (found.due or 0)))
    found.penalty = held_to_cap(item, penalty + told.penalty)
    found.fails = fails + told.fails
    return found


def behind_best_result(view, car, item, cost, found):
    """With `behind-best` what is charged is the difference to the smallest cost; else the cost itself."""
    if item.keys.get("method") == "behind-best":
        least = bests.best(view, car, item, item.keys.get("scope", "overall"))
        cost = 0 if least is None else max(0, cost - least)
    found.penalty = held_to_cap(item, cost)
    return found


def measured_from(view, car, item, held):
    """The time beyond which the held elapsed is charged; None charges all of it."""
    method = item.keys.get("method", "elapsed")
    if method == "over-bogey":
        return values.duration(item.keys["bogey"])
    if method == "behind-best":
        # A time may be better than the best, where that is without faults; it is charged nothing.
        found = bests.best(view, car, item, item.keys.get("scope", "overall"))
        return held if found is None else min(held, found)
    return None


def held_to_cap(item, penalty):
    return capped(capped(penalty, item.rule.cap_late), item.rule.cap)


# Missed and absent

def missed_cost(view, car, item):
    """What a missed test, or attempt where they are added up, costs."""
    if not item.rule.missed.maximum:
        return item.rule.missed
    if not bests.has_maximum(view, car, item):
        return Cost()
    found = at_maximum(view, car, item)
    return Cost(found.penalty, found.fails)


def is_charged(view, car, item, finish):
    """Whether an absent attempt costs something by now."""
    return not view.is_open(item, finish) or view.rejoined_after(car, item.day)


def absent_cost(view, car, item):
    """What a car that was absent at every attempt is charged."""
    charged = sum(is_charged(view, car, item, finish) for _, finish in item.attempts)
    cost = missed_cost(view, car, item)
    if is_summed(item):
        return Cost(charged * cost.penalty, charged * cost.fails)
    return cost if charged == len(item.attempts) else Cost()
