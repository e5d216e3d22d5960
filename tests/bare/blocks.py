# SPDX-License-Identifier: MIT
"""The commands that stand in a document.

A fenced block whose label is `sh on MACHINE` is commands for the reader, and for the test: they are
run word for word on the machine of that name (`both`: first and second). Every other block has the
label `text`: something to be read or put into a file. Blocks made by indenting are not used in such
documents, so that none is passed over.
"""

import collections
import re

Block = collections.namedtuple("Block", "heading machine line text")


class Malformed(Exception):
    """A document whose blocks cannot be told apart; the text names the line."""


def blocks(name, text):
    """The commands of a document in their order. Raises Malformed."""
    found, heading, fence, lines = [], "", None, []
    before = ""
    for number, line in enumerate(text.splitlines(), 1):
        if fence is not None:
            if line.strip() == "```":
                if fence[0] is not None:
                    found.append(Block(heading, fence[0], fence[1], "\n".join(lines) + "\n"))
                fence = None
            else:
                lines.append(line)
        elif line.startswith("```"):
            label = re.fullmatch(r"```(?:text|sh on ([a-z]+))", line)
            if label is None:
                raise Malformed(f"{name}:{number}: a block is ```text or ```sh on MACHINE")
            fence, lines = (label[1], number), []
        elif re.match(r"    \S", line) and (before == "" or before.startswith("    ")):
            raise Malformed(f"{name}:{number}: an indented block: use ```text or ```sh on MACHINE")
        elif line.startswith("#"):
            heading = line.lstrip("# ")
        before = line
    if fence is not None:
        raise Malformed(f"{name}:{fence[1]}: a block without an end")
    return found
