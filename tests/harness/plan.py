# SPDX-License-Identifier: MIT
"""Which programs test cairn: found by pattern, in the order in which they are started.

A new test needs no line here: a C program below one of C_FOLDERS, a test_*.py anywhere, a
test_*.mjs of tests/browser or a *.test.mjs of tests/web, a fuzz_*.c of tests/fuzz.

The seconds are a guard against a program that hangs: a busy machine may take many times what a
program takes alone.
"""

import glob
import os
import shlex
import sys
from dataclasses import dataclass

BUILD = os.environ.get("BUILD", "build")
CAIRN = os.environ.get("CAIRN", os.path.join(BUILD, "cairn"))
NODE = os.environ.get("NODE", "node")
ORACLE_SEEDS = os.environ.get("ORACLE_SEEDS", "1:8")

# make's own targets.
LINTS = ("tidy-lib", "tidy-server", "tidy-tests", "cppcheck", "format-check", "lint-web", "house")
C_FOLDERS = ("lib", "server", "published", "reference", "properties")
# Python that looks at the sources or at the tests themselves: a sanitizer has nothing to find there.
LINT_FOLDERS = ("lint", "harness", "support", "mutants")

# A browser is many programs, and tests in it hold the page to some milliseconds: those run one at a
# time.
ALONE = "browser/"


@dataclass(frozen=True)
class Program:
    """One test program: its name, the seconds it may take, the shell command that runs it."""

    name: str
    seconds: int
    command: str


def found(pattern):
    """The files that match, below the repository's root, in the order of their names."""
    return sorted(glob.glob(pattern, recursive=True))


def name_of(path):
    """tests/lib/base/test_arena.c is lib/base/test_arena."""
    return os.path.splitext(os.path.relpath(path, "tests"))[0]


def make(target):
    """A target of the Makefile, run without jobs of its own: the plan counts it as one."""
    return f"MAKEFLAGS= make --no-print-directory -j1 -k {target}"


def python(path):
    folder, file = os.path.split(path)
    return Program(name_of(path), 600, f"{shlex.quote(sys.executable)} -m unittest discover"
                                       f" -s {folder} -t {folder} -p {file}")


def python_of(folders):
    return [python(path) for folder in folders for path in found(f"tests/{folder}/**/test_*.py")]


def lint():
    return [Program("lint/" + target, 1200, make(target)) for target in LINTS] + python_of(LINT_FOLDERS)


def fuzz():
    return [Program("fuzz/" + name, 400, make(name + "-short"))
            for name in (os.path.basename(name_of(path)) for path in found("tests/fuzz/fuzz_*.c"))]


def browser():
    return [Program(name_of(path), 600, f"{NODE} {path}")
            for path in found("tests/browser/test_*.mjs") + found("tests/web/**/*.test.mjs")]


def programs():
    """What the sanitizer and coverage variants run, too. The longest begin first; the soak waits more
    than it works, and is never last."""
    differ = f"{shlex.quote(sys.executable)} tests/oracle/differ.py --cairn {CAIRN} --seeds {ORACLE_SEEDS}"
    plan = [Program("oracle/differ", 900, differ), Program("oracle/differ-more", 900, differ + " --more")]
    plan += [Program(tree, 600, f"{BUILD}/tests/run_cases build/{tree} {CAIRN}")
             for tree in ("cases", "broken")]
    for folder in C_FOLDERS:
        plan += [Program(name_of(path), 600, f"{BUILD}/tests/{os.path.basename(name_of(path))}")
                 for path in found(f"tests/{folder}/**/*.c")]
    others = sorted(folder for folder in os.listdir("tests")
                    if folder not in (*LINT_FOLDERS, "soak", "node_modules"))
    return plan + python_of(["soak", *others])


KINDS = {"lint": lint, "fuzz": fuzz, "browser": browser, "programs": programs}


def plan_of(kinds):
    """The programs of these kinds. Raises ValueError where a kind has none or a name comes twice."""
    plan = []
    for kind in kinds:
        more = KINDS[kind]()
        if not more:
            raise ValueError(f"no test of kind {kind}")
        plan += more
    names = [program.name for program in plan]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError("two tests of one name: " + " ".join(twice))
    return plan
