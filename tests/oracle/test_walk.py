# SPDX-License-Identifier: MIT
"""The server stays right from step to step: readings, corrections, decisions and their revoking, new
rules and new entries come in any order, and after each of them every figure is the one that the
command works out from the folder as it is exported then."""

import copy
import csv
import io
import json
import os
import random
import shutil
import tempfile
import unittest

import random_more
import random_more_event
import test_same
from tests.support.serving import cairn

EVENTS, STEPS = range(201, 204), 14
FIELDS = ("position", "class_position", "fails", "penalty", "status")


class Walk:
    """One event on a server of its own, and the dice that tell what comes next."""

    def __init__(self, test, seed):
        self.test, self.seed, self.dice = test, seed, random.Random(f"walk {seed}")
        self.folder = tempfile.mkdtemp(prefix="cairn-walk-")
        test.addCleanup(shutil.rmtree, self.folder)
        field = random_more_event.MoreField(f"more {seed}")
        if self.dice.random() < 0.7:
            field.event["scoring"].update(max_lateness="00:03:00", max_lateness_holds=True)
        full, bare = os.path.join(self.folder, "full"), os.path.join(self.folder, "bare")
        field.write(full)
        os.makedirs(bare)
        for name in {"event.json", "entries.csv", "starts.csv"} & set(os.listdir(full)):
            shutil.copy(os.path.join(full, name), bare)
        self.event, self.entries, self.corrections = field.event, field.entries, 0
        self.waiting = {name: test_same.mixed(self.dice, test_same.rows_of(
            os.path.join(full, f"{name}.csv"))) for name in ("readings", "decisions")}
        self.server = test_same.Held(bare)
        self.api = f"/api/v1/events/{self.server.slug}"

    def get(self, path):
        return self.server.get(f"{self.api}/{path}", self.server.organiser).json()

    def send(self, method, name, body, media_type="application/json"):
        return self.server.ask(method, f"{self.api}/{name}", body.encode(), self.server.organiser,
                               Content_Type=media_type)

    def post(self, name, rows):
        answer = self.send("POST", name, *test_same.written(self.dice, rows))
        self.test.assertEqual(answer.status, 200, str(answer))
        return answer.json()

    def step(self):
        dice = self.dice
        ways = [(self.correct, 1), (self.revoke, 1), (self.change_rules, 2), (self.change_entries, 1)]
        ways += [(self.upload, 5)] * bool(self.waiting["readings"])
        ways += [(self.rule, 4)] * bool(self.waiting["decisions"])
        dice.choices([way for way, _ in ways], [often for _, often in ways])[0]()

    def next_of(self, name, counts):
        count = self.dice.choice(counts)
        rows, self.waiting[name] = self.waiting[name][:count], self.waiting[name][count:]
        return rows

    def upload(self):
        self.post("readings", self.next_of("readings", (1, 3, 30)))

    def correct(self):
        """A reading that is there is withdrawn, or is another car's."""
        there = self.get("readings")["readings"]
        if not there:
            return
        old, self.corrections = self.dice.choice(there), self.corrections + 1
        row = {"point": old["point"], "car": old["car"], "id": f"correction-{self.corrections}",
               "replaces": old["id"], "reason": "mistyped"}
        if self.dice.random() < 0.5:
            row["void"] = "yes"
        else:
            row["car"] = self.dice.choice(self.entries)["number"]
            row.update({name: old[name] for name in ("time", "elapsed", "faults") if old.get(name)})
        self.post("readings", [row])

    def rule(self):
        self.decide(self.next_of("decisions", (1, 2, 4)))

    def revoke(self):
        there = self.get("decisions")["decisions"]
        if there:
            self.decide([{"kind": "revoke", "value": self.dice.choice(there)["id"],
                          "reason": "by mistake"}])

    def results(self):
        """Each car's result; its place in the class is that of the class's own table."""
        places = {row["car"]: row["position"] for group in self.get("standings?by=class")["groups"]
                  for row in group["standings"] + group["unplaced"]}
        overall = self.get("standings")
        return {row["car"]: {**{name: row[name] for name in FIELDS},
                             "class_position": places.get(row["car"])}
                for row in overall["standings"] + overall["unplaced"]}

    def decide(self, rows):
        """What was shown of decisions before they were posted is what comes of them."""
        before = self.results()
        told = self.send("POST", "effects", json.dumps(rows)).json()
        taken, after = self.post("decisions", rows), self.results()
        refused = [[row["row"] for row in answer["refused"]] for answer in (told, taken)]
        self.test.assertEqual((told["accepted"], refused[0]), (taken["accepted"], refused[1]), rows)
        self.test.assertEqual({move["car"]: (move["before"], move["after"])
                               for move in told["moves"]},
                              {car: (before[car], after[car]) for car in after
                               if before[car] != after[car]}, rows)

    def change_entries(self):
        rows, dice = copy.deepcopy(self.entries), self.dice
        row = dice.choice(rows)
        row["groups"] = ";".join(dice.sample(random_more.GROUPS, dice.choice((0, 1, 2))))
        row["coefficient"] = dice.choice(("", "0.5", "3", "1.125"))
        row["born"] = dice.choice(("", "1950", "1961-02-03"))
        dice.shuffle(rows)
        table = io.StringIO()
        writer = csv.DictWriter(table, rows[0])
        writer.writeheader()
        writer.writerows(rows)
        self.test.assertEqual(self.send("PUT", "entries", table.getvalue(), "text/csv").status, 200)
        self.entries = rows

    def change_rules(self):
        event, dice = copy.deepcopy(self.event), self.dice
        scoring, item = event["scoring"], dice.choice(event["route"])
        changes = (
            lambda: scoring.update(max_lateness="00:02:00",
                                   max_lateness_holds=not scoring.get("max_lateness_holds")),
            lambda: scoring.update(day_cap=dice.choice(("90", "200"))),
            lambda: scoring.update(ties=["count-back", "younger-driver"]),
            lambda: scoring.update(coefficient={"by": "entry", "apply": dice.choice(
                ("test", "total")), "kinds": "all"}),
            lambda: dice.shuffle(event["classes"]["groups"]),
            lambda: item.update(penalty={**item.get("penalty", {}), "missed": dice.choice(
                (1, 77, {"fails": 1}))}),
            lambda: item.pop("for", None) or item.update({"for": [
                {"group": dice.choice(random_more.GROUPS), "off": True}]}))
        dice.choice(changes)()
        for special in event["route"]:
            if special["kind"] == "special-test" and dice.random() < 0.3:
                special.update(maximum=random_more.by_best(dice),
                               best=dice.choice(("time", "faultless", "result")))
        # Where a reading or a decision would lose its place the rules stay as they are.
        answer = self.send("PUT", "rules", json.dumps(event))
        self.test.assertIn(answer.status, (200, 422), str(answer))
        self.event = event if answer.status == 200 else self.event


class WalkTest(unittest.TestCase):
    def test_after_each_step_all_is_as_from_the_folder(self):
        for seed in EVENTS:
            walk = Walk(self, seed)
            try:
                for step in range(STEPS):
                    walk.step()
                    self.check(walk, os.path.join(walk.folder, f"export-{step}"))
            finally:
                self.assertEqual(walk.server.end(), 0)

    def check(self, walk, folder):
        cairn("export", walk.server.data, walk.server.slug, folder)
        cars = walk.dice.sample([row["number"] for row in walk.entries], 2)
        asked = [(f"standings?by={by}", ("--by", by)) for by in ("overall", "group", "test", "team")]
        asked += [(f"cars/{car}?", ("--card", car)) for car in cars]
        for key, view in ((walk.server.organiser, ()), (None, ("--public",))):
            for path, options in asked:
                told = walk.server.get(f"{walk.api}/{path}", key)
                self.assertEqual(
                    test_same.REVISION.sub('"revision":0', told.text),
                    test_same.command(folder, "--format", "json", *options, *view),
                    f"seed {walk.seed} {folder} {path} {view}")


if __name__ == "__main__":
    unittest.main()
