# SPDX-License-Identifier: MIT
"""Drives the field round the island: every car, item by item, in whole milliseconds.

The outcome is a list of true readings and a tally of what each item cost, from which the start order of
the last day is made. Errors of the people with the clocks are laid over it afterwards, in desks.py.
"""

from fractions import Fraction

import incidents
import route
from crews import car_class, period
from dice import Dice

MINUTE = 60000
DAY = 24 * 60 * MINUTE


def clock_text(value, digits=0):
    """A time of day, cut (not rounded) to so many decimals of a second."""
    seconds, rest = divmod(value, 1000)
    text = "%02d:%02d:%02d" % (seconds // 3600, seconds // 60 % 60, seconds % 60)
    return text + (".%03d" % rest)[: digits + 1] if digits else text


def seconds_text(value, digits=2):
    """A duration in plain seconds, cut to so many decimals."""
    return "%d.%s" % (value // 1000, ("%03d" % (value % 1000))[:digits])


class Field:
    """The field of cars on its way, and what it leaves behind."""

    def __init__(self, cars):
        self.cars = {c["number"]: c for c in cars}
        self.readings = []
        self.starts = []
        self.cost = {}        # (car, item): thousandths
        self.held = {}        # test: {car: held elapsed}, for tests measured against the best
        self.out = {c: 99 for c in incidents.NOT_STARTED}   # car: first day on which it may drive again
        self.states = {}
        self.rows = route.items()
        for item in self.rows:
            item["queue"] = 0

    # ---- a day ----

    def run_day(self, day, order):
        """Drives one day. `order`: (car, start in ms) of those who start."""
        self.states = {}
        for car, start in order:
            self.states[car] = {"car": self.cars[car], "clock": start, "base": start, "scheduled": start, "since": 0,
                                "km": Fraction(0), "skip": set(), "trouble": {}, "allowed": 0, "at_control": True}
            if day > 1:
                self.starts.append((day, car, start))
        leg = []
        for row in (r for r in self.rows if r["item"]["day"] == day):
            leg.append(row)
            if row["item"]["kind"] == "time-control":
                self._leg(day, leg)
                leg = []

    def _leg(self, day, leg):
        for state in self.states.values():
            self._trouble(state, leg)
        for row in leg:
            item = row["item"]
            for state in self.states.values():
                if item["id"] not in state["skip"]:
                    self._travel(state, row)
                elif item["kind"] == "time-control":
                    self._pass_by(state, item)
            for number in sorted(self.states, key=lambda n: (self.states[n]["clock"], n)):
                state = self.states[number]
                if item["id"] not in state["skip"]:
                    getattr(self, "_" + item["kind"].replace("-", "_"))(day, state, row)
            self._retire(day, item["id"])

    def _pass_by(self, state, item):
        """A time control that this crew leaves out: it waits until it fits the next one."""
        allowed = route.ms(item["target"]) + route.ms(item.get("halt", "0"))
        state["since"] += allowed
        state["scheduled"] += allowed
        state["clock"] = state["base"] + state["since"]
        state.update(km=Fraction(0), at_control=False)

    def _retire(self, day, ident):
        for car, when, last, _, back in incidents.RETIREMENTS:
            if (when, last) == (day, ident) and car in self.states:
                del self.states[car]
                self.out[car] = back or 99
        if ident == "TC18":
            self.out[incidents.DISQUALIFIED[0]] = 99

    def _trouble(self, state, leg):
        """Breakdowns and lost ways of this leg."""
        number, strength = state["car"]["number"], state["car"]["strength"]
        dice = Dice("trouble|%s|%d" % (leg[-1]["item"]["id"], number))
        frail = 4 + strength // 60 + (10 if state["car"]["year"] < 1920 else 0)
        state["trouble"] = {}
        if strength < 100 or not dice.chance(frail):
            return
        where = dice.between(0, len(leg) - 1)
        lot = dice.between(0, 99)
        if lot < 70:
            state["trouble"][leg[where]["item"]["id"]] = dice.between(5 * MINUTE, 15 * MINUTE)
        elif lot < 88:
            state["trouble"][leg[where]["item"]["id"]] = dice.between(16 * MINUTE, 41 * MINUTE)
        elif leg[-1]["item"]["id"] not in ("TC6", "TC12", "TC18", "TC24"):
            # Cuts the rest of this leg and comes back behind a test that starts from its control.
            state["skip"].update(r["item"]["id"] for r in leg[where:])
            after = self.rows[self.rows.index(leg[-1]) + 1]["item"]
            if after.get("start") == "control":
                state["skip"].add(after["id"])

    def _travel(self, state, row):
        km = Fraction(str(row["item"]["distance"]))
        dice = Dice("road|%s|%d" % (row["item"]["id"], state["car"]["number"]))
        pace = 43000 + dice.between(0, 3000) - (2500 if state["car"]["year"] < 1920 else 0)
        state["clock"] += max(km - state["km"], Fraction(0)) * 1000 * 3600 * 1000 // pace
        state["clock"] += state["trouble"].get(row["item"]["id"], 0)
        state["km"] = km

    # ---- bookkeeping ----

    def _read(self, day, row, sub, state, now, **values):
        """Notes a reading that was made at `now` (ms of the day)."""
        ident = row["item"]["id"] + ("/" + sub if sub else "")
        number = state["car"]["number"]
        dice = Dice("hand|%s|%d" % (ident, number))
        name = row["item"]["name"].split(",")[0]
        record = {"point": ident, "car": number, "time": "", "elapsed": "", "faults": "", "replaces": None, "void": "",
                  "reason": "", "at": (day - 1) * DAY + now + dice.between(4000, 19000), "now": now, "day": day,
                  "desk": row["desk"] + sub[:1], "by": name + (" " + sub if sub else ""), "copy": False}
        record.update(values)
        self.readings.append(record)

    def _charge(self, state, ident, thousandths):
        key = (state["car"]["number"], ident)
        self.cost[key] = self.cost.get(key, 0) + thousandths

    def _rule(self, item):
        return {**route.SCORING["defaults"][item["kind"]], **item.get("penalty", {})}

    def _deviate(self, state, row, deviation):
        """What a deviation in milliseconds costs under the item's rule."""
        rule = self._rule(row["item"])
        unit = {"second": 1000, "tenth": 100, "hundredth": 10}[rule["per"]]
        side = "early" if deviation < 0 else "late"
        size, grace = abs(deviation), route.ms(rule.get("grace", "0"))
        if size <= grace:
            return 0
        if side == "late" and "late_limit" in rule and size > route.ms(rule["late_limit"]):
            return rule["missed"] * 1000
        if rule.get("grace_deducted"):
            size -= grace
        cap = rule["cap"][side] if isinstance(rule["cap"], dict) else rule["cap"]
        return min(int(size // unit * Fraction(str(rule[side])) * 1000), cap * 1000)

    def _queue(self, state, row, ready):
        """The next free half minute at a test that starts cars twice a minute."""
        start = max(-(-ready // 30000) * 30000, row["queue"] + 30000)
        row["queue"] = start
        return start

    # ---- the kinds ----

    def _time_control(self, day, state, row):
        item, car = row["item"], state["car"]
        number, strength = car["number"], car["strength"]
        dice = Dice("control|%s|%d" % (item["id"], number))
        held = incidents.HELD_UP.get((item["id"], number), (0,))[0] * 1000
        state["clock"] += held
        state["allowed"] += held
        target, halt = route.ms(item["target"]), route.ms(item.get("halt", "0"))
        state["since"] += target
        state["scheduled"] += target
        due = state["base"] + state["since"] + state["allowed"]
        early_costs = self._rule(item)["early"]
        strong = strength < 60
        if state["clock"] <= due + 50000:
            if not strong and dice.chance(5 + strength // 40):
                now = due + dice.between(60500, 150000)           # forgot the clock, or queued
            elif early_costs and not strong and dice.chance(2 + strength // 300):
                now = due - dice.between(2000, 45000)             # handed the card in too soon
            elif not early_costs and dice.chance(500):
                now = max(state["clock"], due - dice.between(0, 6 * MINUTE))
            else:
                now = max(state["clock"], due + dice.between(1500, 44000))
        else:
            now = state["clock"]
        now = now // 1000 * 1000
        counted = due + (now - due) // MINUTE * MINUTE
        self._read(day, row, "", state, now, time=clock_text(now))
        if counted > state["scheduled"] + state["allowed"] + 30 * MINUTE:
            self._charge(state, item["id"], 900000)
        elif counted < due:
            self._charge(state, item["id"], (due - counted) // MINUTE * early_costs * 1000)
        else:
            self._charge(state, item["id"], min((counted - due) // MINUTE * 10, 300) * 1000)
        state["base"] = counted + halt
        if row["drive"].get("out"):
            waited = MINUTE * dice.between(1, 3) if dice.chance(30) else 0
            state["base"] = -(-state["base"] // MINUTE) * MINUTE + waited
            self._read(day, row, "out", state, state["base"], time=clock_text(state["base"])[:5])
        state["scheduled"] += halt + state["allowed"]
        state.update(since=0, allowed=0, at_control=True, km=Fraction(0), clock=max(now + 20000, state["base"]))

    def _passage_control(self, day, state, row):
        item, strength = row["item"], state["car"]["strength"]
        dice = Dice("passage|%s|%d" % (item["id"], state["car"]["number"]))
        secret = item.get("reveal") == "closed"
        if strength > 90 and dice.chance(2 + strength // (18 if secret else 55)):
            state["clock"] += dice.between(1, 4) * MINUTE         # took another way and never saw the board
            self._charge(state, item["id"], self._rule(item)["missed"] * 1000)
            return
        self._charge(state, item["id"], 0)
        now = state["clock"] // 1000 * 1000
        if row["drive"].get("sighting"):
            self._read(day, row, "", state, now)
        else:
            self._read(day, row, "", state, now, time=clock_text(now))
        state["clock"] += dice.between(8000, 25000)

    def _regularity(self, day, state, row):
        item, car = row["item"], state["car"]
        ideals = route.ideals(item)
        digits = 1 if row["drive"].get("tenths") else 0
        if item.get("start") == "control":
            start = state["base"] + route.ms(item["start_after"])
            if not state["at_control"]:
                return
        else:
            start = self._queue(state, row, state["clock"] + 15000)
            self._read(day, row, "start", state, start, time=clock_text(start))
        late = max(0, state["clock"] - start) if item.get("start") == "control" else 0
        strength = car["strength"]
        sigma = 1300 + 6500 * strength // 1000 + 14000 * strength ** 3 // 10 ** 9
        known = start
        for n, ideal in enumerate(ideals, 1):
            point = "%s/%d" % (item["id"], n)
            dice = Dice("check|%s|%d" % (point, car["number"]))
            off = dice.bell(sigma * 3 if strength > 60 and dice.chance(15 + strength // 20) else sigma)
            if strength > 100 and dice.chance(4 + strength // 60):
                off += dice.between(20000, 95000)                 # a wrong turn inside the test
            if car["year"] < 1920 and item["id"] in ("R5", "R11"):
                off += dice.between(0, 9000)                      # short of breath uphill
            off = incidents.DEVIATIONS.get((point, car["number"]), off)
            off += incidents.HELD_UP.get((point, car["number"]), (0,))[0] * 1000
            step = ideal - (ideals[n - 2] if n > 1 else 0)
            meant = known + step if item.get("measured") == "previous" else start + ideal
            off = max(off, known + late + step * 9 // 10 - meant if late or n > 1 else off)  # nobody flies
            late = 0
            now = meant + off + 500
            known = now // 1000 * 1000
            allowed = incidents.HELD_UP.get((point, car["number"]), (0,))[0] * 1000
            state["allowed"] += allowed
            self._read(day, row, str(n), state, now, time=clock_text(now, digits))
            free = point == incidents.CANCELLED[0] or (point, car["number"]) == incidents.WAIVED[:2]
            deviation = (off - allowed + 500) // 1000 * 1000
            self._charge(state, item["id"], 0 if free else self._deviate(state, row, deviation))
        state["clock"] = known + 20000
        state["km"] += Fraction(str(item["checks"][-1]["at"]))

    def _set_time(self, day, state, row):
        item, car, strength = row["item"], state["car"], state["car"]["strength"]
        targets = [route.ms(t) for t in item["targets"]]
        if row["drive"].get("hill"):
            start = self._queue(state, row, state["clock"] + 15000)
            dice = Dice("hill|%d" % car["number"])
            off = dice.bell(900 + 4500 * strength // 1000)
            if car["year"] < 1932:
                off += (1932 - car["year"]) * dice.between(200, 900) * (2 if car["engine_cc"] < 1600 else 1)
            off = incidents.DEVIATIONS.get((item["id"] + "/1", car["number"]), off)
            now = start + targets[0] + off + 500
            self._read(day, row, "start", state, start, time=clock_text(start))
            self._read(day, row, "1", state, now, time=clock_text(now, 1))
            self._charge(state, item["id"], self._deviate(state, row, (off + 500) // 1000 * 1000))
            state["clock"] = now + 20000
            state["km"] += Fraction(str(row["drive"]["km"]))
            return
        sigma = 54 + 430 * strength // 1000 + 600 * strength ** 3 // 10 ** 9
        state["clock"] += 20000
        for n, target in enumerate(targets, 1):
            point = "%s/%d" % (item["id"], n)
            dice = Dice("pad|%s|%d" % (point, car["number"]))
            off = dice.bell(sigma * 4 if strength > 60 and dice.chance(20 + strength // 12) else sigma)
            off = incidents.DEVIATIONS.get((point, car["number"]), off)
            value = (target + off + 5) // 10 * 10
            through = target - (targets[n - 2] if n > 1 and item["measured"] == "start" else 0)
            state["clock"] += through + 400
            if (point, car["number"]) == incidents.NOTIONAL[:2]:
                self._charge(state, item["id"], int(Fraction(incidents.NOTIONAL[2]) * 1000))
                continue
            self._read(day, row, str(n), state, state["clock"], elapsed=seconds_text(value))
            self._charge(state, item["id"], self._deviate(state, row, value - target))
        if "test_cap" in item:
            key = (car["number"], item["id"])
            self.cost[key] = min(self.cost[key], item["test_cap"] * 1000)

    def _pace(self, car, base, dice):
        """How long this car and crew need where the best need `base`."""
        ages = ((1919, 200), (1930, 105), (1945, 65), (1960, 32), (1970, 8))
        age = next((slow for last, slow in ages if car["year"] <= last), 0)
        small = 45 if car["engine_cc"] < 1000 else 0
        return base * (1000 + age + small + car["strength"] * 250 // 1000 + dice.bell(18)) // 1000

    def _special_test(self, day, state, row):
        item, car, strength = row["item"], state["car"], state["car"]["strength"]
        dice = Dice("test|%s|%d" % (item["id"], car["number"]))
        start = self._queue(state, row, state["clock"] + 10000)
        spent = incidents.DEVIATIONS.get((item["id"], car["number"])) or self._pace(car, row["drive"]["base"], dice)
        faults = []
        if strength > 60 and dice.chance(25 + strength // 14):
            faults.append("cone=%d" % (2 if dice.chance(200) else 1))
        if strength > 60 and dice.chance(12 + strength // 40):
            faults.append("line=1")
        if strength > 200 and dice.chance(2 + strength // 90):
            faults = ["wrong-route=1"]
            spent += dice.between(15000, 40000)
        text = incidents.FAULTS_AT.get((item["id"], car["number"]), ";".join(faults))
        finish = start + spent
        if row["drive"].get("elapsed"):
            spent = spent // 10 * 10
            self._read(day, row, "finish", state, finish, elapsed=seconds_text(spent), faults=text)
        else:
            start += dice.between(100, 900)
            finish = start + spent
            self._read(day, row, "start", state, start, time=clock_text(start, 2))
            self._read(day, row, "finish", state, finish, time=clock_text(finish, 2), faults=text)
        state["clock"] = finish + 15000
        top = route.ms(item["maximum"])
        bogey = route.ms(item.get("bogey", "0"))
        if row["drive"].get("elapsed"):
            took = spent // 100 * 100
        else:
            took = finish // 100 * 100 - start // 100 * 100
        held = min(max(took, bogey), top)
        extra = 0
        for fault in filter(None, text.split(";")):
            name, count = fault.split("=")
            if item["faults"][name] == "maximum":
                held, extra = top, 0
            else:
                extra += item["faults"][name] * int(count) * 1000
        self.held.setdefault(item["id"], {})[car["number"]] = (held, extra)

    def _consistency(self, day, state, row):
        item, car, strength = row["item"], state["car"], state["car"]["strength"]
        dice = Dice("laps|%s|%d" % (item["id"], car["number"]))
        pace = self._pace(car, row["drive"]["base"], dice)
        sigma = 160 + 500 * strength // 1000 + 800 * strength ** 3 // 10 ** 9
        start = self._queue(state, row, state["clock"] + 10000)
        if item["reference"] == "nominated":
            pace = pace // 500 * 500
            self._read(day, row, "nominated", state, start - 30000, elapsed=seconds_text(pace, 1))
        now, laps = start, []
        for n in range(1, item["laps"] + 1):
            point = "%s/%d" % (item["id"], n)
            lap = (pace + dice.bell(sigma * 3 if strength > 60 and dice.chance(60) else sigma)) // 10 * 10
            lap = incidents.DEVIATIONS.get((point, car["number"]), lap)
            now += lap
            text = "cone=1" if "faults" in item and strength > 60 and dice.chance(8 + strength // 50) else ""
            self._read(day, row, str(n), state, now, elapsed=seconds_text(lap), faults=text)
            laps.append(lap // 100 * 100)
            self._charge(state, item["id"], 5000 if text else 0)
        first = item["reference"] == "first"
        mark = laps[0] if first else pace if item["reference"] == "nominated" else sum(laps) // len(laps) // 100 * 100
        for lap in laps[1:] if first else laps:
            self._charge(state, item["id"], self._deviate(state, row, lap - mark))
        if "test_cap" in item:
            key = (car["number"], item["id"])
            self.cost[key] = min(self.cost[key], item["test_cap"] * 1000)
        state["clock"] = now + 20000

    # ---- the board ----

    def _special_cost(self, item, number):
        rule = self._rule(item)
        held, extra = self.held[item["id"]][number]
        base = 0
        if item["method"] == "over-bogey":
            base = route.ms(item["bogey"])
        elif item["method"] == "behind-best":
            rivals = self.held[item["id"]]
            if item.get("scope") == "class":
                mine = car_class(self.cars[number])
                rivals = {n: v for n, v in rivals.items() if car_class(self.cars[n]) == mine}
            base = min(v[0] for n, v in rivals.items() if n != incidents.DISQUALIFIED[0] or n == number)
        cost = int((held - base) // 1000 * Fraction(str(rule["late"])) * 1000) + extra
        return min(cost, rule["cap"] * 1000)

    def _unseen(self, item):
        """What an item costs a car that was never read there."""
        points = item.get("checks", item.get("targets", [0] * item.get("laps", 1)))
        deviating = len(points) - (1 if item.get("reference") == "first" else 0)
        return self._rule(item)["missed"] * 1000 * deviating

    def board(self, day):
        """The classified cars after a day: (thousandths, car), best first, the costliest test dropped."""
        out = []
        for number, car in self.cars.items():
            if car["category"] != "competition" or self.out.get(number, 0) > day + 1 or number in incidents.NOT_STARTED:
                continue
            plain, tests = 0, []
            for row in self.rows:
                item = row["item"]
                if item["day"] > day:
                    continue
                if number in self.held.get(item["id"], {}):
                    cost = self._special_cost(item, number)
                else:
                    cost = self.cost.get((number, item["id"]), self._unseen(item))
                if item["kind"] in ("regularity", "set-time"):
                    tests.append(cost)
                else:
                    plain += cost
            plain += sum(int(Fraction(p[3]) * 1000) for p in incidents.PENALTIES if p[0] == number and not p[5])
            coefficient = max(1000, 1000 + (car["year"] - 1900) * 10)
            out.append((plain + (sum(tests) - max(tests)) * coefficient // 1000, number))
        return sorted(out)

    def present(self, day):
        """The cars that may start on a day, by number."""
        return [n for n in sorted(self.cars) if self.out.get(n, 0) <= day]

    def order(self, day):
        """(car, start) of a day: 1 by number, 2 by number without gaps, 3 by groups, 4 by the board."""
        first = 8 * 60 * MINUTE + MINUTE
        cars = self.present(day)
        if day == 1:
            return [(n, first + (n - 1) * MINUTE) for n in cars]
        if day == 2:
            return [(n, first + i * MINUTE) for i, n in enumerate(cars)]
        out, now = [], first
        if day == 3:
            for letter in "DEFGBC":
                for number in (n for n in cars if period(self.cars[n]) == letter):
                    out.append((number, now))
                    now += MINUTE
                now += 3 * MINUTE
            return out
        top = [number for _, number in self.board(3)[:20]]
        for number in (n for n in cars if n not in top):
            out.append((number, now))
            now += MINUTE
        now += 4 * MINUTE
        for number in reversed(top):
            out.append((number, now))
            now += MINUTE
        return out
