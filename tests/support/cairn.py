# SPDX-License-Identifier: MIT
"""The program under test: where it is, how long it may take, its commands.

CAIRN in the environment names it, build/cairn by default.
"""

import json
import os
import re
import shutil
import subprocess

ROOT = os.path.abspath(os.path.join(os.path.dirname(__file__), "..", ".."))
CAIRN = os.path.abspath(os.environ.get("CAIRN") or os.path.join(ROOT, "build", "cairn"))
SLOWNESS = int(os.environ.get("CAIRN_SLOWNESS") or 1)  # of a build with sanitizers
READY_SECONDS = 60 * SLOWNESS  # on a busy machine
# Of the public pages, English first: a catalogue each.
LANGUAGES = sorted((name.split(".")[1] for name in os.listdir(os.path.join(ROOT, "web", "words"))
                    if name.startswith("board.")), key=lambda code: (code != "en", code))
NOBODY = 65534  # a user who owns nothing


def cairn(*arguments, code=0, **options):
    """Runs a command to its end; what it printed is its `stdout` and `stderr`. `code` is how it must
    end, None for any way; AssertionError where it does not."""
    done = subprocess.run([CAIRN, *arguments], capture_output=True, timeout=120 * SLOWNESS,
                          check=False, **options)
    if code is not None and done.returncode != code:
        raise AssertionError(f"cairn {' '.join(arguments)} ended with {done.returncode}, not "
                             f"{code}: {done.stderr.decode(errors='replace')}")
    return done


def as_nobody(folder):
    """(program, options of Popen) to run the program as a user who owns nothing. That user may not
    be able to look where the program was built, nor where the lists stand that sanitizers read: both
    are copied to `folder`, which is opened to all. A test that may not choose the user runs the
    program as its own."""
    os.chmod(folder, 0o755)
    program = shutil.copy(CAIRN, os.path.join(folder, "cairn"))
    os.chmod(program, 0o755)
    if os.geteuid() != 0:
        return program, {}
    env = dict(os.environ)
    for name in ("TSAN_OPTIONS", "LSAN_OPTIONS"):
        found = re.search(r"suppressions=([^:]+)", env.get(name, ""))
        if found:
            copy = shutil.copy(found.group(1), folder)
            os.chmod(copy, 0o644)
            env[name] = env[name].replace(found.group(1), copy)
    return program, {"user": NOBODY, "group": NOBODY, "extra_groups": [], "env": env}


def newest_schema():
    """The number of the last migration of an event file."""
    return max(int(name[:3]) for name in os.listdir(os.path.join(ROOT, "schema"))
               if name.endswith(".sql"))


def route_table():
    """The server's own list of addresses; tests/http/route_table.c says what it holds."""
    program = os.path.join(ROOT, os.environ.get("BUILD") or "build", "tests", "route_table")
    return json.loads(subprocess.run([program], check=True, capture_output=True, timeout=60).stdout)
