# SPDX-License-Identifier: MIT
"""A changed file compiled, linked in the place of what it was, and tried by the tests.

Everything else stays as `make programs` has built it: one object is compiled, and a program is
linked again when it is about to run.
"""

import glob
import os
import shlex
import subprocess
import sys
import time
from dataclasses import dataclass

# What a changed program may take, so that one that runs wild ends by itself; threads reserve much.
MEMORY = 4 << 30
# Memory that was not set yet, or is given back, is full of this: who reads it is seen.
LITTER = "MALLOC_PERTURB_=165"
# Seconds on top of ten times what the test takes without a change.
PATIENCE = 15


@dataclass(frozen=True)
class Tools:
    """Commands, as lists: a compiler of lib/ up to its file, a linker up to its files, what is linked
    behind them, and what a test of memory that runs out is linked with besides."""

    build: str
    compile: list
    link: list
    libraries: list
    allocator: list

    def compiled(self, text, out):
        """Compiles the text of a file to `out`; whether it could."""
        done = subprocess.run([*self.compile, "-x", "c", "-c", "-", "-o", out], input=text.encode(),
                              stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        return done.returncode == 0

    def linked(self, program, changed, out):
        """Links a program to `out`, the object `changed` before the one in the library."""
        wraps = self.allocator if program.endswith("_nomem.o") else []
        done = subprocess.run([*self.link, *wraps, program, changed, *self.libraries, "-o", out],
                              capture_output=True, text=True)
        if done.returncode != 0:
            raise RuntimeError(f"{program} cannot be linked: {done.stderr}")


@dataclass(frozen=True)
class Test:
    """A test: the object whose program is linked again, and its command, {} for that program."""

    name: str
    program: str
    command: str


def of_cases(build):
    """Whole events, scored by the program, and files that it must refuse."""
    main = f"{build}/obj/server/commands/main.o"
    return [Test(tree, main, f"{build}/tests/run_cases build/{tree} {{}}")
            for tree in ("cases", "broken")]


def of_oracle(build, seeds):
    """Random events, scored by the program and by the second scorer; again with "More rules"."""
    main = f"{build}/obj/server/commands/main.o"
    differ = f"{shlex.quote(sys.executable)} tests/oracle/differ.py --cairn {{}} --seeds {seeds}"
    return [Test("differ", main, differ), Test("differ-more", main, differ + " --more")]


def of_units(build, *folders):
    """The programs of folders of C tests."""
    found = sorted(path for folder in folders
                   for path in glob.glob(f"tests/{folder}/**/*.c", recursive=True))
    return [Test(os.path.basename(path)[:-2], f"{build}/obj/{path[:-2]}.o", "{}") for path in found]


def all_tests(build, seeds):
    """All tests, those first that tell most in the least time."""
    units = of_units(build, "lib", "published")
    refused = [test for test in units if test.name.endswith("_nomem")]
    return (of_cases(build) + [test for test in units if test not in refused] + refused
            + of_oracle(build, seeds) + of_units(build, "server", "properties"))


def in_order(tests, path):
    """The tests of a file's change: the unit test of its name comes before all others."""
    own = "test_" + os.path.basename(path)[:-2]
    return sorted(tests, key=lambda test: test.name != own)


def run(command, seconds):
    """Runs a command, and ends it and what it started when its time is over. Returns None where it
    passed, else why not."""
    process = subprocess.Popen(
        ["prlimit", f"--as={MEMORY}", "--core=0", "env", LITTER, "sh", "-c", "exec " + command],
        stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        start_new_session=True)
    try:
        code = process.wait(timeout=seconds)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, 9)
        process.wait()
        return "time"
    return None if code == 0 else "failure"


def symbols(path):
    """The names that an object or a program defines for others."""
    said = subprocess.run(["nm", "--defined-only", "-g", path], capture_output=True, text=True, check=True)
    return {line.split()[-1] for line in said.stdout.splitlines() if line.strip()}


class Bench:
    """The tests with what is known of each: how long it takes, which functions its program has."""

    def __init__(self, tools, tests):
        self.tools = tools
        self.tests = tests
        self.seconds = {}
        self._symbols = {}

    def _program(self, test):
        """The program as it was built without a change."""
        if test.program.endswith("/server/commands/main.o"):
            return f"{self.tools.build}/cairn"
        return f"{self.tools.build}/tests/{test.name}"

    def measure(self, test):
        """Runs a test without a change. Raises RuntimeError where it fails."""
        begin = time.monotonic()
        if run(test.command.format(self._program(test)), 600) is not None:
            raise RuntimeError(f"{test.name} fails without any change")
        self.seconds[test.name] = time.monotonic() - begin
        self._symbols[test.name] = symbols(self._program(test))

    def kill(self, path, changed, folder):
        """Tries the object `changed` of the file `path`, in a folder of its own. Returns the name of the
        test that fails first and why, or (None, None) where the change survives them all."""
        os.makedirs(folder, exist_ok=True)
        touched = symbols(changed)
        linked = {}
        for test in in_order(self.tests, path):
            if touched and not touched & self._symbols[test.name]:
                continue
            if test.program not in linked:
                linked[test.program] = f"{folder}/{os.path.basename(self._program(test))}"
                self.tools.linked(test.program, changed, linked[test.program])
            limit = PATIENCE + 10 * self.seconds[test.name]
            why = run(test.command.format(linked[test.program]), limit)
            if why is not None:
                return test.name, why
        return None, None
