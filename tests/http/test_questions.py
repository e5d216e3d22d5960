# SPDX-License-Identifier: MIT
"""Ten questions of a crew at lunch: each is answered at most two taps from the board.

The pages are read as they come, without a script; a tap is a link followed.
"""

import json
import re

from tests.support.serving import API, EVENT, SLUG, ServedTest

BOARD = f"/{SLUG}/"


class QuestionsTest(ServedTest):
    def page(self, address):
        return self.server.get(address, Accept_Language="en").text

    @staticmethod
    def text(page):
        return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page))

    def tap(self, page, pattern):
        """The page behind the first link whose address matches."""
        found = re.search(rf'href="({pattern})(?:#[^"]*)?"', page)
        self.assertIsNotNone(found, f"no link to {pattern}")
        return self.page(found[1].replace("&amp;", "&"))

    def row(self, page, car):
        return self.text(re.search(rf'<tr[^>]*id="n{car}".*?</tr>', page, re.S)[0])

    def figures(self, car):
        rows = self.server.get(f"/api/v1/events/{SLUG}/standings").json()["standings"]
        return next(row for row in rows if row["car"] == car)

    def test_where_are_we_and_how_far_behind_whom(self):
        """Questions 1 to 3: our place, the gap to the leader, the gap to the car ahead."""
        row, told = self.row(self.page(BOARD + "?view=live"), 2), self.figures(2)
        self.assertRegex(row, rf"\b{told['position']}\b")
        for name in ("penalty", "behind_leader", "behind_next"):
            self.assertIn(told[name], row)

    def test_why_did_that_test_cost_us_so_much(self):
        """Question 4: one tap to the card, which explains every point in a sentence."""
        card = self.tap(self.page(BOARD), f"/{SLUG}/cars/1")
        told = self.server.get(f"/api/v1/events/{SLUG}/cars/1").json()
        whys = [point["why"] for point in told["points"] if point["penalty"] != "0.000"]
        self.assertTrue(whys)
        for why in whys:
            self.assertIn(why.replace("'", "&#39;"), card)

    def test_what_happened_to_the_car_we_chase(self):
        """Question 5: one tap to its card, with its result and the rulings on it."""
        card = self.text(self.tap(self.page(BOARD), f"/{SLUG}/cars/2"))
        self.assertIn("Late at scrutineering", card)

    def test_where_are_we_in_our_era(self):
        """Question 6: one tap."""
        eras = self.tap(self.page(BOARD), f"/{SLUG}/\\?by=class")
        self.assertIn("Ashdown", eras)

    def test_how_is_that_test_scored_and_who_was_best_there(self):
        """Questions 7 and 8: two taps, by way of the card."""
        test = self.text(self.tap(self.tap(self.page(BOARD), f"/{SLUG}/cars/1"),
                                  f"/{SLUG}/tests/S1\\?car=1"))
        self.assertRegex(test, r"How it is scored .*1 min 10 s")
        self.assertIn("Thorne", test)

    def test_how_steps_begun_units_and_own_rules_are_scored(self):
        """The same question, where the rules are not one rate."""
        event = json.loads(json.dumps(EVENT))
        route = {item["id"]: item for item in event["route"]}
        route["R1"].update(reveal="at-once", ideals="down", penalty={
            "per": "0.6", "part": True, "early": {"once": 100}, "early_limit": "00:05:00",
            "late": [{"to": "1.2", "rate": "0.5"}, {"rate": 3}]})
        route["T1"].update(lost="next-too", targets=[
            "11.70", {"target": "9.00", "penalty": {"late": 2, "missed": 900}}])
        before = self.server.get(f"{API}/rules", self.server.organiser)
        try:
            answer = self.server.send("PUT", "rules", event, self.server.organiser)
            self.assertEqual(answer.status, 200, answer.text)
            moor, pads = (self.text(self.page(f"/{SLUG}/tests/{test}")) for test in ("R1", "T1"))
            begun = {lang: self.text(self.page(f"/{SLUG}/tests/R1?lang={lang}"))
                     for lang in ("de", "fr", "it")}
        finally:
            self.server.send("PUT", "rules", before.text, self.server.organiser)
        for lang, sentence in (
                ("de", "Je angefangene Einheit (0,6 s) zu spät: 0,5 bis 1,2 s, dann 3."),
                ("fr", "Par tranche de 0,6 s ou fraction de tranche de 0,6 s de retard : "
                       "0,5 jusqu’à 1,2 s, puis 3."),
                ("it", "Per ogni intervallo di 0,6 s iniziato di ritardo: "
                       "0,5 fino a 1,2 s, poi 3.")):
            self.assertIn(sentence, begun[lang])
        for sentence in ("Ideal times are taken down to the second, not rounded.",
                         "Being early costs 100, however much.",
                         "Each 0.6 s begun late costs 0.5 up to 1.2 s, then 3.",
                         "More than 5 min early counts as missed."):
            self.assertIn(sentence, moor)
        for sentence in ("Where a line was not read, the next one is missed too.",
                         "At T1/2: Each whole hundredth of a second early costs 1. Each whole "
                         "hundredth of a second late costs 2.", "A missed point costs 900."):
            self.assertIn(sentence, pads)

    def test_how_it_is_scored_for_some_cars(self):
        """The same question, of cars with values of their own: what differs is told, no more."""
        event = json.loads(json.dumps(EVENT))
        route = {item["id"]: item for item in event["route"]}
        route["R1"].update(reveal="at-once", **{"for": [
            {"period": "D", "checks": [None, *route["R1"]["checks"][1:]]}]})
        route["T1"]["for"] = [{"period": "D", "targets": ["13", "10.25"]},
                              {"period": "C", "off": True}]
        before = self.server.get(f"{API}/rules", self.server.organiser)
        try:
            answer = self.server.send("PUT", "rules", event, self.server.organiser)
            self.assertEqual(answer.status, 200, answer.text)
            moor, pads = (self.page(f"/{SLUG}/tests/{test}") for test in ("R1", "T1"))
            entries = self.server.get(f"{API}/standings").json()
            years = {row["year"]: row["car"]
                     for row in entries["standings"] + entries["unplaced"]}
            off, other = (next(car for year, car in years.items() if first <= year <= last)
                          for first, last in ((1919, 1930), (1931, 1945)))
            compared = self.text(self.page(f"/{SLUG}/compare?cars={off},{other}"))
        finally:
            self.server.send("PUT", "rules", before.text, self.server.organiser)
        self.assertRegex(compared, r"T1 Harbour pads – ?not on its route")
        self.assertRegex(moor, r"<p><strong>For [^<]*</strong>  ?Not on their route: R1/1\.</p>")
        self.assertRegex(self.text(pads), r"Targets: 11\.7 s, 9 s\.")
        self.assertRegex(pads, r"<p><strong>For [^<]*</strong>  ?Targets: 13 s, 10\.25 s\.</p>")

    def how_scored(self, event, test, lang="en"):
        """What the test's page says of an event with these rules for a while."""
        before = self.server.get(f"{API}/rules", self.server.organiser)
        try:
            answer = self.server.send("PUT", "rules", event, self.server.organiser)
            self.assertEqual(answer.status, 200, answer.text)
            return self.text(self.page(f"/{SLUG}/tests/{test}?lang={lang}"))
        finally:
            self.server.send("PUT", "rules", before.text, self.server.organiser)

    def test_what_falls_away_for_some_cars_is_told_by_telling_all(self):
        """The same question, where a check has a rule of its own for the others alone."""
        event = json.loads(json.dumps(EVENT))
        item = next(item for item in event["route"] if item["id"] == "R1")
        *others, last = item["checks"]
        item.update(reveal="at-once", checks=[*others, {**last, "penalty": {"late": 2}}])
        item["for"] = [{"period": "D", "checks": [*others, last]}]
        page = self.how_scored(event, "R1")
        self.assertEqual(page.count("At R1/2:"), 1)
        self.assertEqual(page.count("A set speed is to be kept"), 2)

    def test_behind_the_best_by_what_it_costs(self):
        """The same question, where a difference of costs is charged and not one of times."""
        event = json.loads(json.dumps(EVENT))
        item = next(item for item in event["route"] if item["id"] == "S1")
        item.update(method="behind-best", scope="class", best="result")
        for lang, sentence in (("en", "Time and faults together count, less what they cost the "
                                      "best car of the same era."),
                               ("fr", "ce que le temps et les fautes ensemble coûtent de plus")):
            page = self.how_scored(event, "S1", lang)
            self.assertIn(sentence, page)
            self.assertNotIn("The time behind the best car", page)

    def test_how_controls_are_scored_stands_on_the_page_of_the_event(self):
        """The same question, of controls with more than rates, a cap and a price: one tap."""
        event = json.loads(json.dumps(EVENT))
        route = {item["id"]: item for item in event["route"]}
        event["scoring"]["timing"] = "scheduled"
        route["TC2"].update(early_from="due", shortest="00:15:00", faults={"wrong-way": "missed"},
                            penalty={"early": {"once": 100}},
                            **{"for": [{"period": "D", "target": "00:55:00"}]})
        route["PC1"].update(faults={"misspelt": 15}, reveal="closed")
        before = self.server.get(f"{API}/rules", self.server.organiser)
        plain = self.text(self.page(f"/{SLUG}/event"))
        try:
            answer = self.server.send("PUT", "rules", event, self.server.organiser)
            self.assertEqual(answer.status, 200, answer.text)
            page = self.text(self.page(f"/{SLUG}/event"))
            french = self.text(self.page(f"/{SLUG}/event?lang=fr"))
        finally:
            self.server.send("PUT", "rules", before.text, self.server.organiser)
        self.assertNotIn("How controls are scored", plain)
        told = page[page.index("How controls are scored"):]
        for sentence in ("Early is measured against the due time, also of a late car.",
                         "Less than 15 min since leaving the control before counts as early.",
                         "Being early costs 100, however much.", "Faults: wrong-way counts as missed.",
                         "Allowed since the control before: 55 min."):
            self.assertIn(sentence, told)
        self.assertNotIn("misspelt", page, "what is hidden is told nowhere")
        self.assertNotIn("TC1", told, "its rates alone are said by the card")
        self.assertIn("Moins de 15 min depuis le départ du contrôle précédent", french)

    def test_how_do_we_stand_against_our_rival(self):
        """Question 9: two taps, by way of the card."""
        compared = self.tap(self.tap(self.page(BOARD), f"/{SLUG}/cars/1"),
                            f"/{SLUG}/compare\\?cars=1,[0-9]+")
        self.assertIn("Thorne", compared)

    def test_when_do_we_start_tomorrow(self):
        """Question 10: two taps, by way of the event's page."""
        starts = self.tap(self.tap(self.page(BOARD), f"/{SLUG}/event"), f"/{SLUG}/starts/2")
        self.assertIn("09:02", starts)
