# SPDX-License-Identifier: MIT
"""Each rule of the linter finds its breach where it stands, and leaves good code alone."""

import contextlib
import io
import os
import subprocess
import sys
import tempfile
import unittest

import ctext
import house

LICENCE = "SPDX-License-" + "Identifier: MIT"
C = f"/* {LICENCE} */\n"


def header(name, text=""):
    return f"{C}#ifndef CAIRN_{name}_H\n#define CAIRN_{name}_H\n{text}#endif\n"


class HouseTest(unittest.TestCase):
    def found(self, files, rule=None):
        """Breaches as "FILE:LINE: text" in a tree of these files; `rule` alone where given."""
        with tempfile.TemporaryDirectory() as root:
            for path, text in files.items():
                full = os.path.join(root, path)
                os.makedirs(os.path.dirname(full), exist_ok=True)
                with open(full, "wb") as out:
                    out.write(text if isinstance(text, bytes) else text.encode("utf-8"))
            all_found = rule(house.Tree(root)) if rule else house.check(root)
            return sorted(f"{path}:{line}: {text}" for path, line, text in all_found)

    def assert_lines(self, rule, path, text, lines):
        """`rule` finds breaches in exactly these lines of the file."""
        got = sorted({int(f[len(path) + 1:].split(":")[0])
                      for f in self.found({path: text}, rule)})
        self.assertEqual(got, lines, text)

    def test_clean_tree_has_no_breach(self):
        files = {
            "README.md": "cairn\n", ".hidden": "", "build/lib/x.c": "double d;\n",
            "lib/base/a.h": header("A", "/* Adds. Returns the sum. */\nint a_add(int x, int y);\n"),
            "lib/base/a.c": C + '#include "base/a.h"\n/* a double, a time() */\n'
                                "int a_add(int x, int y) {\n    return x + y;\n}\n",
            "server/store/b.c": C + '#include <sqlite3.h>\n#include "base/a.h"\n'
                                    'const char *q = "SELECT 1";\nint sum = a_add(1, 2);\n',
            "tests/cases/odd/event.json": b"\xff\xfe\x00",
            "tests/node_modules/x/index.js": "eval(1)\n",
        }
        self.assertEqual(self.found(files), [])

    def test_every_module_stands_in_a_room(self):
        rule = house.rooms_downward
        for path in ("lib/a.c", "server/a.h", "server/new/a.c", "lib/scoring/kinds/more/a.c"):
            self.assert_lines(rule, path, C, [1])
        for path in ("lib/base/a.c", "lib/scoring/kinds/a.c", "server/api/a.h"):
            self.assert_lines(rule, path, C, [])

    def test_rooms_look_down_only(self):
        rule = house.rooms_downward
        others = {f"{room}/{room.rpartition('/')[2]}.h": C for room in house.ROOMS}
        for number, room in enumerate(house.ROOMS):
            text = "".join(f'#include "{other.split("/", 1)[1]}"\n' for other in others)
            above = len(house.ROOMS) - number - 1
            self.assertEqual(len(self.found(dict(others, **{f"{room}/a.c": text}), rule)), above)
        self.assertEqual(
            self.found(dict(others, **{"lib/event/a.c": '\n#include "output/output.h"\n'}), rule),
            ["lib/event/a.c:2: lib/event is below lib/output: output.h"])
        self.assert_lines(rule, "lib/event/a.c", '/* #include "output/output.h" */\n', [])

    def test_includes_name_the_room(self):
        rule = house.rooms_downward
        files = {"lib/event/rules.h": C, "lib/event/a.c": '#include "rules.h"\n'}
        self.assertEqual(self.found(files, rule),
                         ["lib/event/a.c:1: includes name the room: rules.h"])

    def test_headers_have_one_name_and_one_guard(self):
        rule = house.headers_apart
        self.assertEqual(self.found({"lib/base/a.h": header("A"), "server/api/b.h": header("B"),
                                     "tests/support/c.h": header("C")}, rule), [])
        self.assertEqual(self.found({"lib/base/a.h": header("A"), "server/api/a.h": header("B")},
                                    rule),
                         ["server/api/a.h:1: lib/base/a.h has the same name: a.h"])
        self.assertEqual(self.found({"lib/base/a.h": header("A"), "tests/support/b.h": header("A")},
                                    rule),
                         ["tests/support/b.h:1: lib/base/a.h has the same guard: CAIRN_A_H"])
        self.assert_lines(rule, "lib/base/a.h", C + "int a;\n", [1])

    def test_headers_have_no_cycle(self):
        rule = house.headers_without_cycles
        files = {"lib/base/a.h": '#include "base/b.h"\n', "lib/base/b.h": '\n#include "base/c.h"\n',
                 "lib/base/c.h": C, "lib/base/a.c": '#include "base/a.h"\n'}
        self.assertEqual(self.found(files, rule), [])
        files["lib/base/c.h"] = '#include "base/a.h"\n'
        self.assertEqual(self.found(files, rule),
                         ["lib/base/a.h:1: includes itself by way of b.h",
                          "lib/base/b.h:2: includes itself by way of c.h",
                          "lib/base/c.h:1: includes itself by way of a.h"])

    def test_what_a_header_declares_is_defined_in_its_room(self):
        rule = house.defined_in_their_room
        text = header("A", "int a_add(int x);\nextern const int a_list[];\n"
                           "static inline int a_twice(int x) {\n    return 2 * x;\n}\n")
        code = "int a_add(int x) {\n    return x;\n}\nconst int a_list[] = {1};\n"
        files = {"lib/base/a.h": text, "lib/base/other.c": code}
        self.assertEqual(self.found(files, rule), [])
        files = {"lib/base/a.h": text, "lib/event/a.c": code}
        self.assertEqual(self.found(files, rule),
                         ["lib/base/a.h:4: a_add is defined in lib/event",
                          "lib/base/a.h:5: a_list is defined in lib/event"])
        self.assertEqual(self.found({"server/api/a.h": "int a_add(int x);\n",
                                     "server/api/a.c": "static int a_add(int x) {\n}\n"}, rule),
                         ["server/api/a.h:1: a_add is defined nowhere"])
        for defined in ("const struct a *\nb_of(void) {\n}\n", "SHARED_LIBRARY(b_of, LIST, 1);\n"):
            self.assertEqual(self.found({"server/api/b.h": "const struct a *b_of(void);\n",
                                         "server/api/b.c": defined}, rule), [])

    def test_what_a_header_declares_has_users(self):
        rule = house.declared_for_others
        files = {"lib/base/a.h": header("A", "int a_add(int x);\n"),
                 "lib/base/a.c": "int a_add(int x) {\n    return x;\n}\n"}
        self.assertEqual(self.found({**files, "lib/base/b.c": "/* a_add */\n"}, rule),
                         ["lib/base/a.h:4: a_add is used where it is defined alone"])
        for path in ("lib/base/b.c", "server/api/b.h", "tests/lib/base/test_a.c"):
            self.assertEqual(self.found({**files, path: "int b = a_add(1);\n"}, rule), [])
        files["lib/base/a.h"] = header("A", "int a_add(int x);\n#define ADD(x) (a_add(x))\n")
        self.assertEqual(self.found(files, rule), [])

    def test_the_table_of_kinds_alone_is_defined_above(self):
        rule = house.defined_in_their_room
        kinds = {"lib/scoring/kinds/kinds.c": "int kind_of(int id) {\n}\n"}
        self.assertEqual(self.found({"lib/event/kind.h": "int kind_of(int id);\n", **kinds}, rule),
                         [])
        self.assertEqual(self.found({"lib/event/rules.h": "int kind_of(int id);\n", **kinds}, rule),
                         ["lib/event/rules.h:1: kind_of is defined in lib/scoring/kinds"])

    def test_surfaces_of_the_web_stand_apart(self):
        rule = house.web_rooms
        for path, line, breach in (
                ("web/desk/a.js", "import { b } from './b.js';", None),
                ("web/desk/a.js", "import { b } from '../shared/b.js';", None),
                ("web/desk/a.js", "import b from '../../build/web/words/desk.de.json';", None),
                ("web/office/rules/a.js", "import {\n  b,\n} from '../b.js';", None),
                ("web/desk/a.css", "@import '../shared/tokens.css';", None),
                ("web/desk/a.js", "import { b } from '../office/b.js';", "web/office/b.js"),
                ("web/shared/a.js", "import { b } from '../desk/b.js';", "web/desk/b.js"),
                ("web/shared/a.js", "export { b } from '../board/b.js';", "web/board/b.js"),
                ("web/office/a.js", "await import('../desk/b.js');", "web/desk/b.js"),
                ("web/board/a.css", "@import '../desk/tokens.css';", "web/desk/tokens.css")):
            room = "/".join(path.split("/")[:2])
            self.assertEqual(
                self.found({path: "\n" + line + "\n"}, rule),
                [f"{path}:2: {room} takes nothing from {breach}"] if breach else [], line)
        self.assert_lines(rule, "web/a.js", "", [1])

    def test_scripts_have_no_cycle(self):
        files = {"web/desk/a.js": "import './b.js';\n", "web/desk/b.js": "import './a.js';\n"}
        self.assertEqual(
            self.found(files, house.web_rooms),
            ["web/desk/a.js:1: includes itself by way of b.js",
             "web/desk/b.js:1: includes itself by way of a.js"])

    def test_only_the_store_includes_sqlite(self):
        text = C + "#include <sqlite3.h>\n"
        rule = house.sqlite_in_store_only
        self.assert_lines(rule, "server/routes.c", text, [2])
        self.assert_lines(rule, "lib/a.h", text, [2])
        self.assert_lines(rule, "server/store/readings.c", text, [])
        self.assert_lines(rule, "server/store/store.h", text, [])
        self.assert_lines(rule, "server/commands/restore.c", text, [2])
        self.assert_lines(rule, "server/routes.c", "/* #include <sqlite3.h> */\n", [])

    def test_only_the_writer_reaches_a_model(self):
        text = C + '#include "live/shared_model.h"\n#include "live/writer_private.h"\n'
        rule = house.readers_have_no_model
        self.assert_lines(rule, "server/api/office.c", text, [2, 3])
        self.assert_lines(rule, "server/live/snapshot.h", text, [2, 3])
        self.assert_lines(rule, "server/live/writer_notices.c", text, [])
        self.assert_lines(rule, "server/live/snapshot.c",
                          C + '#include "live/shared_model.h"\n', [])

    def test_library_is_pure(self):
        rule = house.pure_library
        for line in ("#include <microhttpd.h>", "#include <sqlite3.h>", "#include <time.h>",
                     "#include <sys/mman.h>", "#include <dlfcn.h>", "#include <semaphore.h>",
                     "FILE *f;", 'remove("x");', "randombytes_buf(b, n);",
                     "x = time(NULL);", "clock_gettime(CLOCK_REALTIME, &t);",
                     'f = fopen("x", "r");', 'h = getenv("HOME");', 'printf("x");',
                     'fprintf(stderr, "x");', "return stdout;", "(void)puts (s);"):
            self.assert_lines(rule, "lib/a.c", "\n" + line + "\n", [2])
            self.assert_lines(rule, "server/a.c", "\n" + line + "\n", [])
        for line in ("snprintf(b, n, f);", "#include <stdlib.h>", "x = due_time(car);",
                     "/* time(NULL) */", 'say("time(NULL)");',
                     "item->read(time);", "csv->open(x);", "lap.time(x);"):
            self.assert_lines(rule, "lib/a.c", line + "\n", [])

    def test_library_has_no_floating_point(self):
        rule = house.whole_numbers
        for line in ("double x;", "float y;", "x = strtod(s, NULL);", "x = atof(s);",
                     "x = 1.5;", "x = .5;", "x = 1.0f;", "x = 1e3 * 2.;"):
            self.assert_lines(rule, "lib/a.c", "\n" + line + "\n", [2])
        for line in ("/* double 1.5 */", 's = "1.5 double";', "x = doubled;", "p.x = 1;",
                     "p = a[1].x;", "call(x, ...);"):
            self.assert_lines(rule, "lib/a.c", line + "\n", [])

    def test_sql_is_not_formatted(self):
        rule = house.bound_sql
        for line in ('snprintf(b, n, "SELECT x FROM t WHERE id = %d", id);',
                     'textbuf_add(b, "DELETE FROM readings");',
                     'textbuf_printf(&sql,\n "insert into t values (%s)", v);',
                     'char *s = sqlite3_mprintf("UPDATE t " "SET a = %Q", v);',
                     'strcat(sql, "SELECT");'):
            self.assert_lines(rule, "server/store.c", "\n" + line + "\n", [2])
        self.assert_lines(rule, "server/store.c",
                          '\n#define Q "INSERT INTO " \\\n "%s VALUES (1)"\n', [2])
        for line in ('prepare("SELECT x FROM t WHERE id = :id");',
                     'snprintf(b, n, "select a car, %s", name);',
                     'textbuf_add(b, "updates from the start");',
                     '/* snprintf(b, n, "SELECT x FROM t") */',
                     'step("SELECT 1"); textbuf_add(b, "x");'):
            self.assert_lines(rule, "server/store.c", line + "\n", [])

    def test_pages_are_text_nodes(self):
        rule = house.text_nodes
        for line in ("e.innerHTML = x;", "e.outerHTML = x;", "e.insertAdjacentHTML('x', y);",
                     "eval(x);", "new Function('x');", "document.write(x);",
                     "setTimeout('x()', 1);", "e.setAttribute('onclick', x);"):
            self.assert_lines(rule, "web/car.js", "\n" + line + "\n", [2])
        for line in ("e.textContent = x;", "// innerHTML is banned", "medieval(x);",
                     "e.onclick = go;", "setTimeout(go, 1);"):
            self.assert_lines(rule, "web/car.js", line + "\n", [])
        for line in ('<a onclick="x()">', "<body onload='x'>", '<a href="javascript:x">',
                     "<script>x</script>"):
            self.assert_lines(rule, "web/car.html", "\n" + line + "\n", [2])
        for line in ('<script src="car.js" defer></script>', "<script {src:own} defer></script>",
                     '<script type="application/ld+json">{markup:data}</script>'):
            self.assert_lines(rule, "web/car.html", line + "\n", [])
        self.assert_lines(rule, "server/pages.c",
                          '\nconst char *p = "<a onclick=\\"x()\\">";\n', [2])

    def test_top_level_is_closed(self):
        found = self.found({"README.md": "", "notes.txt": "", "src/a.txt": "", ".ci/run": "",
                            "build/x": ""}, house.top_level)
        self.assertEqual(found, ["notes.txt:1: does not belong at the top level",
                                 "src:1: does not belong at the top level"])

    def test_long_files_are_split(self):
        rule = house.short_files
        for path in ("lib/base/a.c", "web/desk/a.js", "tests/http/test_a.py"):
            self.assert_lines(rule, path, "\n" * 500, [])
            self.assert_lines(rule, path, "\n" * 501, [501])
        self.assert_lines(rule, "schema/openapi.yaml", "\n" * 501, [])

    def test_sources_name_their_licence(self):
        rule = house.licence_line
        for ending in ("c", "h", "js", "css", "py", "sql"):
            self.assert_lines(rule, f"lib/a.{ending}", "\n\n\n" + LICENCE + "\n", [1])
            self.assert_lines(rule, f"lib/a.{ending}", "#!/x\n" + LICENCE + "\n", [])
        self.assert_lines(rule, "seed-demo/data.csv", "a,b\n", [])

    def test_documents_name_what_is_there(self):
        rule = house.documents_name_files
        text = "`lib/a.c`, `lib/`\n`tests/gone.py`\n" \
               "`lib/NAME.c` lib/gone.c `x/lib/gone`\n`cat web/x.js`\n"
        found = self.found({"README.md": text, "lib/a.c": C}, rule)
        self.assertEqual(found, ["README.md:2: there is no tests/gone.py",
                                 "README.md:4: there is no web/x.js"])

    def test_comments_name_what_is_there(self):
        rule = house.comments_name_files
        text = "/* a.c, and\n * gone.h as <time.h> has it; time.h, 001_gone.sql */\n" \
               '#include <time.h>\nconst char *x = "none.c"; /* x.cairn */\n'
        found = self.found({"lib/a.c": text}, rule)
        self.assertEqual(found, ["lib/a.c:2: there is no 001_gone.sql",
                                 "lib/a.c:2: there is no gone.h"])

    def test_words_that_never_belong(self):
        rule = house.clean_words
        note, path, host = "TO" + "DO", "/ho" + "me/mira/cairn", "registry." + "npmjs.org"
        for word in (note, "FIX" + "ME", path, "/ro" + "ot/x", "/wo" + "rk/x", host,
                     "https://deb." + "debian.org/debian"):
            self.assert_lines(rule, "deploy/x.md", f"fine\nsay {word} here\n", [2])
        for fine in ("mkstemp(\"/tmp/XXXXXX\")", "km/ho" + "me/x", "a MAS" + note + "N",
                     "$(DESTDIR)/ho" + "me/x"):
            self.assert_lines(rule, "deploy/x.md", fine + "\n", [])

    def test_headers_have_names_of_their_own(self):
        for path in ("server/limits.h", "lib/time.h", "tests/support/string.h"):
            self.assert_lines(house.own_names, path, C, [1])
        for path in ("server/upload_limits.h", "lib/err.h", "server/time.c"):
            self.assert_lines(house.own_names, path, C, [])

    def test_header_functions_are_told(self):
        rule = house.functions_described
        text = (C + "#ifndef A_H\n#define A_H\n#define M(x) \\\n    f(x)\n\n"
                "struct a {\n    int (*call)(int x);\n};\n\n"
                "int bare(int x);\n\n"                                            # 11
                "/* Told. */\nint told(void);\nint told_too(void);\n\n"
                "int bare_again(int a,\n               int b);\n\n"               # 17
                "/* About something else. */\n\nconst char *bare_third(void);\n"  # 22
                "typedef int (*hook)(int);\nextern int variable;\n"
                "/* Told. */\nstatic inline int body(int x) {\n    return f(x);\n}\n"
                "int bare_last(void);\n#endif\n")
        # The last shares the comment of the definition it stands against.
        self.assert_lines(rule, "lib/a.h", text, [11, 17, 22])
        self.assert_lines(rule, "lib/a.c", text, [])
        names = [name for _, name, _ in ctext.prototypes(text)]
        self.assertEqual(names, ["bare", "told", "told_too", "bare_again", "bare_third", "body",
                                 "bare_last"])

    def test_a_list_in_a_comment_keeps_its_lines(self):
        rule = house.comments_keep_their_lists
        text = (C + "/* Says what a is.\n *   a  a number\n *   b, c  two more,\n"
                " *         see there\n * Returns: a sum. Returns nothing else. */\n"
                "/* Says it. Returns: a sum. */\n"                                  # 7
                "/* Says it.\n * Of two. a  a number b  another\n"                    # 9
                " *   c  the last Returns: a sum. */\n")                            # 10
        self.assert_lines(rule, "lib/a.h", text, [7, 9, 10])
        self.assert_lines(rule, "lib/a.c", text, [])

    def test_columns_that_a_page_may_go_without_are_last(self):
        rule = house.optional_columns_last
        path = "server/pages/columns.def"
        text = ('TABLE("a")\nOPTIONAL("x", "x", "")\nOPTIONAL("y", "y", "n")\n'
                'TABLE("b")\nCOLUMN("z", "z", "")\n')
        self.assert_lines(rule, path, text, [])
        text += 'OPTIONAL("v", "v", "")\nCOLUMN("w", "w", "")\n'
        self.assert_lines(rule, path, text, [7])
        self.assertIn("7: “w” stands behind “v”", self.found({path: text}, rule)[0])
        self.assertEqual(self.found({"lib/a.c": C}, rule), [])

    def test_views_of_c_keep_their_offsets(self):
        text = 'a("x\\"/*y*/", \'"\'); /* "b" */ c("d" /* e */ "f");\n// g "h"\n'
        self.assertEqual(len(ctext.code_only(text)), len(text))
        self.assertEqual([s for _, s in ctext.strings(text)], ['x\\"/*y*/', "df"])
        self.assertNotIn("b", ctext.without_comments(text))
        self.assertIn("d", ctext.without_comments(text))

    def test_command_prints_and_fails(self):
        with tempfile.TemporaryDirectory() as root:
            with open(os.path.join(root, "stray"), "w", encoding="ascii"):
                pass
            out = io.StringIO()
            with contextlib.redirect_stdout(out):
                self.assertEqual(house.main([root]), 1)
            self.assertEqual(out.getvalue(), "stray:1: does not belong at the top level\n")
            os.remove(os.path.join(root, "stray"))
            command = [sys.executable, house.__file__, root]
            self.assertEqual(subprocess.run(command, check=False).returncode, 0)


if __name__ == "__main__":
    unittest.main()
