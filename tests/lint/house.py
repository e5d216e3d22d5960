# SPDX-License-Identifier: MIT
"""The house's own rules, as far as a machine can hold them.

    python3 tests/lint/house.py [ROOT]

Prints FILE:LINE: text for each breach and ends with 1 where there is one. Every rule is a function
that takes the tree and yields breaches; the table at the end lists them all.
"""

import os
import re
import sys

import ctext

TOP_LEVEL = {"README.md", "DEVELOPERS.md", "LICENSE", "Makefile",
             "server", "lib", "schema", "web", "tests", "deploy", "seed-demo"}
NOT_OURS = {".git", "node_modules", "__pycache__"}  # no rule looks into them
BUILT = "build"
MAX_LINES = 500


class Tree:
    """The files of a checkout, read once."""

    def __init__(self, root):
        self.root = root
        self.top = sorted(os.listdir(root))
        self.paths = []
        for folder, folders, files in os.walk(root):
            here = os.path.relpath(folder, root)
            folders[:] = sorted(f for f in folders if f not in NOT_OURS
                                and not (here == "." and f == BUILT))
            # In a second worktree .git is a file.
            self.paths += [os.path.normpath(os.path.join(here, f)) for f in sorted(files)
                           if f not in NOT_OURS]
        self.known = set(self.paths)
        self._texts = {}

    def text(self, path):
        """A file's text; None where it is not text."""
        if path not in self._texts:
            with open(os.path.join(self.root, path), "rb") as file:
                data = file.read()
            try:
                self._texts[path] = None if b"\0" in data else data.decode("utf-8")
            except UnicodeDecodeError:
                self._texts[path] = None
        return self._texts[path]

    def files(self, folders, endings):
        """(path, text) of the text files in top folders `folders` with one of the endings."""
        for path in self.paths:
            if path.split("/", 1)[0] in folders and path.endswith(endings):
                text = self.text(path)
                if text is not None:
                    yield path, text


def breaches(path, text, searched, pattern, message):
    """A breach for each place where `pattern` is in `searched`, a view of `text` with the same
    offsets. `message` may hold {0}, what was found."""
    for match in re.finditer(pattern, searched, re.M):
        yield path, ctext.line_of(text, match.start()), message.format(match.group().strip())


def sqlite_in_store_only(tree):
    """Only server/store knows SQLite."""
    for path, text in tree.files({"lib", "server"}, (".c", ".h")):
        if path.startswith("server/store/"):
            continue
        yield from breaches(path, text, ctext.without_comments(text),
                            r'#\s*include\s*[<"][^>"\n]*sqlite3[^>"\n]*[>"]',
                            "only server/store may include sqlite3.h")


# Lowest first: a file includes from its own room and from those before it.
ROOMS = ("lib/base", "lib/format", "lib/event", "lib/scoring", "lib/scoring/kinds", "lib/output",
         "lib/office", "server/system", "server/track", "server/store", "server/live", "server/paper",
         "server/http", "server/api", "server/pages", "server/site", "server/remote",
         "server/commands")
# Two tables know everybody: the kinds of tests, declared where events are read and defined above
# all kinds; and the routes, above all handlers. The linker alone sees them reach upward.
INCLUDE = re.compile(r'^[ \t]*#[ \t]*include[ \t]*"([^"\n]+)"', re.M)
SYSTEM_INCLUDE = re.compile(r"^[ \t]*#[ \t]*include[ \t]*<([^>\n]+)\.h>", re.M)


def includes(tree, folders=("lib", "server")):
    """(path, line, header) of each include of ours; a header that is nowhere is left as written."""
    for path, text in tree.files(set(folders), (".c", ".h")):
        for match in INCLUDE.finditer(ctext.without_comments(text)):
            name = match[1]
            found = [f"{top}/{name}" for top in ("lib", "server") if f"{top}/{name}" in tree.known]
            yield path, ctext.line_of(text, match.start()), found[0] if found else name


def rooms_downward(tree):
    """Every module stands in a room, and includes by room, from rooms that are not above it."""
    for path, _ in tree.files({"lib", "server"}, (".c", ".h")):
        if os.path.dirname(path) not in ROOMS:
            yield path, 1, "stands in no room; see ROOMS in tests/lint/house.py"
    for path, line, header in includes(tree):
        room, other = os.path.dirname(path), os.path.dirname(header)
        if other not in ROOMS:
            yield path, line, f"includes name the room: {header}"
        elif room in ROOMS and ROOMS.index(other) > ROOMS.index(room):
            yield path, line, f"{room} is below {other}: {os.path.basename(header)}"


def headers_apart(tree):
    """No two headers have the same name or guard: a reader and the compiler would mistake one for
    the other."""
    names, guards = {}, {}
    for path, text in tree.files({"lib", "server", "tests"}, (".h",)):
        guard = re.search(r"^#ifndef (\w+)\n#define \1$", text, re.M)
        if guard is None:
            yield path, 1, "no include guard"
        for known, key, what in ((names, os.path.basename(path), "name"),
                                 (guards, guard and guard[1], "guard")):
            if key and known.setdefault(key, path) != path:
                yield path, 1, f"{known[key]} has the same {what}: {key}"


# The one seam through which the linker reaches upward: an event is read with the table of kinds,
# which is defined above them all. The other table that knows everybody, that of the routes, stands
# above all handlers and is handed to the server as it starts.
SEAMS = {"lib/event/kind.h": "lib/scoring/kinds"}


def defined_in_their_room(tree):
    """What a header declares is defined in its own room, so that no call goes to a room that may
    not be included."""
    homes = {}
    for path, text in tree.files({"lib", "server"}, (".c",)):
        for name in ctext.defined(text):
            homes.setdefault(name, set()).add(os.path.dirname(path))
    for path, text in tree.files({"lib", "server"}, (".h",)):
        room = SEAMS.get(path, os.path.dirname(path))
        for offset, name in ctext.declared(text):
            found = homes.get(name, set())
            if room not in found:
                where = f"in {', '.join(sorted(found))}" if found else "nowhere"
                yield path, ctext.line_of(text, offset), f"{name} is defined {where}"


def declared_for_others(tree):
    """What a header declares is used by a file besides the one that defines it, or by a macro."""
    users = {}
    for path, text in tree.files({"lib", "server", "tests"}, (".c", ".h")):
        for word in set(re.findall(r"\w+", ctext.code_only(text))):
            users.setdefault(word, set()).add(path)
    for path, text in tree.files({"lib", "server"}, (".h",)):
        for offset, name in ctext.declared(text):
            macro = re.search(r"^#define\b(?:[^\n]|\\\n)*\(" + name + r"\b", text, re.M)
            if len(users[name] - {path}) < 2 and not macro:
                yield path, ctext.line_of(text, offset), f"{name} is used where it is defined alone"


def reach(below, path):
    """All that a header includes, at any depth."""
    seen, ahead = set(), [path]
    while ahead:
        for header in below.get(ahead.pop(), ()):
            if header not in seen:
                seen.add(header)
                ahead.append(header)
    return seen


def cycles(below):
    """A breach for each file that includes itself. below: file to {file that it includes: line}"""
    for path, others in below.items():
        for other, line in others.items():
            if other == path or path in reach(below, other):
                yield path, line, f"includes itself by way of {os.path.basename(other)}"


def headers_without_cycles(tree):
    """No header includes itself by way of others."""
    below = {}
    for path, line, header in includes(tree):
        if path.endswith(".h"):
            below.setdefault(path, {}).setdefault(header, line)
    yield from cycles(below)


# What the scripts and styles of a surface may take besides their own, which the Makefile makes some
# of: what all surfaces share, and the texts, of which it makes some too.
WEB_SURFACES = ("web/board", "web/desk", "web/office")
WEB_SHARED = ("web/shared", "web/words", "build/web/words")
QUOTED = r"['\"](\.[^'\"]+)['\"]"
IMPORT = re.compile(r"^(?:import|export)\b[^;]*?(?:\bfrom\s*)?" + QUOTED
                    + r"|^@import\s+" + QUOTED + r"|\bimport\(\s*" + QUOTED, re.M)


def imports(tree):
    """(path, line, file) of each script or style that one of ours imports."""
    for path, text in tree.files({"web"}, (".js", ".css")):
        for match in IMPORT.finditer(text):
            name = match[1] or match[2] or match[3]
            yield (path, ctext.line_of(text, match.start()),
                   os.path.normpath(os.path.join(os.path.dirname(path), name)))


def web_rooms(tree):
    """A surface imports from itself and from what is shared; what is shared, from itself alone.
    No script imports itself by way of others."""
    below = {}
    for path, _ in tree.files({"web"}, (".js", ".css")):
        if not path.startswith(tuple(f"{room}/" for room in WEB_SURFACES + WEB_SHARED)):
            yield path, 1, "stands in no room of web/"
    for path, line, other in imports(tree):
        below.setdefault(path, {}).setdefault(other, line)
        room = "/".join(path.split("/")[:2])
        open_to = (room, f"build/{room}", *WEB_SHARED) if room in WEB_SURFACES else (room,)
        if not other.startswith(tuple(f"{one}/" for one in open_to)):
            yield path, line, f"{room} takes nothing from {other}"
    yield from cycles(below)


MODEL_HOLDERS = ("server/live/writer", "server/live/snapshot.c", "server/live/shared_model.h")


def readers_have_no_model(tree):
    """Only the writer of an event, and what frees it, includes shared_model.h, by which facts are
    added."""
    for path, text in tree.files({"server"}, (".c", ".h")):
        if not path.startswith(MODEL_HOLDERS):
            yield from breaches(path, text, ctext.without_comments(text),
                                r'#\s*include\s*"live/(?:shared_model|writer_private)\.h"',
                                "only an event's writer may reach its model; others read snapshots")


# All that lib/ takes from outside: C without a clock, files or threads, JSON, and hashes.
PURE_HEADERS = set("assert inttypes jansson limits sodium stdalign stdarg stdatomic stdbool stddef"
                   " stdint stdio stdlib string strings".split())
IMPURE_CALLS = (r"time|clock|clock_gettime|gettimeofday|localtime(?:_r)?|gmtime(?:_r)?|mktime"
                r"|fopen|fdopen|freopen|openat|creat|opendir|fstat|lstat|mmap"
                r"|fclose|fread|fwrite|fgets|fgetc|getc|getchar|fscanf|scanf|remove|rename"
                r"|tmpfile|tmpnam|randombytes\w*|srand|arc4random\w*|atexit|quick_exit|_Exit"
                r"|getenv|secure_getenv|setenv|setlocale|system|popen|exit|abort|rand|random"
                r"|printf|vprintf|puts|putchar|fputs|fprintf|vfprintf|perror|json_load_file"
                r"|json_loadf|json_dump_file|json_dumpf")


def pure_library(tree):
    """lib/ knows no HTTP, no SQL, no clock, no file system, no environment, no thread."""
    for path, text in tree.files({"lib"}, (".c", ".h")):
        for match in SYSTEM_INCLUDE.finditer(ctext.without_comments(text)):
            if match[1] not in PURE_HEADERS:
                yield path, ctext.line_of(text, match.start()), f"lib/ is pure: no <{match[1]}.h>"
        code = ctext.code_only(text)
        yield from breaches(path, text, code, r"(?<![\w.>])(?:" + IMPURE_CALLS + r")(?=\s*\()",
                            "lib/ is pure: no call of {0}()")
        yield from breaches(path, text, code, r"\b(?:stdout|stderr|stdin|FILE)\b",
                            "lib/ is pure: no {0}")


def whole_numbers(tree):
    """Scores are whole numbers: no floating point in lib/."""
    for path, text in tree.files({"lib"}, (".c", ".h")):
        yield from breaches(path, text, ctext.code_only(text),
                            r"\b(?:double|float|strto[df]|strtold|atof|json_real(?:_value)?"
                            r"|json_number_value)\b"
                            r"|(?<![\w.])(?:\d+\.\d*|\.\d+|\d+(?=[eE]))(?:[eE][+-]?\d+)?"
                            r"[fFlL]?(?![\w.])",
                            "no floating point in lib/: {0}")


# What makes a string SQL. Upper or lower case, but in the shape of a statement, since "select a
# car" is English.
SQL = re.compile(r"\bSELECT\s+[^;]*\bFROM\b|\bSELECT\b|\bINSERT\s+(?:OR\s+\w+\s+)?INTO\b"
                 r"|\bREPLACE\s+INTO\b|\bUPDATE\s+[\w%]+\s+SET\b|\bUPDATE\b|\bDELETE\s+FROM\b"
                 r"|\bDELETE\b|\bPRAGMA\s+\w")
SQL_ANY_CASE = re.compile(r"\bselect\s+\S.*\bfrom\s+[\w%]|\binsert\s+(?:or\s+\w+\s+)?into\s"
                          r"|\bupdate\s+[\w%]+\s+set\s|\bdelete\s+from\s", re.I)
FORMATTERS = r"\w*printf|textbuf_\w+|str(?:n?cat|n?cpy|lcat|lcpy)|stpn?cpy|sqlite3_str_\w+"
PLACEHOLDER = re.compile(r"%[-+ #0]*[\d*]*(?:\.[\d*]+)?(?:hh|h|ll|l|z|j|t)?[sdiuxXcqQw]")


def is_sql(string):
    return SQL.search(string) or SQL_ANY_CASE.search(string)


def bound_sql(tree):
    """SQL is constant text with bound values, never put together."""
    for path, text in tree.files({"lib", "server", "tests"}, (".c", ".h")):
        lines, spans = set(), []
        for offset, arguments in ctext.calls(text, FORMATTERS):
            if any(is_sql(string) for _, string in ctext.strings(arguments)):
                lines.add(ctext.line_of(text, offset))
                spans.append((offset, text.index("(", offset) + len(arguments)))
        for offset, string in ctext.strings(text):
            inside = any(begin <= offset <= end for begin, end in spans)
            if not inside and is_sql(string) and PLACEHOLDER.search(string):
                lines.add(ctext.line_of(text, offset))
        for line in sorted(lines):
            yield path, line, "SQL is never built by formatting; bind by name"


EVENTS = (r"abort|blur|change|click|close|dblclick|drag\w*|drop|error|focus|input|invalid|key\w+"
          r"|load|message|mouse\w+|pointer\w+|reset|resize|scroll|select|submit|toggle|touch\w+"
          r"|unload|wheel")
HANDLER = r"\bon(?:" + EVENTS + r")\s*=\s*\\?[\"']"


def text_nodes(tree):
    """Pages are built from text nodes and work under a strict content security policy."""
    for path, text in tree.files({"web"}, (".js", ".mjs", ".html", ".svg", ".txt", ".tmpl")):
        searched = ctext.without_comments(text) if path.endswith(("js",)) else text
        yield from breaches(
            path, text, searched,
            r"\b(?:innerHTML|outerHTML|insertAdjacentHTML|createContextualFragment)\b"
            r"|\bsetHTML\w*(?=\s*\()|\beval(?=\s*\()|\bnew\s+Function\b|\bdocument\.write\w*"
            r"|\bset(?:Timeout|Interval)\s*\(\s*[\"'`]",
            "text nodes only: {0}")
        yield from breaches(path, text, searched,
                            r"setAttribute\(\s*[\"']on\w+|\bjavascript:|" + HANDLER,
                            "no inline handler: {0}")
        # A template's {src:NAME} is an address; a block of data is no script.
        yield from breaches(path, text, searched,
                            r"<script\b(?![^>]*(?:\bsrc\s*=|\{src:|ld\+json))[^>]*>",
                            "no inline script: {0}")
    # A block of data is no script: the browser runs nothing of it.
    for path, text in tree.files({"server"}, (".c", ".h")):
        for offset, string in ctext.strings(text):
            if re.search(HANDLER + r"|\bjavascript:|<script\b(?![^>]*(?:\bsrc|ld\+json))", string):
                yield path, ctext.line_of(text, offset), "no inline script or handler in a page"


def top_level(tree):
    """The top level holds what TOP_LEVEL names, and dot-files."""
    for name in tree.top:
        if not name.startswith(".") and name not in TOP_LEVEL and name != BUILT:
            yield name, 1, "does not belong at the top level"


def short_files(tree):
    """A source file past 500 lines is split by noun."""
    sources = (".c", ".h", ".js", ".mjs", ".css", ".html", ".py", ".sh", ".sql")
    for path, text in tree.files({"lib", "server", "web", "tests", "seed-demo", "deploy", "schema"},
                                 sources):
        count = len(text.splitlines())
        if count > MAX_LINES:
            yield path, count, f"{count} lines; split by noun at {MAX_LINES}"


def licence_line(tree):
    """Each source names its licence in one of its first lines."""
    tops = {path.split("/", 1)[0] for path in tree.paths}
    for path, text in tree.files(tops, (".c", ".h", ".js", ".mjs", ".css", ".py", ".sh", ".sql")):
        if not any("SPDX-License-Identifier: MIT" in line for line in text.splitlines()[:3]):
            yield path, 1, "no SPDX-License-Identifier: MIT in the first three lines"


# Put together from halves so that this file may be checked like any other.
LEFT_OVER = "|".join(a + b for a, b in (("TO", "DO"), ("FIX", "ME"), ("XX", "X"), ("HA", "CK")))
FOLDERS = "|".join(("work", "root", "home"))
HOSTS = "|".join(re.escape(a + b) for a, b in (
    ("registry.", "npmjs.org"), ("registry.", "yarnpkg.com"), ("deb.", "debian.org"),
    ("security.", "debian.org"), ("snapshot.", "debian.org"), ("pypi", ".org"),
    ("files.", "pythonhosted.org"), ("proxy.", "golang.org")))


def clean_words(tree):
    """No left-over notes, no paths of one machine, no package hosts."""
    for path in tree.paths:
        text = tree.text(path)
        if text is None:
            continue
        yield from breaches(path, text, text, r"\b(?:" + LEFT_OVER + r")\b",
                            "left-over note: {0}")
        yield from breaches(path, text, text, r"(?<![\w.~/$})-])/(?:" + FOLDERS + r")/\w[\w./-]*",
                            "path of one machine: {0}")
        yield from breaches(path, text, text, r"\b(?:" + HOSTS + r")\b", "package host: {0}")


# Not <err.h>, which no standard knows: lib/base/err.h has that name.
SYSTEM_HEADERS = set(
    "aio assert complex ctype dirent dlfcn endian errno error fcntl features fenv float"
    " fnmatch ftw getopt glob grp iconv inttypes iso646 langinfo libgen limits locale"
    " malloc math memory mqueue netdb paths poll pthread pwd regex resolv sched"
    " search semaphore setjmp signal spawn"
    " stdalign stdarg stdatomic stdbool stddef stdint stdio stdlib stdnoreturn string strings"
    " sysexits syslimits syslog tar termios tgmath threads time uchar ucontext unistd utime utmp"
    " values wait wchar wctype wordexp".split())


def own_names(tree):
    """No header of ours has the name of a system header, which others would include instead."""
    for path in tree.paths:
        name, ending = os.path.splitext(os.path.basename(path))
        if ending == ".h" and name in SYSTEM_HEADERS:
            yield path, 1, f"<{name}.h> is a system header; choose another name"


def functions_described(tree):
    """Each function in a header has a comment above it."""
    for path, text in tree.files({"lib", "server"}, (".h",)):
        for offset, name, commented in ctext.prototypes(text):
            if not commented:
                yield path, ctext.line_of(text, offset), f"{name}() has no comment above it"


def comments_keep_their_lists(tree):
    """A parameter and "Returns:" begin a line of a header's comment: where a line is too long, the
    formatter joins it to the next, and the list of them is lost."""
    for path, text in tree.files({"lib", "server", "tests"}, (".h",)):
        yield from breaches(path, text, text,
                            r"^ *(?:/\*| \*) (?! ).*\S (?:Returns: |[a-z_]+  [a-z])|"
                            r"^ * \* {3,}.*\S Returns: ",
                            "a list of the comment runs on in the line: {0}")


def folders_of(path):
    """The folders that a file stands in."""
    while path := os.path.dirname(path):
        yield path


FOLDERS_NAMED = r"(?:lib|server|web|tests|schema|deploy|seed-demo)/"
PLACEHOLDER_NAME = r"[A-Z]{4,}|\*|…"  # NAME, ROOM, SLUG: one of many


def documents_name_files(tree):
    """A file or folder that a document names in backticks is there."""
    folders = {folder for path in tree.paths for folder in folders_of(path)}
    for path in tree.paths:
        text = tree.text(path) if path.endswith(".md") else None
        for quoted in re.finditer(r"`([^`\n]+)`", text or ""):
            for word in re.finditer(FOLDERS_NAMED + r"[\w./*-]*", quoted[1]):
                name = word[0].rstrip("/.")
                inside = word.start() > 0 and quoted[1][word.start() - 1] not in " ,="
                if not (inside or name in tree.known or name in folders
                        or re.search(PLACEHOLDER_NAME, name)):
                    yield path, ctext.line_of(text, quoted.start()), f"there is no {name}"


def comments_name_files(tree):
    """A file of C or SQL that a comment in lib/ or server/ names is there."""
    names = {os.path.basename(path) for path in tree.paths}
    for path, text in tree.files({"lib", "server"}, (".c", ".h")):
        code = ctext.without_comments(text)
        comments = "".join(a if a != b else "\n" if a == "\n" else " " for a, b in zip(text, code))
        system = {os.path.basename(name) for name in re.findall(r"#\s*include\s*<([^>\n]+)>", text)}
        for match in re.finditer(r"(?<![\w.])\w[\w-]*\.(?:[ch]|sql)\b", comments):
            if match[0] not in names | system:
                yield path, ctext.line_of(text, match.start()), f"there is no {match[0]}"


COLUMNS = "server/pages/columns.def"


def optional_columns_last(tree):
    """No column of a table stands behind one that a page may go without: there it would have
    another number than styles and scripts know it by."""
    if COLUMNS not in tree.known:
        return
    optional = None
    for number, line in enumerate(tree.text(COLUMNS).split("\n"), 1):
        entry = re.match(r'(TABLE|COLUMN|OPTIONAL)\("([^"]*)"', line)
        if entry is None:
            continue
        if entry[1] == "TABLE":
            optional = None
        elif entry[1] == "OPTIONAL":
            optional = entry[2]
        elif optional is not None:
            yield COLUMNS, number, (f"“{entry[2]}” stands behind “{optional}”, which a page may go "
                                    "without: put it before, or styles and scripts take another "
                                    "column for it there")


RULES = (rooms_downward, defined_in_their_room, declared_for_others, headers_apart,
         headers_without_cycles, web_rooms, sqlite_in_store_only, readers_have_no_model,
         pure_library, whole_numbers, bound_sql, text_nodes, top_level, short_files, licence_line,
         clean_words, own_names, functions_described, comments_keep_their_lists,
         documents_name_files, comments_name_files, optional_columns_last)


def check(root):
    """All breaches of all rules, sorted: (path, line, text)."""
    tree = Tree(root)
    return sorted({breach for rule in RULES for breach in rule(tree)})


def main(arguments):
    root = arguments[0] if arguments else os.path.join(os.path.dirname(__file__), "..", "..")
    found = check(os.path.abspath(root))
    for path, line, text in found:
        print(f"{path}:{line}: {text}")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
