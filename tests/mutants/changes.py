# SPDX-License-Identifier: MIT
"""Small changes that a C source may suffer, and which of them are tried.

Nothing here parses C: a change is found by how clang-format writes code, and the compiler decides
whether what comes out is a program at all.
"""

import hashlib
import re
from collections import defaultdict
from dataclasses import dataclass

from tests.lint import ctext


@dataclass(frozen=True)
class Change:
    """One change of one file: text[begin:end] becomes `after`."""

    path: str
    sort: str
    begin: int
    end: int
    line: int
    source: str  # the line it stands in, without what surrounds it
    before: str
    after: str

    def applied(self, text):
        """The file's text with this change."""
        return text[:self.begin] + self.after + text[self.end:]

    def told(self):
        """FILE:LINE: what became what."""
        after = " ".join(self.after.split())
        return f"{self.path}:{self.line}: {self.sort}: `{self.before}` became `{after}`"


# An operator stands between blanks, or at the end of a line.
def _operators(swaps):
    longest = sorted(swaps, key=len, reverse=True)
    pattern = re.compile(r"(?<=[ \n])(" + "|".join(map(re.escape, longest)) + r")(?=[ \n])")

    def find(code, _enums):
        for match in pattern.finditer(code):
            for after in swaps[match[1]]:
                yield match.start(1), match.end(1), after
    return find


comparisons = _operators({"<": ["<=", ">"], "<=": ["<", ">="], ">": [">=", "<"], ">=": [">", "<="],
                          "==": ["!="], "!=": ["=="]})
logic = _operators({"&&": ["||"], "||": ["&&"]})
_between_values = _operators({"+": ["-"], "-": ["+"], "*": ["+"], "/": ["*"], "%": ["/"],
                              "<<": [">>"], ">>": ["<<"], "&": ["|"], "|": ["&"],
                              "+=": ["-="], "-=": ["+="], "|=": ["&="]})


def arithmetic(code, enums):
    yield from _between_values(code, enums)
    for match in re.finditer(r"\+\+|--", code):
        yield match.start(), match.end(), "--" if match[0] == "++" else "++"


def _closing(code, opening):
    """The offset of the bracket that closes the one at `opening`; None where none does."""
    depth = 0
    for at in range(opening, len(code)):
        depth += {"(": 1, ")": -1}.get(code[at], 0)
        if depth == 0:
            return at
    return None


def conditions(code, _enums):
    """A condition negated, or its negation left out."""
    for match in re.finditer(r"\b(?:if|while) (?=\()", code):
        end = _closing(code, match.end())
        if end is not None:
            yield match.end(), end + 1, f"(!{code[match.end():end + 1]})"
    for match in re.finditer(r"!(?=[\w(])", code):
        yield match.start(), match.end(), ""


def constants(code, _enums):
    """A number one too large or too small, and the other truth value. Behind a minus only one nearer
    to 0: -1 says that there is none and is asked for by < 0, and -2 would say so too."""
    for match in re.finditer(r"(-?)(?<![\w.])(\d+)(u?)(?![\w.])", code):
        number = int(match[2])
        for other in (number + 1, number - 1):
            if other >= 0 and not (match[1] and other > number):
                yield match.start(2), match.end(), f"{other}{match[3]}"
    for match in re.finditer(r"\b(?:true|false)\b", code):
        yield match.start(), match.end(), "false" if match[0] == "true" else "true"


_NO_STATEMENT = re.compile(r"(?:if|for|while|switch|case|default|do|else|goto|return \S|static|const"
                           r"|struct|enum|typedef|unsigned|int|bool|char|size_t|int64_t)\b")


def statements(code, _enums):
    """A statement left out: an assignment, a call, a break."""
    for match in re.finditer(r"^[ \t]+(?=[\w(*+-])", code, re.M):
        before = code[:match.start()].rstrip()
        end = code.find(";", match.end())
        text = code[match.end():end]
        if (end < 0 or not re.search(r"[;{}):]$|\belse$", before) or _NO_STATEMENT.match(text)
                or re.search(r"[{}]", text) or text.count("(") != text.count(")")):
            continue
        yield match.end(), end + 1, "(void)0;"


def members(code, enums):
    """A member of an enumeration that is another one of it."""
    for match in re.finditer(r"\b[A-Z][A-Z0-9_]+\b", code):
        if match[0] in enums:
            yield match.start(), match.end(), enums[match[0]]


SORTS = {"comparison": comparisons, "logic": logic, "condition": conditions,
         "arithmetic": arithmetic, "constant": constants, "statement": statements,
         "member": members}


def enumerations(texts):
    """Each member of the enumerations with a name: the member behind it, the first behind the last.
    How many there are is a number and no member."""
    follows = {}
    for text in texts:
        for match in re.finditer(r"\benum \w+ \{([^{}]*)\}", ctext.code_only(text)):
            names = [part.split("=")[0].strip() for part in match[1].split(",")]
            names = [name for name in names if name and not name.endswith("_COUNT")]
            if len(names) > 1:
                follows.update(zip(names, names[1:] + names[:1]))
    return follows


_ALLOCATION = re.compile(r"\b(?:(?:m|c|re)alloc|arena_(?:alloc|array)|\w+_reserve)(?=\()")


def _blank(text):
    return re.sub(r"[^\n]", " ", text)


def _searched(text):
    """The code in which changes are looked for, every offset where it was: no comments, literals,
    preprocessor lines, types or assertions. Nor how much memory is asked for: too much is no mistake,
    and too little is for the sanitizers to see."""
    code = ctext.code_only(text)
    for pattern in (r"^[ \t]*#(?:[^\n\\]|\\.|\\\n)*", r"\benum \w* ?\{[^{}]*\}",
                    r"\bstatic_assert\([^;]*;"):
        code = re.sub(pattern, lambda m: _blank(m[0]), code, flags=re.M)
    for match in _ALLOCATION.finditer(code):
        end = _closing(code, match.end())
        if end is not None:
            code = code[:match.end() + 1] + _blank(code[match.end() + 1:end]) + code[end:]
    return code


def changes_of(path, text, enums):
    """Every change of a file, in the order of its lines for each sort."""
    code = _searched(text)
    lines = text.split("\n")
    for sort, find in SORTS.items():
        for begin, end, after in find(code, enums):
            line = ctext.line_of(text, begin)
            after = _literals_back(text, begin, end, after)
            yield Change(path, sort, begin, end, line, lines[line - 1].strip(),
                         " ".join(text[begin:end].split()), after)


def _literals_back(text, begin, end, after):
    """A negated condition with its literals, which the searched code lacks."""
    return f"(!{text[begin:end]})" if after.startswith("(!") else after


def ranked(changes, seed):
    """All changes in the order in which they are tried: one of each file, so that none is passed over
    because it is small, then the sorts by turns; within these as their digests stand, so that a line
    keeps its rank when others come and go; and no line twice."""
    seen, queues, taken = defaultdict(int), defaultdict(list), set()
    for change in changes:
        name = f"{seed}\n{change.path}\n{change.source}\n{change.before}\n{change.after}"
        seen[name] += 1
        digest = hashlib.sha256(f"{name}\n{seen[name]}".encode()).digest()
        queues[change.sort].append((digest, change))
    for queue in queues.values():
        queue.sort(key=lambda pair: pair[0])
    firsts = {}
    for _, change in sorted(sum(queues.values(), []), key=lambda pair: pair[0]):
        firsts.setdefault(change.path, change)
    turns = [iter([change for _, change in queues[sort]]) for sort in SORTS]
    for change in firsts.values():
        taken.add((change.path, change.line))
        yield change
    while turns:
        for turn in list(turns):
            change = next((c for c in turn if (c.path, c.line) not in taken), None)
            if change is None:
                turns.remove(turn)
                continue
            taken.add((change.path, change.line))
            yield change
