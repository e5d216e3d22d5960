# SPDX-License-Identifier: MIT
"""The server and the command score alike: random events are posted row by row, in batches of
every form and in random order, and read back in every view."""

import csv
import io
import json
import os
import random
import re
import shutil
import subprocess
import tempfile
import unittest

import random_event
import random_more_event
from tests.support import serving
from tests.support.cairn import CAIRN
from tests.support.serving import cairn

EVENTS = [(maker, seed) for seed in range(101, 105) for maker in (random_event, random_more_event)]
BY = ("overall", "class", "category", "group", "day", "test", "team")
WANTS = {"category": "categories", "group": "groups"}
REVISION = re.compile(r'"revision":\d+')


def rows_of(path):
    """The rows of a table of the folder, as dictionaries; none where it is not there."""
    if not os.path.exists(path):
        return []
    with open(path, encoding="utf-8-sig", newline="") as file:
        text = file.read()
    separator = ";" if text.split("\n")[0].count(";") > text.split("\n")[0].count(",") else ","
    return list(csv.DictReader(io.StringIO(text, newline=""), delimiter=separator))


def mixed(dice, rows):
    """The rows in another order, except that rows with the same id keep theirs: the first of them
    counts."""
    named = {}
    for row in rows:
        named.setdefault(row.get("id") or id(row), []).append(row)
    order = [name for name, group in named.items() for _ in group]
    dice.shuffle(order)
    return [named[name].pop(0) for name in order]


def written(dice, rows):
    """A body of those rows and its media type."""
    form = dice.randrange(3)
    if form == 2:
        out = io.StringIO()
        names = list(rows[0])
        dice.shuffle(names)
        table = csv.DictWriter(out, names)
        table.writeheader()
        table.writerows(rows)
        return out.getvalue(), "text/csv"
    if dice.randrange(2):
        rows = [{name: value for name, value in row.items() if value != ""} for row in rows]
    if form == 1:
        return "\n".join(json.dumps(row) for row in rows), "application/x-ndjson"
    return json.dumps(rows), "application/json"


def command(folder, *options):
    """What the command says of a folder as it is, but for the revision."""
    done = subprocess.run([CAIRN, "score", folder, "--live", *options], capture_output=True,
                          check=True, timeout=60)
    return REVISION.sub('"revision":0', done.stdout.decode())


class Held(serving.Server):
    """Serves the event of a folder, whatever it is called."""

    def __init__(self, folder):  # pylint: disable=super-init-not-called
        self.folder = tempfile.mkdtemp(prefix="cairn-same-server-")
        self.data = os.path.join(self.folder, "data")
        self.process = None
        self.answers = []
        self.log = os.path.join(self.folder, "log")
        try:
            cairn("import", self.data, folder)
            self.slug = os.listdir(self.data)[0].split(".")[0]
            self.organiser = cairn("key", "add", self.data, self.slug, "--role",
                                   "organiser").strip()
            self.start()
        except BaseException:
            self.end()
            raise


class SameTest(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="cairn-same-")
        self.addCleanup(shutil.rmtree, self.folder)

    def post_all(self, server, api, seed, folder):
        """Posts every reading, and all decisions somewhere between them."""
        dice = random.Random(f"batches {seed}")
        batches = []
        rows = mixed(dice, rows_of(os.path.join(folder, "readings.csv")))
        while rows:
            count = dice.choice((1, 2, 7, 30))
            batches.append(("readings", rows[:count]))
            rows = rows[count:]
        # A revoke must come with what it names, before or behind it, or later.
        rows = mixed(dice, rows_of(os.path.join(folder, "decisions.csv")))
        if rows:
            batches.insert(dice.randrange(len(batches) + 1), ("decisions", rows))
        for name, rows in batches:
            body, media_type = written(dice, rows)
            answer = server.ask("POST", f"{api}/{name}", body.encode(), server.organiser,
                                Content_Type=media_type)
            self.assertEqual(answer.status, 200, str(answer))
            told = answer.json()
            self.assertEqual(told["accepted"] + told["duplicates"] + len(told["refused"]),
                             len(rows), told)
            if name == "decisions":
                self.assertEqual(told["refused"], [], str(rows))

    def check(self, server, api, folder, seed):
        dice = random.Random(f"views {seed}")
        with open(os.path.join(folder, "event.json"), encoding="utf-8") as file:
            event = json.load(file)
        cars = [row["number"] for row in rows_of(os.path.join(folder, "entries.csv"))]
        for key, view in ((server.organiser, ()), (None, ("--public",))):
            shown = [item["id"] for item in server.get(api, key).json()["route"]]
            for after in (None, dice.choice(shown) if shown else None):
                more = ("--after", after) if after else ()
                query = f"&after={after}" if after else ""
                for by in BY:
                    if by in WANTS and not event["classes"].get(WANTS[by]):
                        continue
                    for form in ("json", "csv"):
                        told = server.get(f"{api}/standings?by={by}&format={form}{query}", key)
                        self.assertEqual(told.status, 200, str(told))
                        self.assertEqual(
                            REVISION.sub('"revision":0', told.text),
                            command(folder, "--format", form, "--by", by, *view, *more),
                            f"seed {seed} by {by} {view} {more}")
                for car in dice.sample(cars, 2):
                    told = server.get(f"{api}/cars/{car}?format=json{query}", key)
                    self.assertEqual(
                        REVISION.sub('"revision":0', told.text),
                        command(folder, "--format", "json", "--card", car, *view, *more),
                        f"seed {seed} car {car} {view} {more}")

    def test_random_events(self):
        for maker, number in EVENTS:
            seed = f"{maker.__name__}-{number}"
            with self.subTest(seed=seed):
                folder = os.path.join(self.folder, seed)
                maker.make(number, folder)
                bare = os.path.join(self.folder, f"bare-{seed}")
                os.makedirs(bare)
                for name in ("event.json", "entries.csv", "starts.csv"):
                    if os.path.exists(os.path.join(folder, name)):
                        shutil.copy(os.path.join(folder, name), bare)
                self.play(seed, folder, bare)

    def play(self, seed, folder, bare):
        server = Held(bare)
        try:
            api = f"/api/v1/events/{server.slug}"
            self.post_all(server, api, seed, folder)
            self.check(server, api, folder, seed)
            out = os.path.join(self.folder, f"out-{seed}")
            cairn("export", server.data, server.slug, out)
            self.assertEqual(command(out, "--format", "json"),
                             command(folder, "--format", "json"))
        finally:
            self.assertEqual(server.end(), 0)


class RevokesTest(serving.ServedTest):
    """The order of rows has no meaning in the body of a post either."""

    def test_a_revoke_may_stand_before_what_it_names(self):
        def revoke(name, other):
            return {"kind": "revoke", "value": other, "reason": "by mistake", "id": name}
        self.assert_taken(self.server.post("decisions", [
            revoke("c", "b"), revoke("b", "a"),
            {"kind": "penalty", "car": 1, "value": "7", "reason": "noise", "id": "a"},
            revoke("d", "c")]), 4)
        told = self.server.get(f"{serving.API}/decisions", self.server.organiser).json()
        self.assertEqual({row["id"]: row["holds"] for row in told["decisions"] if len(row["id"]) == 1},
                         {"a": False, "b": True, "c": False, "d": True})
        # What names nothing, or each other, is refused, each with its row and in their order.
        answer = self.server.post("decisions", [
            revoke("k", "m"), {"kind": "shoe", "reason": "x"}, revoke("m", "k"),
            revoke("n", "nothing"), revoke("o", "a")])
        self.assert_taken(answer, 1, 0, [1, 2, 3, 4])
        self.assertIn("“m” is the id of no decision", answer.json()["refused"][0]["reason"])

    def test_a_long_chain_the_wrong_way_round_is_no_work_without_end(self):
        rows = [{"kind": "revoke", "value": f"chain-{n + 1}", "reason": "x", "id": f"chain-{n}"}
                for n in range(3000)]
        told = self.server.post("decisions", rows).json()
        self.assertEqual((told["accepted"], len(told["refused"])), (0, 3000))
        rows.append({"kind": "penalty", "car": 1, "value": "7", "reason": "x", "id": "chain-3000"})
        self.assert_taken(self.server.post("decisions", rows), 3001)


if __name__ == "__main__":
    unittest.main()
