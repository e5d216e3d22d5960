# SPDX-License-Identifier: MIT
"""Cases: event folders told by what differs from a base, and what a program says of them.

A case is one file, tests/cases/NAME.json (events that are scored) or tests/broken/NAME.json (events
that are refused, and commands that are):

    about     what the case shows, worked by hand
    contract  the sentence of the contract that it holds the program to
    source    where the rule is published, or that it is told from memory; without it the rule is
              cairn's own
    base      a folder of tests/bases/, whose files the case begins with; without it there are none
    files     file name: the whole file, as an array of its lines, as an object (an event.json), as one
              string where the last line has no end, or null where there is no such file
    set       file name: {place: value}. In event.json a place is written as the program writes it,
              "route[2].speeds[0].speed"; in any file it may be a line's number, "3", whose value is
              that line's text or an array of the lines to stand there instead. The place behind the
              last is added
    remove    file name: [places]
    encoding  file name: the encoding it is written in, where that is not UTF-8
    runs      what is run and what is expected of it: tests/cases/run_cases.c

`python3 -m tests.support.cases` writes every case as a folder below build/, which is where whoever
needs one reads it: build/cases/NAME/case.json (about, contract, source, runs) and build/cases/NAME/event/.
Run in the repository's root, as all tests are.
"""

import os
import re
import shutil
import sys

from tests.support import json_text

TREES = ("cases", "broken")
BASES = os.path.join("tests", "bases")
KEYS = ("about", "contract", "source", "base", "files", "set", "remove", "encoding", "runs")
STEP = re.compile(r"\.?([^.\[\]]+)|\[(\d+)\]")


class CaseError(Exception):
    """A case that cannot be made into a folder: the message says which and why."""


def _steps(place):
    """The keys and indices of a place: "route[2].at" is ["route", 2, "at"]."""
    steps, end = [], 0
    for step in STEP.finditer(place):
        if step.start() != end:
            break
        steps.append(step[1] if step[2] is None else int(step[2]))
        end = step.end()
    if end != len(place) or not steps:
        raise CaseError(f"no place: {place!r}")
    return steps


def _holder(value, place):
    """What holds a place, and its key or index there."""
    *steps, last = _steps(place)
    try:
        for step in steps:
            value = value[step]
    except (KeyError, IndexError, TypeError):
        value = None
    if not isinstance(value, list if isinstance(last, int) else dict):
        raise CaseError(f"{place} is nowhere in the base")
    return value, last


def _set_value(event, place, new):
    holder, last = _holder(event, place)
    if isinstance(last, int) and last == len(holder):
        holder.append(new)
    elif isinstance(last, int) and last > len(holder):
        raise CaseError(f"{place} is behind the place behind the last")
    else:
        holder[last] = new


def _remove_values(event, places):
    """Takes the places away; the indices are those of before."""
    found = [_holder(event, place) for place in places]
    for holder, last in sorted(found, key=lambda f: f[1] if isinstance(f[1], int) else -1, reverse=True):
        try:
            del holder[last]
        except (KeyError, IndexError):
            raise CaseError(f"{last} is to be removed and is not there") from None


def _change_lines(text, changes, removed):
    """A text with some of its lines replaced, added behind the last, or removed."""
    lines = [[line] for line in text.removesuffix("\n").split("\n")]
    for place, new in changes.items():
        number = int(place)
        if not 1 <= number <= len(lines) + 1:
            raise CaseError(f"no line {number}")
        lines[number - 1:number] = [new if isinstance(new, list) else [new]]
    for place in removed:
        if not 1 <= int(place) <= len(lines):
            raise CaseError(f"no line {place}")
        lines[int(place) - 1] = []
    return "".join(line + "\n" for block in lines for line in block)


def _changed(text, changes, removed):
    """A file's text after its changes: those of values first, then those of lines."""
    values = {place: new for place, new in changes.items() if not place.isdigit()}
    places = [place for place in removed if not place.isdigit()]
    if values or places:
        event = json_text.read(text)
        for place, new in values.items():
            _set_value(event, place, new)
        _remove_values(event, places)
        text = json_text.text(event)
    return _change_lines(text, {place: new for place, new in changes.items() if place.isdigit()},
                         [place for place in removed if place.isdigit()])


def _whole(content):
    """The text of a file that a case gives whole."""
    if isinstance(content, list):
        return "".join(line + "\n" for line in content)
    return content if isinstance(content, str) else json_text.text(content)


def base_files(name):
    """The texts of a base's files, by name."""
    folder = os.path.join(BASES, name)
    texts = {}
    for file in sorted(os.listdir(folder)):
        with open(os.path.join(folder, file), encoding="utf-8", newline="") as content:
            texts[file] = content.read()
    return texts


def event_files(case):
    """The bytes of each file of a case's event folder, by name. Raises CaseError."""
    unknown = set(case) - set(KEYS)
    if unknown:
        raise CaseError("no key of a case: " + ", ".join(sorted(unknown)))
    texts = base_files(case["base"]) if "base" in case else {}
    for file, content in case.get("files", {}).items():
        if content is None and file not in texts:
            raise CaseError(f"the base has no {file}")
        texts.pop(file, None)
        if content is not None:
            texts[file] = _whole(content)
    changes, removed = case.get("set", {}), case.get("remove", {})
    for file in sorted({*changes, *removed, *case.get("encoding", {})}):
        if file not in texts:
            raise CaseError(f"there is no {file} to change")
    for file in sorted({*changes, *removed}):
        texts[file] = _changed(texts[file], changes.get(file, {}), removed.get(file, []))
    return {file: text.encode(case.get("encoding", {}).get(file, "utf-8"))
            for file, text in texts.items()}


def sources(tree):
    """The case files of a tree, in the order of their names: (name of the case, path)."""
    folder = os.path.join("tests", tree)
    return [(file[:-len(".json")], os.path.join(folder, file))
            for file in sorted(os.listdir(folder)) if file.endswith(".json")]


def read(path):
    """A case as it is written, its numbers as json_text.Number."""
    with open(path, encoding="utf-8") as text:
        return json_text.read(text.read())


def _stands(folder, files):
    """Whether a folder holds these files and no others."""
    found = {os.path.relpath(os.path.join(at, name), folder)
             for at, _, names in os.walk(folder) for name in names}
    if found != set(files):
        return False
    for name, content in files.items():
        with open(os.path.join(folder, name), "rb") as there:
            if there.read() != content:
                return False
    return True


def write_folder(case, folder):
    """Writes a case as a folder; what else stands there goes. One that stands so already is not
    touched: a test may be reading it."""
    told = {key: case[key] for key in ("about", "contract", "source", "runs")
            if key != "source" or key in case}
    files = {"case.json": json_text.text(told).encode()}
    files.update((os.path.join("event", name), content) for name, content in event_files(case).items())
    if _stands(folder, files):
        return
    shutil.rmtree(folder, ignore_errors=True)
    os.makedirs(os.path.join(folder, "event"))
    for name, content in files.items():
        with open(os.path.join(folder, name), "wb") as out:
            out.write(content)


def write_all(build):
    """Writes every case below `build`; a folder whose case is gone goes. Returns how many there are."""
    written = 0
    for tree in TREES:
        home = os.path.join(build, tree)
        os.makedirs(home, exist_ok=True)
        names = []
        for name, path in sources(tree):
            try:
                write_folder(read(path), os.path.join(home, name))
            except (CaseError, ValueError, KeyError, OSError) as wrong:
                raise CaseError(f"{path}: {wrong}") from wrong
            names.append(name)
        for other in set(os.listdir(home)) - set(names):
            shutil.rmtree(os.path.join(home, other))
        written += len(names)
    return written


if __name__ == "__main__":
    try:
        print(f"  cases   {write_all('build')} folders")
    except CaseError as wrong:
        sys.exit(str(wrong))
