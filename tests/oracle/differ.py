#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Scores random events with the program and with the oracle, and compares the JSON field by field.

Usage: differ.py --cairn BINARY --seeds A:B [--more] [--keep DIR] [--ignore KEY,KEY] [--shown N] [--tally]
`why`, and keys that the oracle does not print, are not compared. The last line is `N passed, M failed`.
Without --cairn the oracle runs alone, which checks that it never stumbles (use it with --tally).
"""
import argparse
import collections
import json
import random
import subprocess
import sys
import tempfile
from pathlib import Path

import facts
import oracle
import random_event
import random_more_event
from shapes import Results
from view import View


def views(loaded, seed):
    """A handful of views: (live, public, after, by or None, card or None)."""
    dice = random.Random(f"views {seed}")
    points = [point.id for item in loaded.items for point in item.points]
    points += [item.id for item in loaded.items]
    bys = list(oracle.VIEWS)
    if not loaded.event["classes"].get("categories"):
        bys.remove("category")
    if not loaded.event["classes"].get("groups"):
        bys.remove("group")
    cars = list(loaded.entries)
    states = [(False, False, None), (True, False, None), (True, True, None),
              (False, False, dice.choice(points)), (True, False, dice.choice(points))]
    visible = [point.id for item in View(loaded, True, True).whole for point in item.points]
    if visible:
        states.append((True, True, dice.choice(visible)))
    for live, public, after in states:
        for by in bys:
            yield live, public, after, by, None
        for car in dice.sample(cars, min(len(cars), 4)):
            yield live, public, after, None, car


def arguments(live, public, after, by, card):
    found = ["--live"] if live else []
    found += ["--public"] if public else []
    found += ["--after", after] if after else []
    found += ["--by", by] if by else []
    found += ["--card", str(card)] if card is not None else []
    return found


def differences(expected, actual, place="", ignored=("why",)):
    """Lines that say where two shapes differ; keys that are not expected are passed over."""
    if isinstance(expected, dict) and isinstance(actual, dict):
        for key, value in expected.items():
            if key in ignored or f"{place}.{key}" in ignored:
                continue
            if key not in actual:
                yield f"{place}.{key}: oracle {json.dumps(value)[:120]}, cairn has no such key"
            else:
                yield from differences(value, actual[key], f"{place}.{key}", ignored)
    elif isinstance(expected, list) and isinstance(actual, list):
        if names(expected) != names(actual):
            yield f"{place}: oracle {names(expected)}, cairn {names(actual)}"
            pairs = [(name, one, two) for name, one in zip(names(expected), expected)
                     for other, two in zip(names(actual), actual) if name == other]
        else:
            pairs = list(zip(names(expected), expected, actual))
        for name, one, two in pairs:
            yield from differences(one, two, f"{place}[{name}]", ignored)
    elif type(expected) is not type(actual) or expected != actual:
        yield f"{place}: oracle {json.dumps(expected)[:120]}, cairn {json.dumps(actual)[:120]}"


def names(rows):
    """What tells the members of a list apart, so that a moved row is compared with itself."""
    keys = ("point", "car", "team", "class", "category", "group", "day", "test", "of")
    if all(isinstance(row, dict) for row in rows):
        return [next((row[key] for key in keys if key in row), n) for n, row in enumerate(rows)]
    return list(range(len(rows)))


def run(binary, folder, flags):
    """The program's answer as JSON, or the text of what went wrong."""
    command = [binary, "score", str(folder), "--format", "json", *flags]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    if done.returncode != 0:
        return None, f"exit {done.returncode}: {done.stderr.strip()[:300]}"
    try:
        return json.loads(done.stdout), None
    except ValueError as error:
        return None, f"not JSON: {error}"


def compare(options, seed, folder, tally):
    """The differences of one seed, each with its command."""
    (random_more_event if options.more else random_event).make(seed, folder)
    loaded = facts.load(folder)
    results_of, found = {}, []
    for live, public, after, by, card in views(loaded, seed):
        if (live, public, after) not in results_of:
            results_of[live, public, after] = Results(View(loaded, live, public, after))
            count(tally, results_of[live, public, after])
        results = results_of[live, public, after]
        expected = results.standings(by) if by else results.card(card)
        if not options.cairn:
            continue
        flags = arguments(live, public, after, by, card)
        actual, trouble = run(options.cairn, folder, flags)
        lines = [trouble] if trouble else list(differences(expected, actual, "", options.ignore))
        if lines:
            found.append((f"{options.cairn} score {folder} {' '.join(flags)}", lines))
    return found


def count(tally, results):
    """What occurred, so that one sees whether the random events reach every branch."""
    for car, score in results.scores.items():
        tally[f"status {results.status[car]}"] += 1
        for point in score.points:
            shown = results.card_point(car, point, results.overall[car].dropped)
            tally[f"state {shown['state']}"] += 1
            tally[f"{shown['kind']} {shown['state']}"] += 1
            tally["fails at a point"] += bool(shown["fails"])
            tally["beyond a time limit"] += point.outcome.unreached
            if shown.get("deviation"):
                tally["early" if shown["deviation"].startswith("-") else "on time or late"] += 1
    rows = results.overall_table()
    tally["equal positions"] += sum(row["equal"] for row in rows["standings"])
    tally["parted by ties"] += sum(
        (one["fails"], one["penalty"]) == (two["fails"], two["penalty"]) and not two["equal"]
        for one, two in zip(rows["standings"], rows["standings"][1:]))
    tally["pending"] += len(rows.get("pending", []))
    tally["doubtful"] += sum(bool(row["doubtful"]) for part in rows.values() for row in part)
    tally["rows awaiting"] += sum(bool(row["awaiting"]) for part in rows.values() for row in part)
    tally["items hidden"] += len(results.view.facts.items) - len(results.view.whole)
    if not results.view.live and not results.view.after:
        for decision in results.view.facts.decisions:
            tally[f"decision {decision.kind}"] += 1
        standing = results.view._standing
        tally["readings taken"] += len(results.view.facts.readings)
        tally["readings that count or conflict"] += sum(len(group) for group in standing.values())


def main(given):
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--cairn")
    parser.add_argument("--seeds", required=True, help="A:B, from A up to but not including B")
    parser.add_argument("--more", action="store_true", help="events that use the contract's \"More rules\"")
    parser.add_argument("--keep", help="keep the folders of seeds that differ here")
    parser.add_argument("--ignore", default="", help="further keys not to compare; .KEY is the outermost one only")
    parser.add_argument("--shown", type=int, default=5, help="differences shown for a seed")
    parser.add_argument("--tally", action="store_true", help="print what occurred and how often")
    options = parser.parse_args(given)
    options.ignore = {"why", *options.ignore.split(",")}
    first, last = (int(part) for part in options.seeds.split(":"))
    passed, failed, tally = 0, 0, collections.Counter()
    with tempfile.TemporaryDirectory() as scratch:
        for seed in range(first, last):
            folder = Path(options.keep or scratch) / f"seed-{seed}"
            found = compare(options, seed, folder, tally)
            if found:
                failed += 1
                report(seed, found, options.shown)
            else:
                passed += 1
            if not options.keep or not found:
                remove(folder)
    if options.tally:
        for name, times in sorted(tally.items()):
            print(f"{times:9d}  {name}")
    if not options.cairn:
        print(f"{passed} events scored by the oracle alone, nothing compared")
        return 0
    print(f"{passed} passed, {failed} failed")
    return 1 if failed or not passed else 0


def report(seed, found, shown):
    views_that_differ = len(found)
    print(f"seed {seed}: {views_that_differ} views differ")
    for command, lines in found[:shown]:
        print(f"  {command}")
        for line in lines[:shown]:
            print(f"    {line}")
        if len(lines) > shown:
            print(f"    and {len(lines) - shown} more")


def remove(folder):
    for path in folder.iterdir():
        path.unlink()
    folder.rmdir()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
