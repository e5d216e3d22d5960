#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Every sentence of every card of the demo and of random events, worked out again: a reader with
a pocket calculator and the rules comes to the same figures. Only what a sentence names is used;
one that cannot be parsed is a failure."""
import json
import os
import re
import subprocess
import tempfile
import unittest
from fractions import Fraction
from pathlib import Path

import random_event

ROOT = Path(__file__).resolve().parent.parent.parent
CAIRN = os.environ.get("CAIRN", str(ROOT / "build" / "cairn"))
DEMO = ROOT / "seed-demo" / "merrow-2027"
SEEDS = int(os.environ.get("SENTENCE_SEEDS", "12"))
UNITS = {"minute": 60000, "second": 1000, "tenth": 100, "hundredth": 10, "millisecond": 1}

TIME = r"(\d+:\d\d(?::\d\d(?:\.\d+)?)?)"
SPAN = r"(-?(?=\d)(?:\d+ h)?(?: ?\d+ min)?(?: ?[\d.]+ s)?)"
NUMBER = r"(-?\d+(?:\.\d+)?)"
POINT = r"([A-Z]+\d+(?:/\w+)?)"


def time(text):
    """A time of day in ms."""
    hours, minutes, *seconds = text.split(":")
    return int((int(hours) * 3600 + int(minutes) * 60 + Fraction(seconds[0] if seconds else 0)) * 1000)


def span(text):
    """A duration in words in ms."""
    size = {"h": 3600000, "min": 60000, "s": 1000}
    sign = -1 if text.startswith("-") else 1
    return int(sign * sum(Fraction(number) * size[unit] for number, unit in re.findall(r"([\d.]+) (h|min|s)", text)))


def cut(value, unit):
    return value // UNITS[unit] * UNITS[unit]


class Sentence:
    """The part of a `why` that is still to be parsed."""

    def __init__(self, text):
        self.text = text

    def take(self, pattern):
        """What a pattern that matches next captures, the whole match where it captures nothing;
        None where it does not match."""
        found = re.match(pattern, self.text)
        if not found or not found.group(0):
            return None
        self.text = self.text[found.end():]
        return found.groups() or found.group(0, 0)

    def need(self, pattern):
        found = self.take(pattern)
        if found is None:
            raise AssertionError(f"{pattern} is not what stands at: {self.text}")
        return found


def rules_of(folder):
    """Each route item's own penalty rule, and whether the event is timed by schedule."""
    event = json.loads((Path(folder) / "event.json").read_text(encoding="utf-8"))
    rules = {}
    for item in event["route"]:
        rule = {"precision": "second", "early": 1, "late": 1, "missed": 0,
                **event["scoring"].get("defaults", {}).get(item["kind"], {}), **item.get("penalty", {})}
        rules[item["id"]] = {"per": rule["precision"], **rule}
    return rules, event["scoring"].get("timing") == "scheduled"


class Card:
    """One car's card, sentence by sentence."""

    def __init__(self, folder, check, points):
        self.rules, self.scheduled = rules_of(folder)
        self.check = check
        self.points = {point["point"]: point for point in points}

    def rule(self, point):
        return self.rules[point.split("/")[0]]

    def rounded(self, value, read, unit):
        """“, counted as X” stands where truncation changed what was read, and is right."""
        self.check(value, cut(read, unit))

    def clock(self, sentence, unit):
        """A time of day as read and as counted."""
        read, counted = sentence.need(TIME + "(?:, counted as " + TIME + ")?")
        value = time(counted or read)
        self.rounded(value, time(read), unit)
        return value

    def measured(self, sentence, unit):
        read, counted = sentence.need(SPAN + "(?:, counted as " + SPAN + ")?")
        value = span(counted or read)
        self.rounded(value, span(read), unit)
        return value

    def price(self, sentence, rule, deviation):
        """The cost of “3 s late at 1 a second = 3, held to the cap of 2”, in thousandths."""
        if sentence.take("on time|no difference"):
            self.check(deviation, 0)
            return 0
        size, side = sentence.need(SPAN + " (early|late|slower|faster)")
        early = side in ("early", "faster")
        self.check(span(size), abs(deviation))
        self.check(early, deviation < 0)
        charged = span(size)
        grace = sentence.take(", within the grace of " + SPAN + ": nothing")
        if grace:
            self.check(charged <= span(grace[0]), True)
            return 0
        deducted = sentence.take(", less the grace of " + SPAN + " = " + SPAN)
        if deducted:
            self.check(span(deducted[1]), charged - span(deducted[0]))
            charged = span(deducted[1])
        units = sentence.take(r", (\d+) whole (?:\w+)")
        none = sentence.take(r", no whole (\w+): 0 fails")
        if none:
            self.check((none[0], charged < UNITS[rule["per"]]), (rule["per"], True))
            self.check(isinstance(rule["early" if early else "late"], dict), True)
            return 0
        fails = sentence.take(r": (\d+) fails?")
        if fails:
            self.check(charged >= UNITS[rule["per"]], True)
            self.check({"fails": int(fails[0])}, rule["early" if early else "late"])
            return {"fails": int(fails[0])}
        rate, per, cost = sentence.need(" at " + NUMBER + r" a (\w+) = " + NUMBER)
        self.check((Fraction(rate), per), (Fraction(str(rule["early" if early else "late"])), rule["per"]))
        count = charged // UNITS[per]
        self.check(count, int(units[0]) if units else Fraction(charged, UNITS[per]))
        self.check(Fraction(cost), count * Fraction(rate))
        return self.capped(sentence, Fraction(cost))

    def capped(self, sentence, cost):
        cap = sentence.take(", held to the cap of " + NUMBER)
        if not cap:
            return cost
        self.check(cost > Fraction(cap[0]), True)
        return Fraction(cap[0])

    def too_late(self, sentence, deviation):
        limit = sentence.take(SPAN + " (?:late|slower) is beyond the limit of " + SPAN)
        if limit:
            self.check(span(limit[0]), deviation)
            self.check(deviation > span(limit[1]), True)
        return limit is not None

    def left(self, sentence):
        """The start of the day, or when and why a control was left; None where neither comes
        next."""
        start = sentence.take(r"(?:Start|the start of the day) " + TIME)
        if start:
            return time(start[0])
        found = sentence.take("[Ll]eft " + POINT + " at " + TIME)
        if not found:
            return None
        at = time(found[1])
        if not sentence.take(r" \(" + found[0] + r"/out\)"):
            halt = sentence.take(r" \(arrival " + TIME + r" \+ halt " + SPAN + r"\)")
            arrival = time(halt[0]) if halt else at
            self.check(at, arrival + (span(halt[1]) if halt else 0))
            self.check(time(self.points[found[0]]["actual"]), arrival)
        return at

    def allowances(self, sentence):
        found = sentence.take(", allowance " + SPAN)
        return span(found[0]) if found else 0

    # The kinds: each returns what the sentence says that the point costs, None where the time says nothing.

    def time_control(self, sentence, rule, point):
        at = self.left(sentence)
        if at is None:
            return None
        due = at + span(sentence.need(", " + SPAN + " allowed")[0])
        halts = sentence.take(", halts " + SPAN)
        due += (span(halts[0]) if halts else 0) + self.allowances(sentence)
        from_here = due  # what units are counted from, and early is measured against
        carried = sentence.take(": scheduled " + TIME + ", " + SPAN + " late carried from " + POINT)
        if carried:
            self.check((self.scheduled, time(carried[0])), (True, due))
            due += span(carried[1])
        self.check(time(sentence.need(": due " + TIME + r"\. ?")[0]), due)
        arrived = sentence.take("Arrived " + TIME + "(?:, counted as " + TIME + ")?: ")
        if not arrived:
            return None
        counted = time(arrived[1] or arrived[0])
        self.check(counted, from_here + cut(time(arrived[0]) - from_here, rule["precision"]))
        self.check((time(point["due"]), time(point["actual"])), (due, counted))
        if self.scheduled:
            return self.scheduled_control(sentence, rule, counted, from_here, due)
        limit = sentence.take("later than scheduled " + TIME + r" \(start " + TIME + r" \+ " + SPAN + " allowed"
                              r"(?: \+ halts " + SPAN + r")?(?: \+ allowance " + SPAN + r")?\) by more than " + SPAN)
        if limit:
            scheduled = time(limit[1]) + sum(span(part or "") for part in limit[2:5])
            self.check(time(limit[0]), scheduled)
            self.check(counted > scheduled + span(limit[5]), True)
            return None
        return None if self.too_late(sentence, counted - due) else self.price(sentence, rule, counted - due)

    def scheduled_control(self, sentence, rule, counted, scheduled, due):
        """What an arrival costs between, before and after the scheduled and the due time."""
        limit = sentence.take("later than scheduled " + TIME + " by more than " + SPAN)
        if limit:
            self.check(time(limit[0]), scheduled)
            self.check(counted > scheduled + span(limit[1]), True)
            return None
        if sentence.take("between scheduled and due, no penalty"):
            self.check(scheduled <= counted < due, True)
            return 0
        against = scheduled if counted < scheduled else due
        if sentence.take("against the scheduled time "):
            self.check(counted < scheduled, True)
        return None if self.too_late(sentence, counted - against) else self.price(sentence, rule, counted - against)

    def nothing_to_measure_from(self, sentence):
        return sentence.take("(?:Passed|Finished) " + TIME + ", but (?:there is no start to measure from|"
                             r"the passage before has no time of day)\. ")

    def base(self, sentence, rule):
        """(time, point) that a check or pad is measured from."""
        before = sentence.take("From " + POINT + " at ")
        if before:
            return self.clock(sentence, rule["precision"]), before[0]
        if not sentence.take("Start "):
            return None, None
        start = self.clock(sentence, rule["precision"])
        if sentence.take(": "):
            made = self.left(sentence)
            for part in (" plus ", " plus allowance "):
                more = sentence.take(part + SPAN)
                made += span(more[0]) if more else 0
            self.check(start, cut(made, rule["precision"]))
        return start, None

    def ideal(self, sentence, rule, before):
        given = sentence.take("given ideal " + SPAN)
        if given:
            ideal = span(given[0])
        else:
            hours = Fraction(0)
            while part := sentence.take(r"(?: \+ )?" + NUMBER + " (?:km|mi) at " + NUMBER):
                hours += Fraction(part[0]) / Fraction(part[1])
            ideal = span(sentence.need(" = ideal " + SPAN + r" \(to the \w+\)")[0])
            units = hours * 3600000 / UNITS[rule["precision"]]
            self.check(ideal, int(units + Fraction(1, 2)) * UNITS[rule["precision"]])
        less = sentence.take(", less " + SPAN + " to " + POINT + " = " + SPAN)
        self.check(less is not None, before is not None)
        if less:
            self.check((span(less[2]), less[1]), (ideal - span(less[0]), before))
            return span(less[2])
        return ideal

    def regularity(self, sentence, rule, point):
        self.nothing_to_measure_from(sentence)
        base, before = self.base(sentence, rule)
        if base is None:
            return None
        sentence.need("; ")
        return self.passed(sentence, rule, point, base + self.ideal(sentence, rule, before))

    def passed(self, sentence, rule, point, due):
        due += self.allowances(sentence)
        self.check(time(sentence.need(": due " + TIME + r"\. Passed ")[0]), due)
        at = self.clock(sentence, rule["precision"])
        self.check((time(point["due"]), time(point["actual"])), (due, at))
        sentence.need(": ")
        return None if self.too_late(sentence, at - due) else self.price(sentence, rule, at - due)

    def set_time(self, sentence, rule, point):
        self.nothing_to_measure_from(sentence)
        target = sentence.take("Target " + SPAN)
        if not target:
            base, _ = self.base(sentence, rule)
            if base is None:
                return None
            return self.passed(sentence, rule, point, base + span(sentence.need(", target " + SPAN)[0]))
        due = span(target[0]) + self.allowances(sentence)
        sentence.need(": measured ")
        deviation = self.measured(sentence, rule["precision"]) - due
        sentence.need(": ")
        return None if self.too_late(sentence, deviation) else self.price(sentence, rule, deviation)

    def special_test(self, sentence, rule, point):
        if self.nothing_to_measure_from(sentence):
            return None
        if sentence.take("Measured "):
            raw = self.measured(sentence, rule["precision"])
        elif sentence.take("Start "):
            start = self.clock(sentence, rule["precision"])
            sentence.need(", finish ")
            finish = self.clock(sentence, rule["precision"])
            back = sentence.take(", before the start by ")
            raw = span(sentence.need(("" if back else ": ") + SPAN)[0]) * (-1 if back else 1)
            self.check(raw, finish - start)
        else:
            return None
        held = sentence.take(r", (?:raised to the bogey|held to the maximum|[\w-]+: the maximum) " + SPAN)
        raw = span(held[0]) if held else raw
        no_more = sentence.take(", and no other fault is added")
        over = sentence.take("; (?:over the bogey of|behind the best of the class,|behind the best,) " + SPAN +
                             r"(?: \((?:its own|car \d+)\))?: " + SPAN)
        if over:
            self.check(span(over[1]), raw - span(over[0]))
            raw = span(over[1])
        sentence.need("; ")
        fails = self.time_fails(sentence, rule, max(raw, 0))
        cost = 0 if fails is not None else self.time_price(sentence, rule, max(raw, 0))
        while fault := sentence.take(r" \+ (\d+) × [\w-]+ at " + NUMBER):
            self.check(no_more, None)
            cost += int(fault[0]) * Fraction(fault[1])
        if fails is None or cost > 0:
            self.check(Fraction(sentence.need(" = " + NUMBER)[0]), cost)
        cost = self.capped(sentence, cost)
        return {"fails": fails, "penalty": cost} if fails else cost

    def time_fails(self, sentence, rule, charged):
        """Fails for the time of a special test, None where it costs penalty."""
        fails = sentence.take(r"(?:less the grace of " + SPAN + r": )?(\d+) fails? for time")
        if not fails:
            return None
        charged -= span(fails[0]) if fails[0] else 0
        self.check(int(fails[1]), rule["late"]["fails"] if charged >= UNITS[rule["per"]] else 0)
        return int(fails[1])

    def time_price(self, sentence, rule, charged):
        """What the time of a special test costs, before faults and cap."""
        grace = sentence.take("within the grace of " + SPAN + ": nothing for time")
        if grace:
            self.check(charged <= span(grace[0]), True)
            return 0
        deducted = sentence.take("less the grace of " + SPAN + ": ")
        charged -= span(deducted[0]) if deducted else 0
        units, rate, per = sentence.need(r"(\d+) at " + NUMBER + r" a (\w+)")
        self.check((int(units), Fraction(rate)), (charged // UNITS[per], Fraction(str(rule["late"]))))
        return int(units) * Fraction(rate)

    def lap(self, sentence, rule):
        if sentence.take("measured "):
            return self.measured(sentence, rule["precision"])
        sentence.need("from ")
        start = self.clock(sentence, rule["precision"])
        sentence.need(" to ")
        end = self.clock(sentence, rule["precision"])
        self.check(span(sentence.need(" = " + SPAN)[0]), end - start)
        return end - start

    def consistency(self, sentence, rule, point):
        if self.nothing_to_measure_from(sentence) or not sentence.take("Lap "):
            return None
        lap = self.lap(sentence, rule)
        if sentence.take(r", but there is no reference \((?:the [\w ]+)\)\. "):
            return None
        sentence.need("; reference: ")
        if sentence.take("the first lap, "):
            reference = self.lap(sentence, rule)
        elif sentence.take("the nominated time, "):
            reference = self.measured(sentence, rule["precision"])
        else:
            total, count, mean = sentence.need("the mean of the laps read, " + SPAN + r" ÷ (\d+), cut to the \w+: " +
                                               SPAN)
            reference = span(mean)
            self.check(reference, cut(span(total) // int(count), rule["precision"]))
        sentence.need(": ")
        if self.too_late(sentence, lap - reference):
            return None
        return self.price(sentence, rule, lap - reference)

    def lap_faults(self, sentence):
        """Faults told with a lap: they are added to the test, not to the point."""
        total = Fraction(0)
        while sentence.take("Faults(?: at " + POINT + ")?: "):
            cost = Fraction(0)
            while fault := sentence.take(r"(?: \+ )?(\d+) × [\w-]+ at " + NUMBER):
                cost += int(fault[0]) * Fraction(fault[1])
            self.check(Fraction(sentence.need(" = " + NUMBER + r", added to the test\. ?")[0]), cost)
            total += cost
        return total

    def passage_control(self, sentence, rule, point):
        del rule, point
        return None if sentence.take("Seen(?: at " + TIME + ")?") is None else 0

    def point(self, point):
        """Parses the sentence of a point, which must come to the point's cost. Returns the faults
        that it adds to the test."""
        sentence = Sentence(point["why"])
        kind = getattr(self, point["kind"].replace("-", "_"))
        rule = self.rule(point["point"])
        cost = kind(sentence, rule, point)
        sentence.take(r"\. ?")
        faults = self.lap_faults(sentence)
        cost = self.outcome(sentence, rule, cost)
        cost = self.ruling(sentence, cost)
        dropped = sentence.take(r"The test is dropped as the car's costliest: (?:it|this " + NUMBER +
                                r") does not count\.")
        self.check(dropped is not None, point["state"] == "dropped")
        if dropped:
            self.check(Fraction(dropped[0] or 0), cost)
        self.check(sentence.text, "")
        self.check(cost is None, False)
        if not isinstance(cost, dict):
            cost = {"penalty": cost}
        self.check((Fraction(point["penalty"]), point["fails"]), (cost.get("penalty", 0), cost.get("fails", 0)))
        return faults

    def outcome(self, sentence, rule, cost):
        """What is awaited, missed or absent, where the kind said nothing of a cost."""
        if sentence.take(r"(?:No reading yet; the point is still open and costs nothing so far|Awaited: it costs "
                         r"nothing so far|Out of the event here; nothing is charged so far)\. ?"):
            self.check(cost, None)
            return 0
        missed = sentence.take("(?:No reading: missed|Counts as missed|Out of the event here: charged as missed)[,:] " +
                               NUMBER + r"(?: fails?)?(?:, in the day's absence and not in the test)?\. ?")
        if not missed:
            return cost
        self.check(cost, None)
        if isinstance(rule["missed"], dict):
            self.check({"fails": int(missed[0])}, rule["missed"])
            return {"fails": int(missed[0])}
        self.check(Fraction(missed[0]), Fraction(str(rule["missed"])))
        return Fraction(missed[0])

    def ruling(self, sentence, cost):
        if sentence.take(r"(?:This point|The whole test) is (?:cancelled for everybody|waived for this car): .+?\. "
                         r"Costs nothing\. ?"):
            return 0
        given = sentence.take("(?:This point|The whole test) is given a notional result of " + NUMBER +
                              r": .+?\.(?: (?=It|The)|$)")
        if not given:
            return cost
        return 0 if sentence.take(r"It stands once, at the first point\. ?") else Fraction(given[0])


class Sentences(unittest.TestCase):
    def card(self, folder, number, *view):
        done = subprocess.run([CAIRN, "score", str(folder), "--card", str(number), "--format", "json", *view],
                              capture_output=True, check=True)
        return json.loads(done.stdout)

    def redo(self, folder, number, *view):
        """Works a whole card out again; returns how many points it has."""
        told = self.card(folder, number, *view)
        card = Card(folder, self.assertEqual, told["points"])
        faults = {}
        for point in told["points"]:
            with self.subTest(folder=str(folder), view=view, car=number, point=point["point"], why=point["why"]):
                test = point["point"].split("/")[0]
                faults[test] = faults.get(test, 0) + card.point(point)
        self.totals(told, faults)
        return len(told["points"])

    def totals(self, told, faults):
        """Faults named with laps are those of the test, and the parts of the total add up to it."""
        self.assertEqual(sum(Fraction(part["penalty"] or 0) for part in told["total"]), Fraction(told["penalty"]))
        for part in told["total"]:
            found = re.search(r"faults " + NUMBER, part["why"])
            self.assertEqual(Fraction(found.group(1)) if found else 0, faults.get(part["of"], 0), part)

    def test_the_cards_of_the_demo(self):
        self.assertGreater(sum(self.redo(DEMO, number) for number in range(1, 173)), 13000)

    def test_the_cards_of_random_events(self):
        """Every rule, live events and decisions of every kind."""
        for seed in range(SEEDS):
            with tempfile.TemporaryDirectory() as folder:
                cars = random_event.make(seed, Path(folder)).cars
                for number in cars:
                    for view in ((), ("--live",)):
                        self.redo(folder, number, *view)


if __name__ == "__main__":
    unittest.main()
