# SPDX-License-Identifier: MIT
"""What the sentences of a card say of times, units and costs, read and worked out again."""
import re
from fractions import Fraction

UNITS = {"minute": 60000, "second": 1000, "tenth": 100, "hundredth": 10, "millisecond": 1}

TIME = r"(\d+:\d\d(?::\d\d(?:\.\d+)?)?)"
SPAN = r"(-?(?=\d)(?:\d+ h)?(?: ?\d+ min)?(?: ?[\d.]+ s)?)"
NUMBER = r"(-?\d+(?:\.\d+)?)"
POINT = r"([A-Z]+\d+(?:/\w+)?)"
PRECISION = r"to (?:the (\w+)|" + SPAN + ")"


def time(text):
    """A time of day in ms."""
    hours, minutes, *seconds = text.split(":")
    return int((int(hours) * 3600 + int(minutes) * 60 + Fraction(seconds[0] if seconds else 0)) * 1000)


def span(text):
    """A duration in words in ms."""
    size = {"h": 3600000, "min": 60000, "s": 1000}
    sign = -1 if text.startswith("-") else 1
    return int(sign * sum(Fraction(number) * size[unit] for number, unit in re.findall(r"([\d.]+) (h|min|s)", text)))


def unit_of(said):
    """A unit of time or a duration of event.json, in ms."""
    if said in UNITS:
        return UNITS[said]
    return time(said) if ":" in str(said) else int(Fraction(str(said)) * 1000)


def named(name, length):
    """The unit of a word, or of a duration in words where there is none, in ms."""
    return UNITS[name] if name in UNITS else span(length)


def cut(value, unit):
    return value // unit_of(unit) * unit_of(unit)


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


class Prices:
    """The part of a card's reader that knows penalty rules; `check(said, right)` compares."""

    def price(self, sentence, rule, deviation):
        """The cost of “3 s late at 1 a second = 3, held to the cap of 2”, in points or fails."""
        if sentence.take("on time|no difference"):
            self.check(deviation, 0)
            return 0
        size, word = sentence.need(SPAN + " (early|late|slower|faster)")
        side = "early" if word in ("early", "faster") else "late"
        self.check(span(size), abs(deviation))
        self.check(side == "early", deviation < 0)
        charged = span(size)
        grace = sentence.take(", within the grace of " + SPAN + ": nothing")
        if grace:
            self.check(charged <= span(grace[0]), True)
            return 0
        deducted = sentence.take(", less the grace of " + SPAN + " = " + SPAN)
        if deducted:
            self.check(span(deducted[1]), charged - span(deducted[0]))
            charged = span(deducted[1])
        told = self.units(sentence, rule, charged, ", ")
        if self.is_fails(rule[side]):
            return self.fails(sentence, rule, rule[side], charged, r": (\d+) fails?")
        if not told and "once" not in self.as_dict(rule[side]):
            self.check(self.count(rule, charged) * unit_of(rule["per"]), charged)
        sentence.need(" at ")
        cost = self.charge(sentence, rule, rule[side], self.count(rule, charged))
        self.check(Fraction(sentence.need(" = " + NUMBER)[0]), cost)
        return self.capped(sentence, cost)

    def time_price(self, sentence, rule, charged):
        """What the time of a special test costs, before faults and cap."""
        grace = sentence.take("within the grace of " + SPAN + ": nothing for time")
        if grace:
            self.check(charged <= span(grace[0]), True)
            return 0
        deducted = sentence.take("less the grace of " + SPAN + ": ")
        charged -= span(deducted[0]) if deducted else 0
        late = rule["late"]
        if self.is_fails(late):
            return self.fails(sentence, rule, late, charged, r"(\d+) fails? for time")
        if "once" in self.as_dict(late) and sentence.take("nothing for time"):
            self.check(charged, 0)
            return 0
        if self.units(sentence, rule, charged, ""):
            sentence.need(" at ")
        elif "once" not in self.as_dict(late):
            self.check(int(sentence.need(r"(\d+) at ")[0]), self.count(rule, charged))
        return self.charge(sentence, rule, late, self.count(rule, charged))

    @staticmethod
    def as_dict(cost):
        return cost if isinstance(cost, dict) else {}

    def is_fails(self, cost):
        return "fails" in self.as_dict(cost)

    def fails(self, sentence, rule, cost, charged, pattern):
        got = int(sentence.need(pattern)[0])
        self.check(got, cost["fails"] if self.count(rule, charged) else 0)
        return {"fails": got} if got else 0

    @staticmethod
    def count(rule, charged):
        """Units of a time: whole ones, or those begun."""
        per = unit_of(rule["per"])
        return -(-charged // per) if rule.get("part") else charged // per

    def units(self, sentence, rule, charged, before):
        """True where the units are told: “3 whole minutes”, “no begun unit of 0.6 s”."""
        told = sentence.take(before + r"(\d+|no) (whole|begun) ([a-z]+?)s?(?: of " + SPAN + r")?(?= at |:)")
        if told:
            self.check(0 if told[0] == "no" else int(told[0]), self.count(rule, charged))
            self.check(told[1] == "begun", bool(rule.get("part")))
            self.check(named(told[2], told[3]), unit_of(rule["per"]))
        return told is not None

    def charge(self, sentence, rule, cost, count):
        """What so many units cost, as it is told: a rate, so much once, or steps and their sum."""
        if isinstance(cost, list):
            return self.steps(sentence, rule, cost, count)
        if isinstance(cost, dict):
            amount = Fraction(sentence.need(NUMBER + " once")[0])
            self.check(amount, Fraction(str(cost["once"])))
            return amount
        rate, name, length = sentence.need(NUMBER + r" (?:a (\w+)|per " + SPAN + ")")
        self.check((Fraction(rate), named(name, length)), (Fraction(str(cost)), unit_of(rule["per"])))
        return count * Fraction(rate)

    def steps(self, sentence, rule, steps, count):
        bounds = []
        for step in steps:
            rate = sentence.need((", then " if bounds else "") + NUMBER)[0]
            self.check(Fraction(rate), Fraction(str(step["rate"])))
            to = sentence.take(" up to " + SPAN)
            self.check(to is not None, "to" in step)
            if to:
                self.check(span(to[0]), unit_of(step["to"]))
            bounds.append((span(to[0]) // unit_of(rule["per"]) if to else count, Fraction(rate)))
        total, before = Fraction(0), 0
        for bound, rate in bounds:
            if count <= before:
                break
            taken, at = sentence.need((": " if before == 0 else r" \+ ") + r"(\d+) × " + NUMBER)
            self.check((int(taken), Fraction(at)), (min(bound, count) - before, rate))
            total += int(taken) * Fraction(at)
            before = min(bound, count)
        self.check(before, count)
        return total

    def capped(self, sentence, cost):
        cap = sentence.take(", held to the cap of " + NUMBER)
        if not cap:
            return cost
        self.check(cost > Fraction(cap[0]), True)
        return Fraction(cap[0])

    def past_limit(self, sentence, rule, deviation):
        """True where a deviation is told to be beyond a limit."""
        limit = sentence.take(SPAN + " (late|slower|early|faster) is beyond the limit of " + SPAN)
        if limit:
            late = limit[1] in ("late", "slower")
            self.check(span(limit[0]), deviation if late else -deviation)
            self.check(span(limit[0]) > span(limit[2]), True)
            self.check(span(limit[2]), unit_of(rule["late_limit" if late else "early_limit"]))
        return limit is not None
