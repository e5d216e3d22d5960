# SPDX-License-Identifier: MIT
"""How many small changes of the scoring do the tests see?

    make mutants                                     150 changes, always the same ones
    make mutants MUTANTS_ARGS="--count 40 --seed 2"  others
    make mutants MUTANTS_ARGS="--only totals"        of files whose path has that (several: --only twice)

Each change is compiled alone and tried by the cases, the unit tests, published figures, the second
scorer and the properties, until one of them fails; one that survives them all is tried once more with
its file watched by the address and undefined-behaviour sanitizers, as `make asan` would. A change that does not compile, that makes
the same machine code, or that equal.json says makes no difference, is replaced by another one. Those
that survive are named; the run fails where less than LEAST percent are killed.
"""

import argparse
import itertools
import json
import os
import queue
import random
import shlex
import shutil
import sys
import threading
from concurrent.futures import ThreadPoolExecutor

from tests.mutants import changes, trial

ROOMS = ("lib/event", "lib/scoring")
EQUAL = "tests/mutants/equal.json"


def read(path):
    with open(path, encoding="utf-8") as text:
        return text.read()


def files_below(folder, ending):
    return sorted(os.path.join(at, name) for at, _, names in os.walk(folder)
                  for name in names if name.endswith(ending))


def sources(only):
    """The files whose changes are tried, by path. Raises SystemExit where there are none."""
    paths = [path for room in ROOMS for path in files_below(room, ".c")
             if not only or any(part in path for part in only)]
    if not paths:
        sys.exit(f"mutants: no file of {' and '.join(ROOMS)} has “{'” or “'.join(only)}” in its path")
    return {path: read(path) for path in paths}


def candidates(texts, equal, seed):
    """All changes in the order in which they are tried, without those that make no difference."""
    headers = [read(path) for path in files_below("lib", ".h")]
    enums = changes.enumerations([*headers, *texts.values()])
    known = {(entry["file"], entry["line"], entry["before"], entry["after"]) for entry in equal}
    found = [change for path, text in texts.items() for change in changes.changes_of(path, text, enums)]
    lines = {}
    for change in found:
        lines.setdefault(identity(change), set()).add(change.line)
    for entry in sorted(entry for entry in known if entry[0] in texts):
        if entry not in lines:
            print(f"{EQUAL}: nothing is so any more: {' | '.join(entry)}")
        elif len(lines[entry]) > 1:
            print(f"{EQUAL}: stands for several lines: {' | '.join(entry)}")
    return list(changes.ranked([change for change in found if identity(change) not in known], seed))


def identity(change):
    """What a change is called in equal.json: lines move, and stay what they are."""
    return change.path, change.source, change.before, change.after


class Compiler:
    """Makes objects of changes, those of the unchanged files to compare them with, in one folder."""

    def __init__(self, tools, texts, folder):
        self.tools = tools
        self.texts = texts
        self.folder = folder
        self._plain = {}
        self._lock = threading.Lock()

    def _object(self, name, text, sanitized=False):
        """The path of the compiled text, None where it does not compile."""
        path = f"{self.folder}/{name}.o"
        return path if self.tools.compiled(text, path, sanitized) else None

    def _plain_code(self, path):
        with self._lock:
            if path not in self._plain:
                made = self._object("plain-" + path.replace("/", "-"), self.texts[path])
                if made is None:
                    raise RuntimeError(f"{path} does not compile without any change")
                with open(made, "rb") as code:
                    self._plain[path] = code.read()
            return self._plain[path]

    def changed(self, number, change):
        """The object of a change; None where there is no use in trying it."""
        made = self._object(f"change-{number}", change.applied(self.texts[change.path]))
        if made is None:
            return None
        with open(made, "rb") as code:
            return made if code.read() != self._plain_code(change.path) else None

    def watched(self, change, name):
        """The objects of a changed file and of the file as it is, both watched by the sanitizers."""
        text = self.texts[change.path]
        return (self._object(f"{name}-watched", change.applied(text), sanitized=True),
                self._object(f"{name}-watched-plain", text, sanitized=True))


def chosen(compiler, found, count, jobs):
    """The first `count` changes that are worth trying, each with its object: the same ones however
    many compile at once."""
    picked = []
    rest = enumerate(found)
    with ThreadPoolExecutor(jobs) as workers:
        while len(picked) < count:
            batch = list(itertools.islice(rest, count - len(picked)))
            if not batch:
                break
            objects = workers.map(lambda pair: compiler.changed(*pair), batch)
            picked += [(change, made) for (_, change), made in zip(batch, objects) if made is not None]
    return picked


def measured(bench, jobs):
    """Every test once, without a change."""
    with ThreadPoolExecutor(jobs) as workers:
        list(workers.map(bench.measure, bench.tests))


def tried(bench, compiler, picked, jobs, told):
    """Tries all changes, each in a folder that no other uses meanwhile. Returns (change, test, why) of
    each, in their order; told() hears of each as it is known."""
    folders = queue.SimpleQueue()
    for number in range(jobs):
        folders.put(f"{compiler.folder}/{number}")

    def one(pair):
        change, made = pair
        here = folders.get()
        try:
            test, why = bench.kill(change.path, made, here)
            if test is None:
                changed, plain = compiler.watched(change, os.path.basename(here))
                test, why = bench.kill_sanitized(change.path, changed, plain, here)
        finally:
            folders.put(here)
        told(change, test, why)
        return change, test, why

    with ThreadPoolExecutor(jobs) as workers:
        return list(workers.map(one, picked))


def summary(results):
    """What the run came to, in a line, and its percentage."""
    survived = sum(test is None for _, test, _ in results)
    whys = [why for _, _, why in results]
    share = 100 * (len(results) - survived) / len(results)
    return (f"{len(results)} changes: {len(results) - survived} killed ({whys.count('time')} by the"
            f" time limit, {whys.count('sanitizer')} by a sanitizer), {survived} survived: {share:.1f} % killed"), share


def arguments():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--count", type=int, default=150)
    parser.add_argument("--seed", default="1", help="a number or a word; new: other ones each time")
    parser.add_argument("--only", action="append", default=[], metavar="PART",
                        help="files whose path has that; may be given several times")
    parser.add_argument("--least", type=float, default=95, help="percent that must be killed")
    parser.add_argument("--jobs", type=int, default=os.cpu_count())
    parser.add_argument("--oracle-seeds", default="1:5")
    parser.add_argument("--all", action="store_true", help="name those that were killed, too")
    for name in ("build", "compile", "link", "libraries", "allocator", "sanitizers"):
        parser.add_argument("--" + name, required=True, help="as the Makefile has it")
    return parser.parse_args()


def main():
    args = arguments()
    tools = trial.Tools(args.build, *map(shlex.split, (args.compile, args.link, args.libraries,
                                                       args.allocator, args.sanitizers)))
    seed = str(random.SystemRandom().getrandbits(32)) if args.seed == "new" else args.seed
    folder = f"{args.build}/mutants"
    shutil.rmtree(folder, ignore_errors=True)
    os.makedirs(folder)
    texts = sources(args.only)
    found = candidates(texts, json.loads(read(EQUAL)), seed)
    bench = trial.Bench(tools, trial.all_tests(args.build, args.oracle_seeds))
    measured(bench, args.jobs)
    compiler = Compiler(tools, texts, folder)
    picked = chosen(compiler, found, args.count, args.jobs)
    print(f"{len(picked)} of {len(found)} changes in {len(texts)} files, seed {seed}", flush=True)

    def told(change, test, why):
        if test is None:
            print(f"survived  {change.told()}\n          {change.source}", flush=True)
        elif args.all:
            print(f"killed    {change.told()}, by {test}{'' if why == 'failure' else f' ({why})'}",
                  flush=True)

    text, share = summary(tried(bench, compiler, picked, args.jobs, told))
    print(text)
    shutil.rmtree(folder)
    return 0 if share >= args.least else 1


if __name__ == "__main__":
    sys.exit(main())
