#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Every sentence of every card of the demo and of random events, worked out again: a reader with
a pocket calculator and the rules comes to the same figures. Only what a sentence names is used;
one that cannot be parsed is a failure."""
import json
import os
import random
import re
import subprocess
import tempfile
import unittest
from fractions import Fraction
from pathlib import Path

import random_event
import random_more
from sentence_prices import NUMBER, POINT, PRECISION, SPAN, TIME, Prices, Sentence, cut, named, span, time, unit_of

ROOT = Path(__file__).resolve().parent.parent.parent
CAIRN = os.environ.get("CAIRN", str(ROOT / "build" / "cairn"))
DEMO = ROOT / "seed-demo" / "merrow-2027"
SEEDS = int(os.environ.get("SENTENCE_SEEDS", "12"))
def rules_of(folder):
    """Each route item's own penalty rule, and whether the event is timed by schedule."""
    event = json.loads((Path(folder) / "event.json").read_text(encoding="utf-8"))
    rules = {}
    for item in event["route"]:
        rule = {"precision": "second", "early": 1, "late": 1, "missed": 0,
                **event.get("scoring", {}).get("defaults", {}).get(item["kind"], {}), **item.get("penalty", {})}
        rules[item["id"]] = {"per": rule["precision"], **rule}
        for n, point in enumerate(item.get("checks", item.get("targets", []))):
            own = {**rule, **(point.get("penalty", {}) if isinstance(point, dict) else {})}
            rules[f"{item['id']}/{n + 1}"] = {"per": own["precision"], **own}
    return rules, event.get("scoring", {}).get("timing") == "scheduled"


class Card(Prices):
    """One car's card, sentence by sentence."""

    def __init__(self, folder, check, points):
        self.rules, self.scheduled = rules_of(folder)
        self.check = check
        self.points = {point["point"]: point for point in points}

    def rule(self, point):
        """The rule of a scored point: its own, or its item's."""
        return self.rules.get(point) or self.item_rule(point)

    def item_rule(self, point):
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
        return None if self.past_limit(sentence, rule, counted - due) else self.price(sentence, rule, counted - due)

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
        return None if self.past_limit(sentence, rule, counted - against) else self.price(sentence, rule, counted - against)

    def nothing_to_measure_from(self, sentence):
        return sentence.take("(?:Passed|Finished) " + TIME + ", but (?:there is no start to measure from|"
                             r"the passage before has no time of day)\. ")

    def base(self, sentence, point):
        """(time, point) that a check or pad is measured from."""
        before = sentence.take("From " + POINT + " at ")
        if before:
            return self.clock(sentence, self.rule(before[0])["precision"]), before[0]
        if not sentence.take("Start "):
            return None, None
        rule = self.item_rule(point["point"])
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
            said, down, name, length = sentence.need(" = ideal " + SPAN + r" \((cut )?" + PRECISION + r"\)")
            ideal, unit = span(said), unit_of(rule["precision"])
            self.check(named(name, length), unit)
            self.check(ideal, int(hours * 3600000 / unit + (0 if down else Fraction(1, 2))) * unit)
        less = sentence.take(", less " + SPAN + " to " + POINT + " = " + SPAN)
        self.check(less is not None, before is not None)
        if less:
            self.check((span(less[2]), less[1]), (ideal - span(less[0]), before))
            return span(less[2])
        return ideal

    def regularity(self, sentence, rule, point):
        self.nothing_to_measure_from(sentence)
        base, before = self.base(sentence, point)
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
        return None if self.past_limit(sentence, rule, at - due) else self.price(sentence, rule, at - due)

    def set_time(self, sentence, rule, point):
        self.nothing_to_measure_from(sentence)
        if re.match(r"(?:Passed|Measured) [^;]*? before it was not read", sentence.text):
            self.lost_pad(sentence, rule, point)
            return None
        target = sentence.take("Target " + SPAN)
        if not target:
            base, _ = self.base(sentence, point)
            if base is None:
                return None
            return self.passed(sentence, rule, point, base + span(sentence.need(", target " + SPAN)[0]))
        due = span(target[0]) + self.allowances(sentence)
        sentence.need(": measured ")
        deviation = self.measured(sentence, rule["precision"]) - due
        sentence.need(": ")
        return None if self.past_limit(sentence, rule, deviation) else self.price(sentence, rule, deviation)

    def lost_pad(self, sentence, rule, point):
        """A pad that was read and is lost with the one before."""
        if sentence.take("Measured "):
            self.measured(sentence, rule["precision"])
        else:
            sentence.need("Passed ")
            self.clock(sentence, rule["precision"])
        before = sentence.need(", but " + POINT + r" before it was not read, which loses this one too\. ")[0]
        self.check(self.points[before]["actual"], None)
        item, number = point["point"].split("/")
        self.check(before, f"{item}/{int(number) - 1}")

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
        cost = self.time_price(sentence, rule, max(raw, 0))
        fails = cost["fails"] if isinstance(cost, dict) else None
        if self.is_fails(rule["late"]):
            fails, cost = fails or 0, 0
        while fault := sentence.take(r" \+ (\d+) × [\w-]+ at " + NUMBER):
            self.check(no_more, None)
            cost += int(fault[0]) * Fraction(fault[1])
        if fails is None or cost > 0:
            self.check(Fraction(sentence.need(" = " + NUMBER)[0]), cost)
        cost = self.capped(sentence, cost)
        return {"fails": fails, "penalty": cost} if fails else cost

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
            total, count, *_, mean = sentence.need("the mean of the laps read, " + SPAN + r" ÷ (\d+), cut " +
                                                   PRECISION + ": " + SPAN)
            reference = span(mean)
            self.check(reference, cut(span(total) // int(count), rule["precision"]))
        sentence.need(": ")
        if self.past_limit(sentence, rule, lap - reference):
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


    def test_units_steps_and_own_rules(self):
        """The cards of random events whose rules have begun units, steps, amounts once and limits,
        whose checks and pads have rules of their own, whose ideals are cut and pads are lost."""
        for seed in range(SEEDS):
            dice = random.Random(seed)
            with tempfile.TemporaryDirectory() as folder:
                cars = random_event.make(seed, Path(folder)).cars
                path = Path(folder) / "event.json"
                event = json.loads(path.read_text(encoding="utf-8"))
                for item in event["route"]:
                    item["penalty"] = {**item.get("penalty", {}), **random_more.more_of_a_rule(dice, item["kind"], 0.5)}
                    if item["kind"] in random_more.SECTIONS:
                        random_more.enrich_section(dice, item, False)
                    random_more.make_steps_fit(event, item)
                path.write_text(json.dumps(event), encoding="utf-8")
                for number in cars:
                    self.redo(folder, number)


if __name__ == "__main__":
    unittest.main()
