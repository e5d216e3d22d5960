# SPDX-License-Identifier: MIT
"""Pages: no text that somebody typed is read as HTML, links lead somewhere, and the facts are
there."""

import html.parser
import re
import urllib.parse

from tests.support.cairn import LANGUAGES
from tests.support.serving import API, SCRIPT, SLUG, ServedTest

PATHS = ["/", f"/{SLUG}/", f"/{SLUG}/notices", f"/{SLUG}/event", f"/{SLUG}/screen"]
PATHS += [f"/{SLUG}/?by={by}" for by in ("overall", "class", "category", "group", "day", "test",
                                           "team")]
PATHS += [f"/{SLUG}/?by={by}&after={at}" for by in ("overall", "test") for at in ("TC1", "S1")]
PATHS += [f"/{SLUG}/?class=D", f"/{SLUG}/starts/1", f"/{SLUG}/starts/2"]
PATHS += [f"/{SLUG}/cars/{n}" for n in (1, 2, 3, 5, 8, 9)]
PATHS += [f"/{SLUG}/tests/{t}" for t in ("T1", "S1", "L1")]
PATHS += [f"/{SLUG}/compare", f"/{SLUG}/compare?cars=1,2,3", f"/{SLUG}/compare?cars=1&add=a",
          f"/{SLUG}/tests/S1?car=1", f"/{SLUG}/?view=live", f"/{SLUG}/?q=calder",
          f"/{SLUG}/?q=%3Cscript%3E", f"/{SLUG}/qr?to=cars/1", f"/{SLUG}/?lang=de",
          f"/{SLUG}/cars/3?lang=fr", f"/{SLUG}/compare?cars=1,2&lang=it"]

VOID = {"meta", "link", "input", "br", "img", "hr"}
KNOWN = {"html", "head", "meta", "title", "link", "body", "a", "header", "p", "nav", "main",
         "footer", "h1", "h2", "h3", "ul", "li", "table", "caption", "thead", "tbody", "tr", "th",
         "td", "div", "bdi", "strong", "time", "form", "label", "select", "option", "button",
         "input", "article", "section", "span", "abbr", "details", "summary", "dl", "dt", "dd",
         "ol", "fieldset", "legend", "script", "small", "figure", "figcaption", "svg", "path",
         "text", "output", "del", "code", "textarea", "data"}


class Page(html.parser.HTMLParser):
    """Elements, links, ids and text of a page, and what in it is not nested properly."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.links, self.ids, self.scripts = [], [], [], []
        self.elements, self.texts, self.faults, self.attributes = set(), [], [], set()
        self.feed(text)
        self.close()
        if self.open:
            self.faults.append(f"{self.open} stay open")

    def handle_starttag(self, tag, attrs):
        self.elements.add(tag)
        names = [name for name, _ in attrs]
        self.attributes.update(names)
        if len(names) != len(set(names)):
            self.faults.append(f"{tag} has an attribute twice")
        told = dict(attrs)
        if "id" in told:
            self.ids.append(told["id"])
        self.links += [told[name] for name in ("href", "action") if name in told]
        if tag == "script":
            # A block of data is no script.
            self.scripts.append(told.get("src", told.get("type")))
        # `path` stands in drawings only, and closes itself there.
        if tag not in VOID and tag != "path":
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID and tag != "path":
            self.handle_endtag(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}> closes something else")

    def handle_data(self, data):
        self.texts.append(data)

    @property
    def text(self):
        return "".join(self.texts)


class PagesTest(ServedTest):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.server.post("notices", {"title": f"{SCRIPT} \"'&", "text": f"</p>{SCRIPT}<b x='"})
        cls.server.post("decisions", [
            {"kind": "penalty", "car": 3, "value": "5", "reason": f"{SCRIPT}&\"'", "by": SCRIPT},
            {"kind": "waive", "car": 3, "point": "T1", "reason": "</td><b>"}])
        cls.server.post("readings", [
            {"point": "TC2", "car": 3, "time": "09:33", "by": SCRIPT, "note": SCRIPT},
            {"point": "PC1", "car": 3, "by": SCRIPT}])

    def test_nothing_typed_is_taken_for_html(self):
        for path in PATHS:
            with self.subTest(path):
                answer = self.server.get(path)
                self.assertEqual(answer.status, 200)
                page = Page(answer.text)
                self.assertEqual(page.faults, [])
                self.assertEqual(page.elements - KNOWN, set())
                self.assertNotIn("<script>", answer.text)
                self.assertNotIn(None, page.scripts, "an inline script")
                self.assertFalse({a for a in page.attributes if a.startswith("on")})
                self.assertNotIn("style", page.attributes)
                self.assertNotRegex(answer.text, r"&(?![a-z]+;|#[0-9]+;|#x[0-9a-f]+;)")
                self.assertEqual(len(page.ids), len(set(page.ids)), "an id comes twice")

    def test_what_was_typed_is_there_as_text(self):
        for path, wanted in (("/", "Gannet Trial 2031 <i>& friends</i>"),
                             (f"/{SLUG}/", SCRIPT), (f"/{SLUG}/", "O'Lund & \"Sons\""),
                             (f"/{SLUG}/", "<b>Marl</b> Ten"), (f"/{SLUG}/cars/3", SCRIPT),
                             (f"/{SLUG}/cars/8", "Æ. Ødegård"), (f"/{SLUG}/?by=team", SCRIPT),
                             (f"/{SLUG}/?by=category", "Club <b>cars</b>"),
                             (f"/{SLUG}/tests/S1", "Rope <em>walk</em>"),
                             (f"/{SLUG}/notices", f"{SCRIPT} \"'&"),
                             (f"/{SLUG}/notices", f"</p>{SCRIPT}<b x='"),
                             (f"/{SLUG}/cars/3", f"{SCRIPT}&\"'"),
                             (f"/{SLUG}/cars/3", "Fulmar <u>Bridge</u>"),
                             (f"/{SLUG}/starts/1", "<b>Marl</b> Ten")):
            self.assertIn(wanted, Page(self.server.get(path).text).text, path)

    def test_error_pages_are_escaped_too(self):
        for path in (f"/{SLUG}/cars/%3Cscript%3Ealert(1)%3C%2Fscript%3E", "/%3Cscript%3E/",
                     f"/{SLUG}/tests/%22%3E%3Cb%3E", f"/{SLUG}/?by=%3Cscript%3E",
                     f"/{SLUG}/?after=%3Cscript%3Ealert(1)%3C%2Fscript%3E",
                     f"/{SLUG}/?class=%3Cb%20onclick%3Dx%3E"):
            answer = self.server.get(path, Accept="text/html")
            self.assertIn(answer.status, (400, 404))
            page = Page(answer.text)
            self.assertEqual((page.faults, page.elements - KNOWN), ([], set()), path)
            self.assertNotIn("<script>", answer.text)
            self.assertNotIn("<script>", self.server.get(path).text)

    def test_json_can_stand_in_a_page(self):
        for path in ("standings", "cars/3", "notices", "standings?by=team", "starts/1"):
            self.assertNotRegex(self.server.get(f"{API}/{path}").text, "[<>&]")

    def test_an_address_without_its_last_slash_leads_to_the_page(self):
        for method in ("GET", "HEAD"):
            answer = self.server.ask(method, f"/{SLUG}")
            self.assertEqual((answer.status, answer.headers["location"]), (308, f"/{SLUG}/"))
        answer = self.server.get(f"/{SLUG}?lang=de&q=%22%3E")
        self.assertEqual(answer.headers["location"], f"/{SLUG}/?lang=de&q=%22%3E")
        for path in ("/no-such-event", f"/{SLUG}/cars/1/", f"/api/v1/events/{SLUG}/", f"//{SLUG}"):
            self.assertEqual(self.server.get(path).status, 404, path)
        self.assertEqual(self.server.ask("POST", f"/{SLUG}", b"").status, 404)

    def test_every_link_leads_somewhere(self):
        seen = set()
        for path in PATHS:
            page = Page(self.server.get(path).text)
            for link in page.links:
                target = urllib.parse.urljoin(path, link)
                if link.startswith("#"):
                    self.assertIn(link[1:], page.ids, path)
                elif target not in seen and link != "data:,":  # no icon
                    seen.add(target)
                    # The page to pin up names the whole address.
                    own = f"http://127.0.0.1:{self.server.port}/"
                    self.assertTrue(target.startswith(("/", own)), target)
                    self.assert_leads_somewhere(path, target)
        self.assertGreater(len(seen), 20)

    def assert_leads_somewhere(self, path, target):
        address, _, fragment = urllib.parse.urlparse(target)._replace(
            scheme="", netloc="").geturl().partition("#")
        answer = self.server.get(address)
        self.assertEqual(answer.status, 200, f"{path}: {target}")
        if fragment:
            self.assertIn(fragment, Page(answer.text).ids, f"{path}: {target}")

    def test_each_page_tells_the_event_its_revision_and_how_final_it_is(self):
        told = self.server.get(API).json()
        for path in PATHS[1:]:
            whole = self.server.get(path).text
            text = Page(whole).text
            self.assertIn(told["name"], text, path)
            if "lang=" in path or "/qr" in path:
                continue
            self.assertIn(f"revision {told['revision']}", text, path)
            self.assertIn(f'datetime="{told["changed"]}"', whole, path)
            self.assertIn("live", text, path)
        self.assertIn("live", Page(self.server.get("/").text).text)

    def test_pages_have_the_numbers_of_json(self):
        page = Page(self.server.get(f"/{SLUG}/").text).text
        for row in self.server.get(f"{API}/standings").json()["standings"]:
            for value in (str(row["car"]), row["penalty"], row["vehicle"], *row["crew"]):
                self.assertIn(value, page)
        for car in (1, 3):
            page = Page(self.server.get(f"/{SLUG}/cars/{car}").text).text
            for point in self.server.get(f"{API}/cars/{car}").json()["points"]:
                for value in (point["point"], point["penalty"], point["why"]):
                    self.assertIn(value, page)
        page = Page(self.server.get(f"/{SLUG}/starts/2").text).text
        for row in self.server.get(f"{API}/starts/2").json()["starts"]:
            self.assertIn(row["time"], page)

    def test_the_language_is_that_of_the_address_then_of_the_browser(self):
        for query, accepted, wanted in (
                ("", None, "en"), ("", "de-CH,fr;q=0.8", "de"), ("", "nl, fr;q=0.3, it;q=0.7", "it"),
                ("", "nl", "en"), ("?lang=fr", "de", "fr"), ("?lang=xx", "it", "it")):
            headers = {"Accept_Language": accepted} if accepted else {}
            for path in (f"/{SLUG}/", "/", f"/{SLUG}/cars/1", f"/{SLUG}/tests/S1"):
                answer = self.server.get(path + query, **headers)
                self.assertRegex(answer.text, f'<html lang="{wanted}"', path)
                self.assertEqual(answer.headers["content-language"], wanted)
                chosen = "Accept-Language" in answer.headers["vary"]
                self.assertEqual(chosen, query != "?lang=fr", path)

    def test_a_language_of_the_address_goes_with_every_link(self):
        page = Page(self.server.get(f"/{SLUG}/?lang=fr").text)
        inside = [link for link in page.links if link.startswith(f"/{SLUG}/") and "?" in link]
        self.assertGreater(len(inside), 20)
        others = [link for link in inside if "lang=fr" not in link]
        self.assertEqual(len(others), len(LANGUAGES) - 1, others)

    def test_tags_tell_languages_apart(self):
        tags = {self.server.get(f"/{SLUG}/", Accept_Language=code).headers["etag"]
                for code in LANGUAGES}
        self.assertEqual(len(tags), len(LANGUAGES))

    def test_no_address_of_a_stranger_is_drawn(self):
        for to in ("//evil.example/", "%22%3E%3Cb%3E", "a%20b"):
            self.assertEqual(self.server.get(f"/{SLUG}/qr?to={to}").status, 400, to)
        self.assertEqual(self.server.get(f"/{SLUG}/qr", Host="a/b\"c").status, 400)

    def test_the_chosen_point_stays_chosen(self):
        text = self.server.get(f"/{SLUG}/?after=T1/2").text
        self.assertEqual(re.findall(r"<option selected>([^<]*)</option>", text), ["T1"])
