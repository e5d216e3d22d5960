# SPDX-License-Identifier: MIT
"""Without an organiser's key, nothing gives a hidden test away until it is closed."""

from tests.support import addresses
from tests.support.serving import API, SECRET, SLUG, ServedTest, Stream

TRACES = (SECRET, "R1", "5.371", "9.023", "regularity", "09:06:50", "seed-6", "seed-7")

# Of the event's `place` and `places`, which nobody but the organiser sees, hidden or not.
PLACES = ("54.237", "4.551", "75.125", "54.240", "4.538", "54.251", "4.512")


class HiddenTest(ServedTest):
    def paths(self):
        style = addresses.style_path(self.server)
        yield from (addresses.example(route, style) for route in addresses.routes()
                    if route.is_public_read and route.pattern != "/api/v1/openapi.yaml"
                    and "/paper/" not in route.pattern)  # test_paper.py reads what those say
        for by in ("overall", "class", "category", "group", "day", "test", "team"):
            yield f"/{SLUG}/?by={by}"
            for form in ("json", "csv"):
                yield f"{API}/standings?by={by}&format={form}"
        for query in ("?view=live", "?q=a", "?after=T1", "?lang=de", "compare?cars=1,2,3,8",
                      "compare?cars=1&add=a", "tests/S1?car=1", "tests/T1?lang=it", "screen"):
            yield f"/{SLUG}/{query}"
        yield f"{API}/board?view=live"
        for car in (1, 2, 3, 5, 8, 9):
            yield f"/{SLUG}/cars/{car}"
            yield f"/{SLUG}/cars/{car}?lang=fr"
            yield f"{API}/cars/{car}?format=csv"
            yield f"{API}/cars/{car}?after=T1"

    def assert_no_trace(self, text, where):
        for trace in TRACES:
            self.assertNotIn(trace, text, where)

    def test_no_answer_has_a_trace_of_it(self):
        self.server.post("notices", {"title": "Tea"})
        for path in self.paths():
            answer = self.server.get(path)
            self.assertEqual(answer.status, 200, path)
            self.assert_no_trace(answer.text + str(answer.headers), path)

    def test_where_a_point_is_on_the_ground_is_never_public(self):
        self.assert_taken(self.server.post("decisions", [
            {"kind": "close", "point": point, "reason": "last car is in"}
            for point in ("PC1", "R1")]), 2)
        for path in self.paths():
            answer = self.server.get(path)
            self.assertFalse([trace for trace in PLACES if trace in answer.text], path)
        office = self.server.get(f"{API}/rules", self.server.organiser).text
        self.assertFalse([trace for trace in PLACES if trace not in office])

    def test_it_is_told_as_what_does_not_exist(self):
        for address in (f"{API}/tests/{{}}", f"/{SLUG}/tests/{{}}", f"{API}/standings?after={{}}",
                        f"{API}/cars/1?after={{}}/1", f"/{SLUG}/?after={{}}",
                        f"/{SLUG}/cars/1?after={{}}/start", f"{API}/standings?after={{}}/2"):
            hidden = self.server.get(address.format("R1"))
            unknown = self.server.get(address.format("R9"))
            self.assertEqual(hidden.status, 404)
            self.assertEqual(hidden.text, unknown.text.replace("R9", "R1"))
            self.assertEqual({**hidden.headers, "date": ""}, {**unknown.headers, "date": ""})

    def test_a_class_or_a_car_is_counted_as_if_nothing_had_been_read_there(self):
        """Car 8 has a reading at the hidden test alone."""
        self.assert_taken(self.server.post("readings", [
            {"point": "R1/start", "car": 8, "time": "09:30:00"},
            {"point": "R1/1", "car": 8, "time": "09:50:00"},
            {"point": "R1/1", "car": 8, "time": "09:51:00"}]), 3)
        card = self.server.get(f"{API}/cars/8").json()
        self.assertEqual((card["penalty"], card["through"], card["awaiting"], card["doubtful"]),
                         ("0.000", None, 0, 0))
        office = self.server.get(f"{API}/cars/8", self.server.organiser).json()
        self.assertEqual((office["penalty"], office["through"], office["doubtful"]),
                         ("60.000", "R1/1", 1))

    def test_the_stream_and_the_problems_of_desks_tell_nothing(self):
        stream = Stream(self.server)
        self.addCleanup(stream.close)
        told = "".join(stream.block())
        key = self.server.add_key("--role", "timekeeper", "--points", "PC1")
        answer = self.server.post("readings", [{"point": "R1/1", "car": 1, "time": "09:00"},
                                               {"point": "R9/1", "car": 1, "time": "09:00"}], key)
        reasons = [row["reason"] for row in self.assert_taken(answer, 0, 0, [1, 2])["refused"]]
        self.assertEqual(reasons[0], reasons[1])
        self.assert_no_trace(told + "".join(reasons), "stream and reasons")

    def test_a_desk_sees_no_count_of_what_is_hidden(self):
        """The revision that a desk gets does not grow with readings at hidden points."""
        key = self.server.add_key("--role", "timekeeper", "--points", "PC1")
        told = [self.server.post("readings", [], key).json()["revision"]]
        self.assert_taken(self.server.post("readings", [
            {"point": "R1/2", "car": 2, "time": "09:20:00"}]), 1)
        told.append(self.server.post("readings", [], key).json()["revision"])
        self.assertEqual(told[0], told[1])
        self.assertEqual(told[1], self.server.get(API, key).json()["revision"])
