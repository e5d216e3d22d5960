# SPDX-License-Identifier: MIT
"""Rules of totals on the public pages: the most for a day, a test for ties only, an average."""

import copy
import re
import unittest

from tests.support.serving import EVENT, READINGS, SLUG, ServedTest

DECISIONS = ("kind,car,point,value,reason,id\n"
             "notional,1,T2,average,The gate was shut,ruling-1\n")


def event():
    """The small event, with these rules; 5 is the most for a day."""
    found = copy.deepcopy(EVENT)
    found["scoring"].update(day_cap=5, coefficient={"by": "year", "kinds": "all"}, ties=["test:T1"])
    pads = next(item for item in found["route"] if item["id"] == "T1")
    pads["counts"] = "ties"
    found["route"].insert(found["route"].index(pads) + 1,
                          {"day": 1, "id": "T2", "kind": "set-time", "targets": ["10"]})
    return found


class TotalsTest(ServedTest):
    files = {"event": event(), "decisions": DECISIONS,
             "readings": READINGS + "T1/1,1,,11.80,,seed-9\n"}

    def text(self, address, language):
        page = self.server.get(f"/{SLUG}/{address}", Accept_Language=language).text
        return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page))

    def test_the_most_for_a_day_is_told_with_the_day_and_taken_off_in_the_total(self):
        """Car 2 is a minute late at TC1: 10 x 1.34 is 13.4, less the 5 that are over."""
        for language, most, step in (
                ("en", "A day costs 5.000 at most, before any coefficient.", "Most for a day"),
                ("de", "Ein Tag kostet höchstens 5,000, ohne Koeffizienten.", "Höchstens am Tag"),
                ("fr", "Un jour coûte au plus 5,000, sans coefficient.", "Maximum par jour"),
                ("it", "Un giorno costa al massimo 5,000, senza coefficiente.",
                 "Massimo al giorno")):
            with self.subTest(language=language):
                card = self.text("cars/2", language)
                self.assertIn(most, card)
                self.assertRegex(card, step + " .5[.,]000")
        self.assertIn("Decisions, absence, most for a day, rounding",
                      self.text("compare?cars=1,2", "en"))
        told = self.server.get(f"/api/v1/events/{SLUG}/cars/2").json()
        self.assertEqual(told["penalty"], "8.400")
        self.assertEqual(told["days"][0], "5.000")

    def test_a_test_for_ties_only_says_so(self):
        for language, how, note in (
                ("en", "It decides between equal cars only, and is part of no sum.",
                 "for ties only"),
                ("de", "Sie entscheidet nur bei Gleichstand und zählt in keiner Summe.",
                 "nur bei Gleichstand"),
                ("fr", "Il ne départage que les ex æquo et n’entre dans aucune somme.",
                 "pour départager seulement"),
                ("it", "Decide solo tra vetture a pari merito e non entra in alcuna somma.",
                 "solo per gli ex aequo")):
            with self.subTest(language=language):
                self.assertIn(how, self.text("tests/T1", language))
                self.assertNotIn(how, self.text("tests/T2", language))
                self.assertRegex(self.text("cars/1", language), r"10[.,]000 " + note)
        self.assertIn("counts for ties only", self.text("cars/1", "en"))

    def test_an_average_is_told_as_one(self):
        card = self.text("cars/1", "en")
        self.assertRegex(card, "costs exactly +the average of its other tests")
        self.assertIn("of the average of its other tests of the kind, of which none can be taken, "
                      "0: The gate was shut.", card)


if __name__ == "__main__":
    unittest.main()
