#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""A second scorer, written from the contract alone, to check the first one against.

Usage: oracle.py FOLDER [--live [--public]] [--after POINT] [--by VIEW] [--card N]
Prints the JSON shapes of section 5. It assumes a valid folder and explains nothing.
"""
import argparse
import json
import sys

import facts
from shapes import Results
from view import View

VIEWS = ("overall", "class", "category", "group", "day", "test", "team")


def score(loaded, live=False, public=False, after=None, by="overall", card=None):
    """The shape asked for, from facts that `facts.load` read."""
    results = Results(View(loaded, live, public, after))
    return results.standings(by) if card is None else results.card(card)


def main(arguments):
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folder")
    parser.add_argument("--live", action="store_true")
    parser.add_argument("--public", action="store_true")
    parser.add_argument("--after")
    parser.add_argument("--by", choices=VIEWS, default="overall")
    parser.add_argument("--card", type=int)
    options = parser.parse_args(arguments)
    shape = score(facts.load(options.folder), options.live, options.public, options.after, options.by,
                  options.card)
    print(json.dumps(shape, ensure_ascii=False, indent=1))


if __name__ == "__main__":
    main(sys.argv[1:])
