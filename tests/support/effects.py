# SPDX-License-Identifier: MIT
"""Compares the effects of a ruling that are shown before it is saved with what then changes."""

from tests.support.serving import API, ServedTest

FIELDS = ("position", "class_position", "fails", "penalty", "status")


class EffectsCheck(ServedTest):
    def standings(self):
        """Each car's result. The place in the class is that of the class's own table: a car that is
        out of the overall classification may have one."""
        overall, classes = (self.server.get(f"{API}/standings?by={by}", self.server.organiser).json()
                            for by in ("overall", "class"))
        places = {row["car"]: row["position"] for group in classes["groups"]
                  for row in group["standings"] + group["unplaced"]}
        return {row["car"]: {**{name: row[name] for name in FIELDS},
                             "class_position": places[row["car"]]}
                for row in overall["standings"] + overall["unplaced"]}

    def effects(self, rows, media_type="application/json"):
        answer = self.server.post("effects", rows, media_type=media_type)
        self.assertEqual(answer.status, 200, str(answer))
        return answer.json()

    def check(self, name, rows, **headers):
        """The effects shown beforehand are the differences afterwards, and asking for them
        changes nothing."""
        before, revision = self.standings(), self.office_revision()
        told = self.effects(rows)
        self.assertEqual((self.standings(), self.office_revision()), (before, revision))
        taken = self.server.post(name, rows, **headers).json()
        self.assertEqual([told[k] for k in ("accepted", "duplicates", "refused")],
                         [taken[k] for k in ("accepted", "duplicates", "refused")])
        after = self.standings()
        self.assertEqual({m["car"]: (m["before"], m["after"]) for m in told["moves"]},
                         {car: (before[car], after[car]) for car in after
                          if after[car] != before[car]})
        self.assertEqual(told["places"], sum(
            any(before[car][k] != after[car][k] for k in FIELDS[:2]) for car in after))
        order = [m["after"]["position"] or 99999 for m in told["moves"]]
        self.assertEqual(order, sorted(order))
        return told
