# SPDX-License-Identifier: MIT
"""What the benchmarks need from the machine: its tools, its cores, processes that end."""

import contextlib
import glob
import os
import shutil
import subprocess
import time

from tests.support.cairn import ROOT

DEMO = os.path.join("seed-demo", "merrow-2027")
TOOLS = os.path.join(ROOT, "tests", "bench", "tools")
SOAK_TOOLS = os.path.join(ROOT, "tests", "soak", "tools")


def describe():
    """The machine in a few words, and how busy it is: on a busy one every spread is wide."""
    cores = len(os.sched_getaffinity(0))
    model = "unknown processor"
    with open("/proc/cpuinfo", encoding="utf-8") as file:
        for line in file:
            if line.startswith("model name"):
                model = line.split(":", 1)[1].strip()
                break
    load = os.getloadavg()[0]
    return f"{cores} cores of {model}, load average {load:.1f}"


def tool(name):
    """The path of a program, None where it is not installed."""
    return shutil.which(name) or shutil.which(name, path="/usr/sbin:/sbin")


def pinned(core, command):
    """A command held to one core, where the machine has that many cores and can do so."""
    cores = sorted(os.sched_getaffinity(0))
    taskset = tool("taskset")
    if taskset is None or len(cores) < 2:
        return command
    return [taskset, "-c", str(cores[core % len(cores)]), *command]


def build_tool(folder, name, shared=False, tools=TOOLS):
    """Compiles NAME.c of `tools` into `folder`, with the parts NAME_*.c where it has some. Returns the
    path."""
    out = os.path.join(folder, name + (".so" if shared else ""))
    flags = ["-shared", "-fPIC"] if shared else []
    subprocess.run(["gcc", "-std=c17", "-D_GNU_SOURCE", "-O2", "-Wall", "-Wextra", "-Wshadow",
                    "-Wconversion", "-Werror", *flags, "-iquote", TOOLS,
                    os.path.join(tools, name + ".c"), *sorted(glob.glob(os.path.join(tools, name + "_*.c"))),
                    "-o", out, "-lsqlite3", "-ldl", "-pthread"], check=True)
    return out


def resident_kib(pid, key="VmRSS"):
    """Resident memory of a process."""
    with open(f"/proc/{pid}/status", encoding="ascii") as file:
        for line in file:
            if line.startswith(key + ":"):
                return int(line.split()[1])
    raise RuntimeError("no resident memory told")


def descriptors(pid):
    """What each open descriptor of a process is, such as the name of a file; by its number."""
    folder = f"/proc/{pid}/fd"
    found = {}
    for number in os.listdir(folder):
        with contextlib.suppress(FileNotFoundError):  # closed meanwhile
            found[int(number)] = os.readlink(os.path.join(folder, number))
    return found


@contextlib.contextmanager
def process(command, **options):
    """A process that is ended when the block is left, by its own id."""
    child = subprocess.Popen(command, **options)
    try:
        yield child
    finally:
        child.terminate()
        try:
            child.wait(timeout=20)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


def wait_for(condition, seconds, what):
    """Waits until a condition holds; RuntimeError where it does not in time."""
    end = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > end:
            raise RuntimeError(f"{what}: not within {seconds} s")
        time.sleep(0.01)
