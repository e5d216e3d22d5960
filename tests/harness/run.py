# SPDX-License-Identifier: MIT
"""Runs a plan of test programs side by side and counts them.

The plan is a text file, one program a line: name, seconds allowed, shell command, parted by tabs.
A program passes where it ends with 0, in time, having run at least one test and skipped none.
CAIRN_TEST_SECONDS in its environment says how long it has: a slow build, such as one for a sanitizer,
is given a multiple, which CAIRN_SLOWNESS tells, for the waits of its own.
What a program prints is kept in a log of its own and shown only where it failed. A plan without
programs fails: a suite that runs nothing proves nothing.
"""

import argparse
import contextlib
import os
import re
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor, as_completed

# How the test libraries and make say that nothing ran, or that something was left out.
NOTHING_RAN = re.compile(rb"^Ran 0 tests|Running 0 test\(s\)|^make\S*: Nothing to be done"
                         rb"|^\S+ tests 0$", re.M)
SKIPPED = re.compile(rb"^(OK|FAILED) \(.*skipped=|^\[  SKIPPED \] \d"
                     rb"|^\S+ (skipped|todo|cancelled) [1-9]", re.M)

# How far other programs stand behind one that runs alone: it gets three times their share.
BEHIND = 5


class Entry:
    """One line of the plan."""

    def __init__(self, name, seconds, command):
        self.name, self.seconds, self.command = name, seconds, command


def read_plan(lines, slowness=1):
    """The plan's entries, each allowed `slowness` times its seconds. Raises ValueError for a
    malformed line or a name that comes twice."""
    plan, names = [], set()
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        fields = line.rstrip("\n").split("\t", 2)
        if len(fields) != 3 or not fields[1].strip().isdigit() or not fields[2].strip():
            raise ValueError(f"plan line {number}: want NAME, SECONDS and COMMAND")
        name, seconds, command = fields[0].strip(), int(fields[1]) * slowness, fields[2].strip()
        if name in names:
            raise ValueError(f"plan line {number}: {name} comes twice")
        names.add(name)
        plan.append(Entry(name, seconds, command))
    return plan


def run_entry(entry, logs, nice=0, slowness=1):
    """Runs one program, `nice` steps behind others where they want the machine at the same time.
    Returns (why it failed or None, seconds taken, path of its log)."""
    path = os.path.join(logs, entry.name.replace("/", "-") + ".log")
    begin = time.monotonic()
    reason = None
    with open(path, "wb") as log:
        # A session of its own, so that what the program started ends with it.
        program = subprocess.Popen(
            ["nice", "-n", str(nice), "bash", "-c", entry.command], stdin=subprocess.DEVNULL,
            stdout=log, stderr=subprocess.STDOUT, start_new_session=True,
            env={**os.environ, "CAIRN_TEST_SECONDS": str(entry.seconds),
                 "CAIRN_SLOWNESS": str(slowness)})
        # Where the kernel shares the machine out by session, a session's own figure counts.
        with contextlib.suppress(OSError):
            with open(f"/proc/{program.pid}/autogroup", "w", encoding="ascii") as figure:
                figure.write(str(nice))
        try:
            code = program.wait(timeout=entry.seconds)
            if code != 0:
                reason = f"ended with {code}" if code > 0 else f"killed by signal {-code}"
        except subprocess.TimeoutExpired:
            reason = f"still running after {entry.seconds} s"
        finally:
            try:
                os.killpg(program.pid, signal.SIGKILL)
            except ProcessLookupError:
                pass  # the usual case: nothing is left of it
            program.wait()
    if reason is None:
        with open(path, "rb") as log:
            text = log.read()
        if NOTHING_RAN.search(text):
            reason = "ran no test"
        elif SKIPPED.search(text):
            reason = "skipped a test"
    return reason, time.monotonic() - begin, path


def show_log(path, limit=20000):
    """Prints a log, its middle left out where it is long."""
    with open(path, "rb") as log:
        text = log.read().decode("utf-8", "replace")
    if len(text) > limit:
        text = text[: limit // 2] + f"\n... the middle is in {path} ...\n" + text[-limit // 2:]
    print(text.rstrip("\n"))


def run_plan(plan, jobs, logs, alone=None, slowness=1):
    """Runs every entry in the plan's order, `jobs` at once, and ahead of them one at a time of
    those whose names begin with `alone`. Returns the number that failed."""
    os.makedirs(logs, exist_ok=True)
    failed = []
    with ThreadPoolExecutor(jobs) as pool, ThreadPoolExecutor(1) as single:
        runs = {}
        for entry in plan:
            if alone and entry.name.startswith(alone):
                run = single.submit(run_entry, entry, logs, 0, slowness)
            else:
                run = pool.submit(run_entry, entry, logs, BEHIND if alone else 0, slowness)
            runs[run] = entry
        for run in as_completed(runs):
            entry = runs[run]
            reason, seconds, path = run.result()
            if reason is None:
                print(f"  ok    {entry.name}  {seconds:.1f} s", flush=True)
                continue
            failed.append(entry.name)
            print(f"  FAIL  {entry.name}: {reason}  {seconds:.1f} s")
            print(f"  $ {entry.command}")
            show_log(path)
            sys.stdout.flush()
    if failed:
        print("failed: " + " ".join(sorted(failed)))
    print(f"{len(plan) - len(failed)} passed, {len(failed)} failed", flush=True)
    return len(failed)


def main(arguments):
    parser = argparse.ArgumentParser(description="Runs a plan of test programs.")
    parser.add_argument("plan", help="one program a line: NAME, SECONDS, COMMAND, with tabs")
    parser.add_argument("--jobs", type=int, default=2, help="programs at once")
    parser.add_argument("--alone", metavar="PREFIX",
                        help="programs with such names run one at a time, ahead of the others")
    parser.add_argument("--slowness", type=int, default=1,
                        help="each program may take so many times what the plan allows")
    parser.add_argument("--logs", required=True, help="folder for what the programs print")
    options = parser.parse_args(arguments)
    with open(options.plan, encoding="utf-8") as lines:
        plan = read_plan(lines, options.slowness)
    if not plan:
        print("0 passed, 0 failed: the plan is empty")
        return 1
    failed = run_plan(plan, max(1, options.jobs), options.logs, options.alone, options.slowness)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
