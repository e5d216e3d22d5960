# SPDX-License-Identifier: MIT
"""The people with the clocks: lays their errors over the true readings, numbers the rows, and writes the rulings."""

import incidents
import route
from drive import DAY, MINUTE, clock_text

OFFICE = "Rally office"


def stamp(at):
    """An instant (ms since midnight of day 1) as RFC 3339."""
    day, rest = divmod(at, DAY)
    return "%sT%s+00:00" % (route.DATES[day], clock_text(rest))


def _find(readings, point, car):
    found = [r for r in readings if r["point"] == point and r["car"] == car and not r["copy"] and r["replaces"] is None]
    if len(found) != 1:
        raise SystemExit("the plan asks for one reading of car %d at %s, there are %d" % (car, point, len(found)))
    return found[0]


def _shift(record, by):
    digits = len(record["time"].partition(".")[2])
    record["time"] = clock_text(record["now"] + by, digits)


def _correction(record, delay, reason, **values):
    out = {**record, "at": record["at"] + delay, "replaces": record, "reason": reason}
    out.update(values)
    return out


def errors(readings):
    """Lays the planned errors over the readings, in place."""
    for point, car, by, reason in incidents.MISTYPED:
        record = _find(readings, point, car)
        right = record["time"]
        _shift(record, by)
        readings.append(_correction(record, 9 * MINUTE + 1000 * car, reason, time=right))
    for point, car, typed in incidents.WRONG_CAR:
        record = _find(readings, point, car)
        reason = "Car %d was typed, it was %d" % (typed, car)
        readings.append(_correction(record, 4 * MINUTE + 1000 * car, reason, car=car))
        record["car"] = typed
    for point, car, before, reason in incidents.STRAY:
        record = _find(readings, point, car)
        stray = {**record, "at": record["at"] - before}
        _shift(stray, -before)
        readings.append(stray)
        readings.append(_correction(stray, 3 * MINUTE, reason, void="yes"))
    for point, car, by in incidents.SECOND_CLOCK:
        record = _find(readings, point, car)
        second = {**record, "at": record["at"] + 31000, "desk": record["desk"] + "b",
                  "by": record["by"] + ", second clock"}
        _shift(second, by)
        readings.append(second)
    slow = incidents.SLOW_CLOCK
    low, high = ((h * 60 + m) * MINUTE for h, m in (slow["from"], slow["to"]))
    for record in [r for r in readings if r["point"] == slow["point"] and low <= r["now"] <= high]:
        right = record["time"]
        _shift(record, -slow["slow"])
        typed_in = (slow["day"] - 1) * DAY + 13 * 60 * MINUTE + record["now"] // 20
        readings.append({**record, "at": typed_in, "time": right, "replaces": record, "reason": slow["reason"],
                         "desk": "of", "by": OFFICE})
    point, car = incidents.SEEN_WHILE_OUT
    like = next(r for r in readings if r["point"] == point)
    day_start = (like["day"] - 1) * DAY
    seen = max(r["at"] for r in readings if r["car"] == car) - day_start + 137 * MINUTE
    seen = seen // 1000 * 1000
    readings.append({**like, "car": car, "time": clock_text(seen), "now": seen, "at": day_start + seen + 7000})


def number(readings):
    """Sorts the rows by the instant of recording, gives each its id, and repeats the row that was sent twice."""
    readings.sort(key=lambda r: (r["at"] // 1000, r["desk"], r["point"], r["car"], r["now"]))
    counts = {}
    for record in readings:
        counts[record["desk"]] = counts.get(record["desk"], 0) + 1
        record["id"] = "%s-%04d" % (record["desk"], counts[record["desk"]])
    twice = _find(readings, *incidents.SENT_TWICE)
    readings.insert(readings.index(twice) + 1, {**twice, "copy": True})


def _last(readings, item, *cars):
    return max(r["at"] for r in readings if r["point"].partition("/")[0] == item and (not cars or r["car"] in cars))


def decisions(readings):
    """The rows of decisions.csv in the order in which they were made."""
    out = []

    def rule(at, kind, car, point, value, reason, by="Clerk of the course"):
        row = {"kind": kind, "car": car, "point": point, "value": value, "reason": reason, "at": at // 1000 * 1000,
               "by": by}
        out.append(row)
        return row

    for car, reason in incidents.NOT_STARTED.items():
        rule(7 * 60 * MINUTE + car * 9000, "retire", car, "", "", reason, "Scrutineers")
    for car, day, last, reason, back in incidents.RETIREMENTS:
        made = max(r["at"] for r in readings if r["car"] == car and r["day"] == day and r["point"] != "PC6")
        rule(made + (35 + car % 20) * MINUTE, "retire", car, last, "", reason, OFFICE)
        if back:
            rule((back - 1) * DAY + 7 * 60 * MINUTE + car * 10000, "rejoin", car, "", str(back), "Repaired, " +
                 "starts again on day %d" % back, OFFICE)
    for (point, car), (seconds, reason) in incidents.HELD_UP.items():
        item = point.partition("/")[0]
        made = max(r["at"] for r in readings if r["car"] == car and r["point"] == point)
        rule(made + 25 * MINUTE, "allowance", car, point, clock_text(seconds * 1000), reason,
             "Marshals at " + next(r["item"]["name"].split(",")[0] for r in route.items() if r["item"]["id"] == item))
    point, reason = incidents.CANCELLED
    rule(_last(readings, "R7") + 95 * MINUTE, "cancel", "", point, "", reason)
    point, car, reason = incidents.WAIVED
    rule(_last(readings, "R11", car) + 170 * MINUTE, "waive", car, point, "", reason)
    point, car, value, reason = incidents.NOTIONAL
    rule(_last(readings, "T3", car) + 140 * MINUTE, "notional", car, point, value, reason)
    car, day, reason = incidents.DISQUALIFIED
    rule((day - 1) * DAY + (20 * 60 + 50) * MINUTE, "disqualify", car, "", "", reason, "Stewards")
    for car, day, minute, value, reason, undone in incidents.PENALTIES:
        row = rule((day - 1) * DAY + minute * MINUTE, "penalty", car, "", value, reason, "Stewards")
        if undone:
            rule(day * DAY + (7 * 60 + 15) * MINUTE, "revoke", "", "", row, undone, "Stewards")
    for row in route.items():
        item = row["item"]
        if item["kind"] == "regularity" or item.get("reveal") == "closed":
            made = max(r["at"] for r in readings if r["point"].partition("/")[0] == item["id"] and r["desk"] != "of")
            rule(made + 12 * MINUTE, "close", "", item["id"], "", "Last car through, course closing car has passed",
                 "Closing car")
    for day in range(1, 5):
        made = max(r["at"] for r in readings if r["day"] == day)
        rule(max(made + 30 * MINUTE, (day - 1) * DAY + 20 * 60 * MINUTE), "close", "", "day:%d" % day, "",
             "Day %d complete, all cards and sheets are in" % day)
    out.sort(key=lambda r: (r["at"], r["kind"], str(r["car"])))
    for n, row in enumerate(out, 1):
        row["id"] = "cc-%03d" % n
    for row in out:
        if isinstance(row["value"], dict):
            row["value"] = row["value"]["id"]
    return out
