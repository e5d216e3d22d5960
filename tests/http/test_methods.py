# SPDX-License-Identifier: MIT
"""Wrong methods, and malformed paths."""

from tests.support import addresses
from tests.support.serving import API, SLUG, ServedTest

METHODS = ("GET", "HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW")


class MethodsTest(ServedTest):
    def allowed(self):
        """The methods of each address."""
        style = addresses.style_path(self.server)
        found = {}
        for route in addresses.routes():
            methods = found.setdefault(addresses.example(route, style), set())
            methods.update({"GET", "HEAD"} if route.method == "GET" else {route.method})
        return found

    def test_a_wrong_method_is_told_which_would_do(self):
        for path, methods in self.allowed().items():
            for method in set(METHODS) - methods:
                with self.subTest(f"{method} {path}"):
                    answer = self.server.ask(method, path)
                    if method == "HEAD":
                        self.assertEqual((answer.status, answer.body), (405, b""))
                    else:
                        self.assert_problem(answer, 405, "wrong-method")
                    self.assertEqual(set(answer.headers["allow"].split(", ")), methods)

    def test_a_wrong_method_comes_before_the_key(self):
        self.assert_problem(self.server.ask("DELETE", f"{API}/readings", key="nonsense"), 405)
        self.assert_problem(self.server.ask("DELETE", f"{API}/nothing"), 404)

    def test_a_wrong_method_with_a_body_takes_nothing(self):
        before = self.office_revision()
        answer = self.server.send("PUT", "readings", [{"point": "PC1", "car": 3}],
                                  self.server.organiser)
        self.assert_problem(answer, 405)
        self.assertEqual(self.office_revision(), before)

    def test_methods_are_told_apart_by_case(self):
        self.assert_problem(self.server.ask("get", API), 405)


class PathsTest(ServedTest):
    def test_paths_out_of_the_tree(self):
        for path in ("/../", "/../../etc/passwd", "/%2e%2e/", "/%2e%2e/%2e%2e/etc/passwd",
                     f"/{SLUG}/../", f"/{SLUG}/..%2f..%2fetc%2fpasswd", "/..%2f", "/....//",
                     f"{API}/../{SLUG}", f"{API}/%2e%2e/other", "/./", "/%2e/", "/..\\..\\x",
                     f"/api/v1/events/..%2f{SLUG}", f"/api/v1/events/{SLUG}.cairn",
                     f"/{SLUG}.cairn/", "/~root/", "/web/style.css", "/schema/openapi.yaml",
                     "/_/..%2f..%2fx.css", "/_/0/style.css", "/_/0/page.html"):
            with self.subTest(path):
                self.assert_problem_at(path, 404)

    def assert_problem_at(self, path, status):
        """A problem; the instance may be the path as it was sent or decoded."""
        answer = self.server.get(path)
        self.assertEqual(answer.status, status, str(answer))
        self.assertEqual(answer.media_type, "application/problem+json")
        self.assertEqual(answer.json()["status"], status)

    def test_double_and_trailing_slashes_are_other_addresses(self):
        for path in ("//", f"//{SLUG}/", f"/{SLUG}//", f"{API}/", f"{API}//standings",
                     f"/api//v1/events/{SLUG}", f"{API}/standings/", f"{API}/cars/", f"{API}/cars//",
                     "/healthz/", f"/{SLUG}/cars/1/", f"/{SLUG}/notices/"):
            with self.subTest(path):
                self.assert_problem_at(path, 404)

    def test_an_escaped_letter_is_that_letter(self):
        self.assertEqual(self.server.get(f"{API}/cars/%31").json()["car"], 1)
        self.assertEqual(self.server.get(f"{API}/standings?b%79=team").json()["by"], "team")

    def test_escapes_that_make_no_sense(self):
        for path in ("/%", "/%zz/", "/%0", "/%ff%fe/", f"{API}/cars/%ff", f"{API}/cars/1%0a",
                     f"{API}/cars/1%0d%0aX-Evil:1", f"{API}/tests/%f0%9f"):
            with self.subTest(path):
                answer = self.server.get(path)
                self.assertEqual(answer.status, 404, str(answer))
                self.assertNotIn("x-evil", answer.headers)
                answer.json()  # is UTF-8 and well-formed all the same

    def test_a_nul_ends_no_path(self):
        """What follows %00 is not cut off unnoticed."""
        for path in (f"{API}/cars/1%00", f"{API}/cars/1%00x", f"/{SLUG}/%00", f"/{SLUG}%00/",
                     "/healthz%00", "/healthz%00/../x", f"{API}/standings%00.json"):
            with self.subTest(path):
                self.assertIn(self.server.get(path).status, (400, 404))

    def test_very_long_paths(self):
        for length in (79, 80, 81, 511, 512, 513, 2000, 6000):
            for path in ("/" + "a" * length, f"/{SLUG}/cars/" + "1" * length, "/x" * (length // 2),
                         f"{API}/tests/" + "%41" * (length // 3)):
                answer = self.server.get(path)
                self.assertEqual(answer.status, 404, f"{length} {answer}")
        for length in (9000, 100000):
            self.assertEqual(self.server.raw(b"GET /" + b"a" * length + b" HTTP/1.1\r\n"
                                             b"Host: x\r\n\r\n").split()[1], b"414")
        self.assertEqual(self.server.get("/healthz").status, 200)

    def test_two_long_addresses_are_not_taken_for_one(self):
        """Answers are kept by their whole address, its end included."""
        one = self.server.get(f"{API}/cars/1?nothing=" + "x" * 600)
        other = self.server.get(f"{API}/cars/2?nothing=" + "x" * 600)
        self.assertEqual((one.json()["car"], other.json()["car"]), (1, 2))
