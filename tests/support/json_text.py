# SPDX-License-Identifier: MIT
"""JSON as the test files are written: numbers keep their spelling, what fits into a line stands in
one, and a character that cannot be seen is escaped.

    python3 -m tests.support.json_text FILE…        writes files again in this layout
"""

import json
import sys

WIDTH = 100


class Number(str):
    """A number as it was spelt: 5.3700 is another text than 5.37, and 3e0 than 3."""


def _once(pairs):
    """An object's keys and values. Raises ValueError where a key comes twice."""
    values = dict(pairs)
    if len(values) != len(pairs):
        raise ValueError("a key comes twice")
    return values


def read(text):
    """The value of a JSON text, its numbers as Number. Raises ValueError where it is none."""
    return json.loads(text, parse_float=Number, parse_int=Number, object_pairs_hook=_once)


def plain(value):
    """The same value with ordinary numbers."""
    return json.loads(line(value))


def line(value):
    """A value in one line."""
    if isinstance(value, Number):
        return str(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{line(key)}: {line(part)}" for key, part in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(line(part) for part in value) + "]"
    written = json.dumps(value, ensure_ascii=False)
    return "".join(sign if sign.isprintable() else f"\\u{ord(sign):04x}" for sign in written)


def _block(value, indent, used, behind):
    """A value that begins `used` columns into its line and has `behind` characters after it."""
    text = line(value)
    if not isinstance(value, (dict, list)) or not value or used + len(text) + behind <= WIDTH:
        return text
    return _rows(value, indent, _block)


def _rows(value, indent, write):
    """An object or array with a line for each part."""
    named = isinstance(value, dict)
    heads = [line(key) + ": " for key in value] if named else [""] * len(value)
    parts = list(value.values()) if named else value
    rows = []
    for number, (head, part) in enumerate(zip(heads, parts), 1):
        head = " " * (indent + 2) + head
        rows.append(head + write(part, indent + 2, len(head), int(number < len(parts))))
    opening, closing = "{}" if named else "[]"
    return opening + "\n" + ",\n".join(rows) + "\n" + " " * indent + closing


def text(value):
    """A whole file: the outermost braces have lines of their own."""
    if isinstance(value, (dict, list)) and value:
        return _rows(value, 0, _block) + "\n"
    return line(value) + "\n"


def main(paths):
    for path in paths:
        with open(path, encoding="utf-8") as file:
            written = text(read(file.read()))
        with open(path, "w", encoding="utf-8") as file:
            file.write(written)


if __name__ == "__main__":
    main(sys.argv[1:])
