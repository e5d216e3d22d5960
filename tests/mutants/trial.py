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
# How many times as long a test may take with a sanitizer.
SLOWNESS = 4


@dataclass(frozen=True)
class Tools:
    """Commands, as lists: a compiler of lib/ up to its file, a linker up to its files, what is linked
    behind them, what a test of memory that runs out is linked with besides, and what compiler and
    linker are told for the sanitizers."""

    build: str
    compile: list
    link: list
    libraries: list
    allocator: list
    sanitizers: list

    def compiled(self, text, out, sanitized=False):
        """Compiles the text of a file to `out`; whether it could."""
        more = self.sanitizers if sanitized else []
        done = subprocess.run([*self.compile, *more, "-x", "c", "-c", "-", "-o", out], input=text.encode(),
                              stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        return done.returncode == 0

    def linked(self, program, changed, out, sanitized=False):
        """Links a program to `out`, the object `changed` before the one in the library."""
        more = self.allocator if program.endswith("_nomem.o") else []
        more = [*more, *self.sanitizers] if sanitized else more
        done = subprocess.run([*self.link, *more, program, changed, *self.libraries, "-o", out],
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


def limited(command, sanitized):
    """A command with what it may take of memory. A sanitizer reserves all addresses there are, and
    counts for itself what is used."""
    if sanitized:
        options = f"{os.environ.get('ASAN_OPTIONS', '')}:hard_rss_limit_mb={MEMORY >> 20}"
        limits = ["prlimit", "--core=0", "env", f"ASAN_OPTIONS={options}"]
    else:
        limits = ["prlimit", f"--as={MEMORY}", "--core=0", "env", LITTER]
    return [*limits, "sh", "-c", "exec " + command]


def run(command, seconds, sanitized=False):
    """Runs a command, and ends it and what it started when its time is over. Returns None where it
    passed, else why not."""
    process = subprocess.Popen(
        limited(command, sanitized),
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

    def program(self, test):
        """The program as it was built without a change."""
        if test.program.endswith("/server/commands/main.o"):
            return f"{self.tools.build}/cairn"
        return f"{self.tools.build}/tests/{test.name}"

    def measure(self, test):
        """Runs a test without a change. Raises RuntimeError where it fails."""
        begin = time.monotonic()
        if run(test.command.format(self.program(test)), 600) is not None:
            raise RuntimeError(f"{test.name} fails without any change")
        self.seconds[test.name] = time.monotonic() - begin
        self._symbols[test.name] = symbols(self.program(test))

    def _asked(self, path, changed):
        """The tests whose programs have what a changed object defines, in order."""
        touched = symbols(changed)
        return [test for test in in_order(self.tests, path)
                if not touched or touched & self._symbols[test.name]]

    def kill(self, path, changed, folder):
        """Tries the object `changed` of the file `path`, in a folder of its own. Returns the name of the
        test that fails first and why, or (None, None) where the change survives them all."""
        linked = Linked(self, changed, folder)
        for test in self._asked(path, changed):
            why = run(linked.command(test), PATIENCE + 10 * self.seconds[test.name])
            if why is not None:
                return test.name, why
        return None, None

    def kill_sanitized(self, path, changed, plain, folder):
        """The same with an object that a sanitizer watches; a test counts only where it passes with
        `plain`, the watched object of the file without the change."""
        linked = Linked(self, changed, folder, sanitized=True)
        without = Linked(self, plain, f"{folder}/plain", sanitized=True)
        for test in self._asked(path, changed):
            limit = SLOWNESS * (PATIENCE + 10 * self.seconds[test.name])
            if (run(linked.command(test), limit, sanitized=True) is not None
                    and run(without.command(test), limit, sanitized=True) is None):
                return test.name, "sanitizer"
        return None, None


class Linked:
    """The programs of tests with one object changed, each linked when it is first asked for."""

    def __init__(self, bench, changed, folder, sanitized=False):
        self.bench = bench
        self.changed = changed
        self.folder = folder
        self.sanitized = sanitized
        self._programs = {}
        os.makedirs(folder, exist_ok=True)

    def command(self, test):
        """A test's command, of the changed program."""
        if test.program not in self._programs:
            out = f"{self.folder}/{os.path.basename(self.bench.program(test))}"
            self.bench.tools.linked(test.program, self.changed, out, self.sanitized)
            self._programs[test.program] = out
        return test.command.format(self._programs[test.program])
