# SPDX-License-Identifier: MIT
"""What can be read: each address, its parameters, and the same numbers as JSON and as CSV."""

import csv
import io
import json

from tests.support import addresses
from tests.support.serving import API, SLUG, ServedTest

COLUMNS = ("position", "car", "year", "class", "class_position", "fails", "penalty",
           "behind_leader", "behind_next", "fails_behind_leader", "fails_behind_next", "through",
           "status", "awaiting", "doubtful")


def table(answer):
    """Rows of a CSV answer."""
    return list(csv.DictReader(io.StringIO(answer.text, newline="")))


def as_csv(value):
    if value is None:
        return ""
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


class ReadsTest(ServedTest):
    def test_every_reading_route_answers_get_and_head_alike(self):
        style = addresses.style_path(self.server)
        for route in addresses.routes():
            if not route.is_public_read:
                continue
            with self.subTest(route.pattern):
                path = addresses.example(route, style)
                got = self.server.get(path)
                self.assertEqual(got.status, 200, str(got))
                self.assertTrue(got.body)
                head = self.server.ask("HEAD", path)
                self.assertEqual((head.status, head.body), (200, b""))
                same = ("content-type", "etag", "cache-control", "vary")
                self.assertEqual([head.headers.get(h) for h in same],
                                 [got.headers.get(h) for h in same])
                # Its figures grow with each request.
                if route.pattern != "/metrics":
                    self.assertEqual(head.headers["content-length"], str(len(got.body)))
                self.assertEqual(got.headers["x-content-type-options"], "nosniff")
                self.assertEqual(got.headers["referrer-policy"], "no-referrer")

    def test_pages_are_html_and_the_rest_is_not(self):
        style = addresses.style_path(self.server)
        for route in addresses.routes():
            if not route.is_public_read:
                continue
            got = self.server.get(addresses.example(route, style))
            self.assertEqual(got.media_type == "text/html", route.is_page, str(got))
            if route.is_page:
                self.assertEqual(got.headers["content-type"], "text/html; charset=utf-8")
                self.assertIn("default-src 'none'", got.headers["content-security-policy"])
                self.assertNotIn("unsafe", got.headers["content-security-policy"])

    def test_standings_are_those_of_the_contract(self):
        told = self.server.get(f"{API}/standings").json()
        self.assertEqual(list(told), ["event", "status", "revision", "after", "by", "standings",
                                      "unplaced"])
        self.assertEqual((told["event"], told["status"], told["after"], told["by"]),
                         (SLUG, "live", None, "overall"))
        self.assertEqual([(r["position"], r["car"], r["penalty"], r["behind_leader"],
                           r["behind_next"], r["through"]) for r in told["standings"]],
                         [(1, 3, "0.000", "0.000", "0.000", "TC1"),
                          (2, 2, "40.000", "40.000", "40.000", "PC1"),
                          (3, 1, "80.000", "80.000", "40.000", "S1/finish")])
        self.assertEqual([(r["position"], r["car"], r["status"]) for r in told["unplaced"]],
                         [(None, 5, "entered"), (None, 8, "entered"), (None, 9, "entered")])
        first = told["standings"][2]
        self.assertEqual(list(first), [
            "position", "equal", "car", "crew", "vehicle", "year", "class", "class_position",
            "fails", "penalty", "behind_leader", "behind_next", "fails_behind_leader",
            "fails_behind_next", "days", "through", "status", "awaiting", "doubtful"])
        self.assertEqual((first["crew"], first["vehicle"], first["year"], first["class"]),
                         (["A. Thorne", "M. Vale"], "Calder Six", 1929, "C"))
        self.assertEqual(first["days"], ["80.000", "0.000"])

    def test_an_organiser_reads_the_hidden_test_too(self):
        told = self.server.get(f"{API}/standings", self.server.organiser).json()
        self.assertEqual([(r["car"], r["penalty"]) for r in told["standings"]],
                         [(3, "0.000"), (2, "40.000"), (1, "87.000")])
        test = self.server.get(f"{API}/tests/R1", self.server.organiser)
        self.assertEqual(test.json()["groups"][0]["test"], "R1")

    def test_each_grouping(self):
        for by, key, names in (("class", "class", ["C", "D", "E", "F"]),
                               ("category", "category", ["open", "club"]),
                               ("day", "day", [1, 2]), ("test", "test", ["T1", "S1", "L1"])):
            told = self.server.get(f"{API}/standings?by={by}").json()
            self.assertEqual(told["by"], by)
            self.assertEqual([group[key] for group in told["groups"]], names)
            for group in told["groups"]:
                self.assertTrue(group["name"])
                cars = [r["car"] for part in ("standings", "unplaced", "pending")
                        for r in group.get(part, [])]
                self.assertEqual(len(cars), len(set(cars)))
        teams = self.server.get(f"{API}/standings?by=team").json()
        self.assertEqual(teams["standings"], [{"position": 1, "equal": False, "team": "Rooks",
                                               "fails": 0, "penalty": "120.000", "cars": [2, 1]}])
        self.assertEqual(teams["unplaced"][0]["position"], None)

    def test_one_class_alone(self):
        for query in ("class=D", "by=class&class=D"):
            told = self.server.get(f"{API}/standings?{query}").json()
            self.assertEqual(told["by"], "class")
            self.assertEqual([g["class"] for g in told["groups"]], ["D"])
            self.assertEqual([r["car"] for r in told["groups"][0]["standings"]], [3, 2])

    def test_after_a_point(self):
        told = self.server.get(f"{API}/standings?after=TC1").json()
        self.assertEqual(told["after"], "TC1")
        self.assertEqual([(r["car"], r["penalty"]) for r in told["standings"]],
                         [(1, "0.000"), (3, "0.000"), (2, "40.000")])
        self.assertEqual(told["pending"], [])
        told = self.server.get(f"{API}/standings?after=PC1").json()
        self.assertEqual([r["car"] for r in told["standings"]], [1, 2])
        self.assertEqual([(r["car"], r["position"]) for r in told["pending"]], [(3, None)])
        self.assertEqual([r["car"] for r in told["unplaced"]], [5, 8, 9])
        inside = self.server.get(f"{API}/standings?after=T1/2").json()
        whole = self.server.get(f"{API}/standings?after=T1").json()
        self.assertEqual(inside["standings"], whole["standings"])

    def test_csv_of_standings_has_the_numbers_of_json(self):
        for key in (None, self.server.organiser, self.server.timekeeper):
            for query in ("by=overall", "by=class", "by=category", "by=day", "by=test",
                          "by=class&class=C", "after=S1", "by=day&after=S1"):
                with self.subTest(query=query, key=key is not None):
                    told = self.server.get(f"{API}/standings?{query}", key).json()
                    answer = self.server.get(f"{API}/standings?{query}&format=csv", key)
                    self.assertEqual(answer.media_type, "text/csv")
                    self.assertIn("charset=utf-8", answer.headers["content-type"])
                    self.assertTrue(answer.body.endswith(b"\r\n"))
                    self.compare(told, table(answer))

    def compare(self, told, lines):
        by = told["by"]
        rows = [(group.get(by), part, row) for group in told.get("groups", [told])
                for part in ("standings", "unplaced", "pending") for row in group.get(part, [])]
        self.assertEqual(len(rows), len(lines))
        for (group, part, row), line in zip(rows, lines):
            self.assertEqual(line["list"], part)
            if by != "overall":
                self.assertEqual(line[by], str(group))
            self.assertEqual(line["equal"], as_csv(row["equal"]))
            for column in COLUMNS:
                self.assertEqual(line[column], as_csv(row[column]), column)
            self.assertEqual([line[f"day_{d + 1}"] for d in range(len(row["days"]))], row["days"])
            self.assertNotIn(f"day_{len(row['days']) + 1}", line)
            crew = [line["driver"]] + ([line["navigator"]] if line["navigator"] else [])
            self.assertEqual(crew, row["crew"])
            self.assertEqual(f"{line['make']} {line['model']}", row["vehicle"])

    def test_csv_of_teams(self):
        told = self.server.get(f"{API}/standings?by=team").json()
        lines = table(self.server.get(f"{API}/standings?by=team&format=csv"))
        rows = told["standings"] + told["unplaced"]
        self.assertEqual([[line[c] for c in ("position", "equal", "team", "fails", "penalty",
                                             "cars")] for line in lines],
                         [[as_csv(r["position"]), as_csv(r["equal"]), r["team"], str(r["fails"]),
                           r["penalty"], " ".join(map(str, r["cars"]))] for r in rows])

    def test_csv_of_cards(self):
        for key in (None, self.server.organiser):
            for car in (1, 2, 3, 9):
                told = self.server.get(f"{API}/cars/{car}", key).json()
                lines = table(self.server.get(f"{API}/cars/{car}?format=csv", key))
                self.assertEqual([line["point"] for line in lines],
                                 [p["point"] for p in told["points"]])
                for point, line in zip(told["points"], lines):
                    self.assertEqual(line["car"], str(car))
                    if point["state"] == "awaiting":
                        self.assertEqual((point["penalty"], line["penalty"]), ("0.000", ""))
                        line["penalty"] = "0.000"
                    for column, value in point.items():
                        self.assertEqual(line[column], as_csv(value), (car, column))

    def test_csv_of_tests_starts_and_notices(self):
        self.assertEqual(self.server.post("notices", {"title": "Fog, \"thick\"",
                                                      "text": "line one\nline two"}).status, 200)
        self.compare(self.server.get(f"{API}/tests/S1").json(),
                     table(self.server.get(f"{API}/tests/S1?format=csv")))
        for day in (1, 2):
            told = self.server.get(f"{API}/starts/{day}").json()
            lines = table(self.server.get(f"{API}/starts/{day}?format=csv"))
            self.assertEqual([(line["day"], line["car"], line["time"]) for line in lines],
                             [(str(day), str(r["car"]), r["time"]) for r in told["starts"]])
        told = self.server.get(f"{API}/notices").json()["notices"]
        lines = table(self.server.get(f"{API}/notices?format=csv"))
        self.assertEqual([[line[c] for c in ("number", "posted", "title", "text")]
                          for line in lines],
                         [[str(n["number"]), n["posted"], n["title"], n["text"]] for n in told])
        self.assertIn("Fog, \"thick\"", [line["title"] for line in lines])

    def test_a_card_names_each_member_once(self):
        def once(pairs):
            names = [name for name, _ in pairs]
            self.assertEqual(len(names), len(set(names)), f"a name comes twice in {names}")
            return dict(pairs)
        self.assertEqual(self.server.get(f"{API}/cars/1").json()["status"], "running")
        json.loads(self.server.get(f"{API}/cars/1").body, object_pairs_hook=once)

    def test_card_is_the_row_of_the_standings(self):
        rows = self.server.get(f"{API}/standings").json()
        for row in rows["standings"] + rows["unplaced"]:
            card = self.server.get(f"{API}/cars/{row['car']}").json()
            self.assertEqual({name: card[name] for name in row}, row)

    def test_start_list(self):
        told = self.server.get(f"{API}/starts/2").json()
        self.assertEqual((told["day"], told["date"]), (2, "2031-06-07"))
        self.assertEqual([(r["car"], r["time"]) for r in told["starts"]],
                         [(1, "09:01:00"), (2, "09:02:00"), (3, "09:03:00"), (5, "09:05:00"),
                          (8, "09:08:00"), (9, "09:09:00")])

    def test_the_list_of_events_and_the_event(self):
        told = self.server.get("/api/v1/events").json()["events"]
        self.assertEqual([(e["slug"], e["status"], e["first_day"], e["last_day"]) for e in told],
                         [(SLUG, "live", "2031-06-06", "2031-06-07")])
        event = self.server.get(API).json()
        self.assertEqual((event["event"], event["unit"], event["cars"]), (SLUG, "km", 6))
        self.assertEqual(event["days"], [{"day": 1, "date": "2031-06-06"},
                                         {"day": 2, "date": "2031-06-07"}])
        self.assertEqual([i["id"] for i in event["route"]], ["TC1", "PC1", "T1", "S1", "L1", "TC2"])
        self.assertEqual(event["route"][0]["distance"], "31.200")
        office = self.server.get(API, self.server.organiser).json()
        self.assertIn("R1", [i["id"] for i in office["route"]])

    def test_what_is_not_there(self):
        for path in (f"{API}/cars/4", f"{API}/cars/0", f"{API}/cars/1x",
                     f"{API}/cars/99999999999999999999", f"{API}/cars/-1", f"{API}/cars/%31x",
                     f"{API}/tests/TC1", f"{API}/tests/s1", f"{API}/tests/R9", f"{API}/tests/S1%2Fx",
                     f"{API}/starts/0", f"{API}/starts/3", f"{API}/starts/one",
                     f"{API}/standings?after=TC9", f"{API}/standings?class=Z",
                     f"{API}/cars/1?after=nowhere", "/api/v1/events/other",
                     "/api/v1/events/other/standings", "/api/v1/events/other/stream",
                     "/api/v1/events/UPPER", "/other/", "/other/cars/1", f"/{SLUG}/cars/4",
                     f"/{SLUG}/tests/TC1", f"/{SLUG}/starts/9", f"/{SLUG}/nothing",
                     f"{API}/nothing", "/api", "/api/v1", "/nothing", "/style-00000000.css"):
            with self.subTest(path):
                self.assert_problem(self.server.get(path), 404, "not-found")

    def test_parameters_that_make_no_sense(self):
        for query in ("by=driver", "by=Overall", "class=C&by=day", "class=C&by=overall",
                      "format=xml", "format=CSV", "by=" + "x" * 100, "after=" + "y" * 5000,
                      "after=" + "z" * 80):
            with self.subTest(query[:30]):
                self.assert_problem(self.server.get(f"{API}/standings?{query}"), 400,
                                    "bad-request")

    def test_empty_and_unknown_parameters_are_passed_over(self):
        plain = self.server.get(f"{API}/standings").body
        for query in ("after=", "by=&class=&after=&format=", "format=json", "nothing=1", "?", "&&",
                      "by=overall"):
            self.assertEqual(self.server.get(f"{API}/standings?{query}").body, plain, query)

    def test_a_browser_is_told_an_error_in_a_page(self):
        told = self.server.get(f"/{SLUG}/cars/4", Accept="text/html,*/*;q=0.8")
        self.assertEqual((told.status, told.media_type), (404, "text/html"))
        self.assertIn("default-src 'none'", told.headers["content-security-policy"])
        self.assertIn("There is no car", told.text)
        self.assert_problem(self.server.get(f"{API}/cars/4", Accept="text/html"), 404)
