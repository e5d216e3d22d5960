# SPDX-License-Identifier: MIT
"""C source seen two ways, for the linter: without comments and strings, and strings only.

Nothing here parses C; it only knows where comments and literals begin and end, which is what a
search for words needs so that prose does not count as code.
"""

import re

_TOKEN = re.compile(
    r"""(?P<comment>/\*.*?\*/|//[^\n]*)"""
    r"""|(?P<string>"(?:\\.|[^"\\\n])*")"""
    r"""|(?P<char>'(?:\\.|[^'\\\n])+')""", re.S)


def _blank(text):
    """As many characters, same line ends, nothing in them."""
    return re.sub(r"[^\n]", " ", text)


def code_only(text):
    """The code with comments blanked and literals emptied; every offset stays where it was."""
    def one(match):
        whole = match.group()
        if match.lastgroup == "comment":
            return _blank(whole)
        return whole[0] + _blank(whole[1:-1]) + whole[-1]
    return _TOKEN.sub(one, text)


def without_comments(text):
    """The code and its literals, comments blanked; every offset stays where it was."""
    return _TOKEN.sub(lambda m: _blank(m.group()) if m.lastgroup == "comment" else m.group(), text)


def strings(text):
    """(offset, content) of each string literal, those that stand side by side joined."""
    joined, end = [], None
    for match in _TOKEN.finditer(text):
        if match.lastgroup == "comment":
            continue
        if match.lastgroup == "char":
            end = None
            continue
        content = match.group()[1:-1]
        between = without_comments(text[end:match.start()]) if end is not None else "x"
        if joined and not between.replace("\\\n", "").strip():
            joined[-1] = (joined[-1][0], joined[-1][1] + content)
        else:
            joined.append((match.start(), content))
        end = match.end()
    return joined


def line_of(text, offset):
    """The line, from 1, on which an offset stands."""
    return text.count("\n", 0, offset) + 1


def calls(text, name):
    """(offset, argument text) of each call of a function whose name matches the pattern `name`.
    The arguments keep their strings; comments are blanked."""
    code, full = code_only(text), without_comments(text)
    for match in re.finditer(r"\b(?:" + name + r")\s*\(", code):
        depth, at = 1, match.end()
        while at < len(code) and depth:
            depth += {"(": 1, ")": -1}.get(code[at], 0)
            at += 1
        yield match.start(), full[match.end():at - 1]


def prototypes(text):
    """(offset, name, commented) of each function declared in a header. `commented` tells whether
    a comment ends right above it; declarations without a blank line between share the comment
    above the first."""
    code = code_only(text)
    # Preprocessor lines, with their continuations, declare nothing.
    code = re.sub(r"^[ \t]*#(?:[^\n\\]|\\.|\\\n)*", lambda m: _blank(m.group()), code, flags=re.M)
    commented, last_end = False, 0
    for begin, end in _declarations(code):
        gap = text[last_end:begin]
        commented = _comment_above(text, begin) or (
            commented and not gap.strip() and gap.count("\n") <= 1)
        last_end = end
        head = code[begin:end].split("{", 1)[0]
        found = re.match(r"(?!typedef\b|(?:_S|s)tatic_assert\b)[^()=]*?(\w+)\s*\((?!\s*\*)", head)
        if found:
            yield begin, found.group(1), commented


def _declarations(code):
    """(begin, end) of each declaration at file level in code without comments. One that is cut
    off by the end of the file is none."""
    begin, depth = None, 0
    for at, char in enumerate(code):
        if begin is None:
            if char.isspace():
                continue
            begin = at
        depth += {"{": 1, "}": -1}.get(char, 0)
        if depth:
            continue
        # A type's body goes on to its semicolon; a function's ends the definition.
        body_ends = char == "}" and re.match(r"[^{;=]*\)\s*\{", code[begin:at])
        if char == ";" or body_ends:
            yield begin, at + 1
            begin = None


def _comment_above(text, offset):
    above = text[:offset].split("\n")
    above.pop()  # the declaration's own line, up to it
    line = above[-1].strip() if above else ""
    return line.endswith("*/") or line.startswith("//")


_DEFINES = re.compile(r"^(?!static\b|extern\b|typedef\b)(?:[A-Za-z_][\w \t*]*?[ *])?(\w+)"
                      r"(?:\([^;{}]*\)\s*\{|(?:\[[^\]\n]*\])*\s*[=;])|^SHARED_LIBRARY\(\s*(\w+)",
                      re.M)


def defined(text):
    """The names of the functions and variables that a .c file defines for others."""
    return [match[1] or match[2] for match in _DEFINES.finditer(code_only(text))]


def declared(text):
    """(offset, name) of each function and variable that a header leaves to a .c file."""
    code = code_only(text)
    for offset, name, _ in prototypes(text):
        if re.match(r"(?!static\b)[^;{]*;", code[offset:]):
            yield offset, name
    for match in re.finditer(r"^extern\b[^;{}()]*?\b(\w+)(?:\[[^\]\n]*\])*;", code, re.M):
        yield match.start(), match[1]
