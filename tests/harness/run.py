# SPDX-License-Identifier: MIT
"""Runs test programs side by side and counts them.

    python3 tests/harness/run.py --logs FOLDER KIND...

with the kinds of plan.py, which finds the programs. A program passes where it ends with 0, in time,
having run at least one test and skipped none. CAIRN_TEST_SECONDS in its environment says how long it
has: a slow build, such as one for a sanitizer, is given a multiple, which CAIRN_SLOWNESS tells, for
the waits of its own. What a program prints is kept in a log of its own and shown only where it
failed. A plan without programs fails: a suite that runs nothing proves nothing.
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

import plan

# How the test libraries and make say that nothing ran, or that something was left out.
NOTHING_RAN = re.compile(rb"^Ran 0 tests|Running 0 test\(s\)|^make\S*: Nothing to be done"
                         rb"|^\S+ tests 0$", re.M)
SKIPPED = re.compile(rb"^(OK|FAILED) \(.*skipped=|^\[  SKIPPED \] \d"
                     rb"|^\S+ (skipped|todo|cancelled) [1-9]", re.M)

# How far other programs stand behind one that runs alone: it gets three times their share.
BEHIND = 5


def run_program(program, logs, nice=0, slowness=1):
    """Runs one program, `nice` steps behind others where they want the machine at the same time.
    Returns (why it failed or None, seconds taken, path of its log)."""
    path = os.path.join(logs, program.name.replace("/", "-") + ".log")
    seconds = program.seconds * slowness
    begin = time.monotonic()
    reason = None
    with open(path, "wb") as log:
        # A session of its own, so that what the program started ends with it.
        process = subprocess.Popen(
            ["nice", "-n", str(nice), "bash", "-c", program.command], stdin=subprocess.DEVNULL,
            stdout=log, stderr=subprocess.STDOUT, start_new_session=True,
            env={**os.environ, "CAIRN_TEST_SECONDS": str(seconds),
                 "CAIRN_SLOWNESS": str(slowness)})
        # Where the kernel shares the machine out by session, a session's own figure counts.
        with contextlib.suppress(OSError):
            with open(f"/proc/{process.pid}/autogroup", "w", encoding="ascii") as figure:
                figure.write(str(nice))
        try:
            code = process.wait(timeout=seconds)
            if code != 0:
                reason = f"ended with {code}" if code > 0 else f"killed by signal {-code}"
        except subprocess.TimeoutExpired:
            reason = f"still running after {seconds} s"
        finally:
            try:
                os.killpg(process.pid, signal.SIGKILL)
            except ProcessLookupError:
                pass  # the usual case: nothing is left of it
            process.wait()
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


def run_plan(programs, jobs, logs, alone=None, slowness=1):
    """Runs every program in the plan's order, `jobs` at once, and ahead of them one at a time of
    those whose names begin with `alone`. Returns the number that failed, 1 where there are none."""
    if not programs:
        print("0 passed, 0 failed: there is no test")
        return 1
    os.makedirs(logs, exist_ok=True)
    failed = []
    with ThreadPoolExecutor(jobs) as pool, ThreadPoolExecutor(1) as single:
        runs = {}
        for program in programs:
            if alone and program.name.startswith(alone):
                run = single.submit(run_program, program, logs, 0, slowness)
            else:
                run = pool.submit(run_program, program, logs, BEHIND if alone else 0, slowness)
            runs[run] = program
        for run in as_completed(runs):
            program = runs[run]
            reason, seconds, path = run.result()
            if reason is None:
                print(f"  ok    {program.name}  {seconds:.1f} s", flush=True)
                continue
            failed.append(program.name)
            print(f"  FAIL  {program.name}: {reason}  {seconds:.1f} s")
            print(f"  $ {program.command}")
            show_log(path)
            sys.stdout.flush()
    if failed:
        print("failed: " + " ".join(sorted(failed)))
    print(f"{len(programs) - len(failed)} passed, {len(failed)} failed", flush=True)
    return len(failed)


def main(arguments):
    parser = argparse.ArgumentParser(description="Runs test programs side by side.")
    parser.add_argument("kinds", nargs="+", choices=plan.KINDS, metavar="KIND",
                        help="what is run, in this order: " + ", ".join(plan.KINDS))
    parser.add_argument("--jobs", type=int, default=os.cpu_count(),
                        help="processors: one program more runs at once, since many wait for a limit"
                             " or a heartbeat to come")
    parser.add_argument("--slowness", type=int, default=1,
                        help="each program may take so many times what the plan allows")
    parser.add_argument("--logs", required=True, help="folder for what the programs print")
    parser.add_argument("--list", action="store_true", help="only tells what would run")
    options = parser.parse_args(arguments)
    programs = plan.plan_of(options.kinds)
    if options.list:
        for program in programs:
            print(f"{program.name}\t{program.seconds}\t{program.command}")
        return 0
    return 1 if run_plan(programs, max(1, options.jobs) + 1, options.logs, plan.ALONE,
                         options.slowness) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
