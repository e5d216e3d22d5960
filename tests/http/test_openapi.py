# SPDX-License-Identifier: MIT
"""schema/openapi.yaml compared with the route table and with real answers."""

import csv
import io
import json
import re
from urllib.parse import urlencode

from tests.support import addresses, openapi
from tests.support.cairn import CAIRN
from tests.support.serving import API, ENTRIES, EVENT, SECRET, SLUG, ServedTest

METHODS = {"get", "put", "post", "delete", "options", "head", "patch", "trace"}


def operations(document):
    """(method, path, operation, parameters) of each operation; those of its path are among the
    parameters."""
    for path, item in document["paths"].items():
        for method in METHODS & set(item):
            yield (method.upper(), path, item[method],
                   item.get("parameters", []) + item[method].get("parameters", []))


class DocumentTest(ServedTest):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.document = openapi.load()
        cls.validator = openapi.Validator(cls.document)

    def test_it_is_served_as_it_stands(self):
        answer = self.server.get("/api/v1/openapi.yaml")
        with open(openapi.PATH, "rb") as file:
            self.assertEqual(answer.body, file.read(), f"{CAIRN} holds another document")
        self.assertEqual(answer.media_type, "application/yaml")
        self.assertEqual(self.document["openapi"], "3.1.0")

    def test_every_route_is_in_the_document_and_the_other_way_round(self):
        documented = {(method, re.sub(r"\{[^}]*\}", "{}", path))
                      for method, path, _, _ in operations(self.document)}
        served = {(route.method, route.pattern) for route in addresses.routes()}
        self.assertEqual(documented, served)

    def test_roles_and_limits_are_those_of_the_route_table(self):
        told = {(method, re.sub(r"\{[^}]*\}", "{}", path)):
                (operation["x-role"], operation.get("x-body-limit", 0))
                for method, path, operation, _ in operations(self.document)}
        self.assertEqual(told, {(r.method, r.pattern): (r.role, r.limit)
                                for r in addresses.routes()})

    def test_keys_are_asked_for_where_the_role_says(self):
        for method, path, operation, _ in operations(self.document):
            wanted = ([{"key": []}] if operation["x-role"] != "public" else
                      [{}, {"key": []}] if "{slug}" in path else None)
            self.assertEqual(operation.get("security"), wanted, f"{method} {path}")

    def test_names_are_unique_and_references_lead_somewhere(self):
        names = [operation["operationId"] for _, _, operation, _ in operations(self.document)]
        self.assertEqual(len(names), len(set(names)))
        used = set()

        def walk(node):
            if isinstance(node, dict):
                if "$ref" in node:
                    used.add(node["$ref"])
                    self.assertIsNotNone(self.validator.resolve(node))
                for child in node.values():
                    walk(child)
            elif isinstance(node, list):
                for child in node:
                    walk(child)
        walk(self.document)
        for kind in ("parameters", "headers", "responses", "schemas"):
            for name in self.document["components"][kind]:
                self.assertIn(f"#/components/{kind}/{name}", used, "nothing uses it")

    def test_parameters_of_paths_are_declared_and_those_of_queries_are_known(self):
        known = {(r.method, r.pattern): set(r.parameters) for r in addresses.routes()}
        for method, path, _, parameters in operations(self.document):
            told = {"path": set(), "query": set(), "header": set()}
            for parameter in map(self.validator.resolve, parameters):
                told[parameter["in"]].add(parameter["name"])
                self.assertIn("schema", parameter)
            self.assertEqual(told["path"], set(re.findall(r"\{(\w+)\}", path)), path)
            pattern = re.sub(r"\{[^}]*\}", "{}", path)
            self.assertEqual(told["query"], known[method, pattern], path)

    def test_examples_fit_their_schemas_and_name_nothing_real(self):
        count = 0
        for method, path, operation, _ in operations(self.document):
            parts = [operation.get("requestBody", {})]
            parts += [self.validator.resolve(r) for r in operation["responses"].values()]
            for part in parts:
                for media_type, content in part.get("content", {}).items():
                    if "example" not in content:
                        continue
                    count += 1
                    self.assertEqual(self.validator.faults(content["example"], content["schema"]),
                                     [], f"{method} {path} {media_type}")
                    if media_type == "text/csv":
                        rows = list(csv.reader(io.StringIO(content["example"])))
                        self.assertEqual({len(row) for row in rows}, {len(rows[0])}, path)
        self.assertGreater(count, 15)
        # No check that could be hidden somewhere: examples name controls, tests and places alone.
        with open(openapi.PATH, encoding="utf-8") as file:
            self.assertNotIn(SECRET, file.read())


class AnswersTest(ServedTest):
    """Asks for everything, then checks each answer against the document."""

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.document = openapi.load()
        cls.validator = openapi.Validator(cls.document)
        cls.shapes = [(method, path, operation,
                       re.compile(re.sub(r"\\\{[^}]*\\\}", "[^/]+", re.escape(path))))
                      for method, path, operation, _ in operations(cls.document)]

    def operation_of(self, answer):
        """The operation that answers; for a wrong method any operation of that address."""
        path = answer.path.split("?")[0]
        found = [(method, operation, pattern) for method, name, operation, shape in self.shapes
                 if shape.fullmatch(path) for pattern in [name]]
        # "/api/…" is never an event's page.
        found = [f for f in found if not (path.startswith("/api/") and f[2].startswith("/{slug}"))]
        asked = "GET" if answer.method == "HEAD" else answer.method
        return ([f[1] for f in found if f[0] == asked] or
                [f[1] for f in found if answer.status == 405])

    def check(self, answer):
        where = str(answer)
        found = self.operation_of(answer)
        if not found:
            self.assertIn(answer.status, (404,), where)
            return None
        responses = found[0]["responses"]
        if str(answer.status) not in responses:
            self.fail(f"the status is not documented: {where}")
        response = self.validator.resolve(responses[str(answer.status)])
        for name in response.get("headers", {}):
            if name == "ETag" and "no-store" in answer.headers.get("cache-control", ""):
                continue  # a timekeeper's answer has none
            self.assertIn(name.lower(), answer.headers, where)
        if answer.status == 304:
            self.assertEqual(answer.body, b"", where)
            return answer.status, None
        self.assertIn(answer.media_type, response["content"], where)
        content = response["content"][answer.media_type]
        if answer.body and answer.media_type.endswith("json"):
            told = self.validator.faults(answer.json(), content["schema"])
            self.assertFalse(told, f"{told[:3]} in {where}")
        return answer.status, answer.media_type

    def ask_for_all(self):
        server, style = self.server, addresses.style_path(self.server)
        for route in addresses.routes():
            path = addresses.example(route, style)
            if route.method == "GET" and not path.endswith("/stream"):
                for key in (None, server.organiser, server.timekeeper):
                    told = server.get(path, key)
                    server.get(path, key, If_None_Match=told.headers.get("etag", '"none"'))
                server.get(path, "nonsense", source="127.3.0.1")
            server.ask("HEAD", path)
            server.ask("BREW", path)
            server.ask("BREW", path, Accept="text/html")
            for wrong in ("other", "x" * 90):
                server.get(path.replace(SLUG, wrong))
                server.get(path.replace(SLUG, wrong), Accept="text/html")
            for _ in range(11 if route.has_event else 0):
                server.ask(route.method, path, key="nonsense", source="127.3.0.2")
        server.get(f"{API}/stream", "nonsense", source="127.3.0.1")
        server.get("/metrics", X_Forwarded_For="192.0.2.1")
        for by in ("overall", "class", "category", "group", "day", "test", "team", "nothing"):
            for more in ("", "&after=S1", "&after=X", "&format=csv", "&format=x"):
                server.get(f"{API}/standings?by={by}{more}")
                server.get(f"{API}/standings?by={by}{more}", server.organiser)
                server.get(f"/{SLUG}/?by={by}{more}")
        for car in (1, 2, 3, 4, 5, 8, 9):
            for more in ("", "?format=csv", "?after=TC1", "?after=X", "?format=x"):
                server.get(f"{API}/cars/{car}{more}", server.organiser)
                server.get(f"/{SLUG}/cars/{car}{more}")
            server.get(f"/{SLUG}/cars/{car}?after={'x' * 99}")
        for name in ("tests/S1", "tests/R1", "tests/X", "starts/1", "starts/2", "starts/3",
                     "notices"):
            for more in ("", "?format=csv", "?format=x"):
                server.get(f"{API}/{name}{more}")
            server.get(f"/{SLUG}/{name}")
        self.write_all()

    def write_all(self):
        server = self.server
        good = {"readings": [{"point": "PC1", "car": 3, "id": "a"}, {"point": "X", "car": 3}],
                "decisions": [{"kind": "retire", "car": 9, "reason": "axle"},
                              {"kind": "cancel", "point": "T1/2", "reason": "mud"}, {}],
                "notices": {"title": "Tea"}, "entries": ENTRIES, "rules": EVENT,
                "entries/try": ENTRIES, "entries/import": {"list": ENTRIES},
                "entries/number": {"keep": "1"}, "rules/try": EVENT, "rules/examples/R1": EVENT,
                "desks/0a1b2c3d": {"points": ["TC1"], "last_seq": 3, "unsent": 1, "refused": 0,
                                   "blanks": 0, "clock": "good"},
                "keys": {"role": "timekeeper", "points": "TC1", "base": "https://127.0.0.1"},
                "keys/3": {"revoke": True}, "starts/2": {"order": "standings", "save": True},
                "enquiries": {"kind": "protest", "car": 1, "text": "Was it?"},
                "enquiries/1": {"outcome": "upheld", "text": "It was not."},
                "doubts": {"case": "0" * 16, "state": "acknowledged", "reason": "Seen"},
                "effects": [{"kind": "disqualify", "car": 1, "reason": "short cut"}, {}]}
        for name, body in good.items():
            method = "PUT" if name in ("entries", "rules") else "POST"
            media_type = "text/csv" if name == "entries" else "application/json"
            for key in (server.organiser, server.timekeeper, None):
                server.send(method, name, body, key, media_type)
            server.send(method, name, body, "nonsense", media_type, source="127.3.0.3")
            server.send(method, name, b"{", server.organiser, media_type)
            server.send(method, name, b"{", server.organiser, "text/plain")
            server.ask(method, f"/api/v1/events/other/{name}", b"", Content_Type=media_type)
            if name in ("readings", "decisions", "entries", "rules", "starts/2", "notices"):
                late = server.send(method, name, body, server.organiser, media_type,
                                   If_Match='"d0"')
                self.assertEqual(late.status, 412)
            with_length = server.ask(method, f"{API}/{name}", None, server.organiser,
                                     Content_Type=media_type, Content_Length="99999999")
            self.assertEqual(with_length.status, 413)
        server.post("readings", b"point;car\nX;1\n\"\n", media_type="text/csv")
        server.post("readings", b"{}\n[", media_type="application/x-ndjson")
        for more in ("point=TC1", "car=1", "point=X", "car=x", "after=2", "after=x"):
            server.get(f"{API}/readings?{more}", server.organiser)
        for more in ("", "?format=csv", "?format=x"):
            server.get(f"{API}/prizes{more}", server.organiser)
        self.ask_for_the_log()
        server.post("notices", {"kind": "provisional"})
        server.post("enquiries/1", {"outcome": "answered", "text": "It was."})
        self.ask_as_crew()
        server.get(f"{API}/enquiries", server.organiser)
        server.get(f"{API}/notices")
        server.get(f"{API}/notices/1")
        server.get(f"{API}/paper/notices/1")
        server.get(f"{API}/standings")
        server.get(f"{API}/cars/9", server.organiser)
        server.get(f"{API}/tests/T1", server.organiser)
        # A clock that runs back: laps of less than no time.
        server.post("readings", [{"point": f"L1/{lap}", "car": 5, "time": f"{time}:00"}
                                 for lap, time in (("start", "10:00"), (1, "09:58"), (2, "09:57"))])
        server.get(f"{API}/cars/5", server.organiser)

    def ask_as_crew(self):
        server = self.server
        for more in ("", "?format=csv", "?format=x"):
            codes = server.get(f"{API}/codes{more}", server.organiser)
            server.get(f"{API}/codes{more}")
        server.post("codes/9", {"renew": True})
        codes = server.get(f"{API}/codes", server.organiser).json()["codes"]
        code = next(c["code"] for c in codes if c["car"] == 9)
        form = "application/x-www-form-urlencoded"
        for given in (code, "AAA-AAA-AAA", ""):
            for text in ("Was it us?", "", "x" * 1001):
                for point in ("TC1", "X"):
                    asked = {"code": given, "point": point, "text": text}
                    server.post("cars/9/enquiries", asked)
                    server.ask("POST", f"/{SLUG}/cars/9/enquiry", urlencode(asked),
                               Content_Type=form)
            server.post("cars/9/cases", {"code": given})
            server.ask("POST", f"/{SLUG}/cars/9/enquiries", urlencode({"code": given}),
                       Content_Type=form)
        for path in ("enquiry", "enquiries"):
            server.ask("POST", f"/{SLUG}/cars/9/{path}", "x=y", Content_Type=form)
            server.ask("POST", f"/{SLUG}/cars/9/{path}", "", Content_Type="text/plain")
            server.ask("POST", f"/{SLUG}/cars/77/{path}", "code=x", Content_Type=form)

    def ask_for_the_log(self):
        server = self.server
        for entry in server.get(f"{API}/log", server.organiser).json()["entries"]:
            server.get(f"{API}/log/{entry['id']}", server.organiser)
        for more in ("?format=csv", "?format=x", "?limit=2", "?before=u1", "?before=x"):
            server.get(f"{API}/log{more}", server.organiser)
        server.get(f"{API}/log/x", server.organiser)
        case = server.get(f"{API}/refusals", server.organiser).json()["refusals"][0]["id"]
        needs = [d["id"] for d in server.get(f"{API}/doubts", server.organiser).json()["doubts"]]
        for name in [case, *needs, "0" * 16]:
            server.post("doubts", {"case": name, "state": "acknowledged", "reason": "Seen"})
        server.get(f"{API}/acknowledgements", server.organiser)
        server.send("PUT", "rules?since=soon", EVENT, server.organiser)
        server.send("PUT", "entries?since=soon", ENTRIES, server.organiser, "text/csv")

    def test_every_answer_is_documented_and_fits(self):
        self.ask_for_all()
        seen, faults = {}, []
        for answer in self.server.answers:
            try:
                told = self.check(answer)
            except AssertionError as error:
                faults.append(str(error).splitlines()[0][:400])
                continue
            if told is not None:
                for operation in self.operation_of(answer):
                    seen.setdefault(operation["operationId"], set()).add(told)
        self.assertEqual([], sorted(set(faults)))
        self.assert_all_seen(seen)

    def assert_all_seen(self, seen):
        """Every documented status has been seen; those of a machine in trouble are tested
        elsewhere."""
        for method, path, operation, _ in operations(self.document):
            if path.endswith("/stream"):
                continue  # it does not end; tested by itself
            wanted = {int(status) for status in operation["responses"]} - {503}
            told = {status for status, _ in seen.get(operation["operationId"], ())}
            self.assertTrue(wanted & told, f"never seen at {method} {path}")
            best = "200" if "200" in operation["responses"] else "303"
            good = self.validator.resolve(operation["responses"][best])
            self.assertEqual(set(good["content"]),
                             {media for status, media in seen[operation["operationId"]]
                              if status == int(best)}, f"{method} {path}")

    def test_what_is_documented_for_sending_is_taken(self):
        for method, path, operation, _ in operations(self.document):
            if "requestBody" not in operation or path.startswith("/{slug}"):
                continue  # forms of pages are tested with the crews
            name = path.rsplit("/", 1)[1]
            for media_type, content in operation["requestBody"]["content"].items():
                answer = self.server.send(method, name, b"", self.server.organiser, media_type)
                self.assertNotEqual(answer.status, 415, f"{path} {media_type}")
                if name in ("readings", "decisions", "notices") and "example" in content:
                    example = content["example"]
                    body = example if isinstance(example, str) else json.dumps(example)
                    answer = self.server.send(method, name, body, self.server.organiser, media_type)
                    self.assertEqual(answer.status, 200, f"{path} {media_type}")


class ValidatorTest(ServedTest):
    """The validator finds what is wrong, so that it means something when it finds nothing."""

    def setUp(self):
        self.validator = openapi.Validator(openapi.load())

    def faults(self, value, name):
        return self.validator.faults(value, {"$ref": f"#/components/schemas/{name}"})

    def test_it_finds_faults(self):
        row = self.server.get(f"{API}/standings").json()["standings"][0]
        self.assertEqual(self.faults(row, "Row"), [])
        for change in ({"penalty": "1.0"}, {"penalty": 1}, {"position": 0}, {"position": True},
                       {"crew": []}, {"crew": ["a", 1]}, {"status": "gone"}, {"more": 1},
                       {"behind_next": 3}, {"days": ["x"]}, {"car": 10000}, {"through": 3}):
            self.assertEqual(len(self.faults({**row, **change}, "Row")) > 0, True, change)
        del row["class"]
        self.assertIn("body: class is missing", self.faults(row, "Row"))

    def test_it_finds_faults_behind_choices(self):
        told = self.server.get(f"{API}/standings?by=class").json()
        self.assertEqual(self.faults(told, "Standings"), [])
        told["groups"][0]["standings"][0]["penalty"] = None
        self.assertNotEqual(self.faults(told, "Standings"), [])
        told = self.server.get(f"{API}/standings").json()
        self.assertNotEqual(self.faults({**told, "by": "team"}, "Standings"), [])
        self.assertNotEqual(self.faults({**told, "extra": 1}, "Standings"), [])
