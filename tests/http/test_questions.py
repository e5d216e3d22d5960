# SPDX-License-Identifier: MIT
"""Ten questions of a crew at lunch: each is answered at most two taps from the board.

The pages are read as they come, without a script; a tap is a link followed.
"""

import re

from tests.support.serving import SLUG, ServedTest

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

    def test_how_do_we_stand_against_our_rival(self):
        """Question 9: two taps, by way of the card."""
        compared = self.tap(self.tap(self.page(BOARD), f"/{SLUG}/cars/1"),
                            f"/{SLUG}/compare\\?cars=1,[0-9]+")
        self.assertIn("Thorne", compared)

    def test_when_do_we_start_tomorrow(self):
        """Question 10: two taps, by way of the event's page."""
        starts = self.tap(self.tap(self.page(BOARD), f"/{SLUG}/event"), f"/{SLUG}/starts/2")
        self.assertIn("09:02", starts)
