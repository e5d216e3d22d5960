# SPDX-License-Identifier: MIT
"""Proves the first hour and the documents on machines where nothing is installed.

    python3 tests/bare/bare.py [PART]...

Parts, in this order; all of them unless some are named:
  demo       `make demo` in a clone of this tree in a fresh Debian 12, until it answers
  documents  the Debian package, made there, and every command of the runbook and its companions,
             word for word on machines that have nothing but that package
  test       `make test` in the clone; its closing line is the last one printed

What is committed is tested, nothing else. Needs root, the packages of deploy/packages/bare.txt,
8 GB of disk in CAIRN_BARE_CACHE (/var/cache/cairn-bare, where the base is kept), the machine's way
to Debian's packages and npm's, and half an hour on two cores.
Exit status: 0; 1 where anything failed; 2 where this machine cannot do it, in words.
"""

import contextlib
import glob
import os
import shutil
import signal
import subprocess
import sys
import time

import roots
from roots import ROOT, say

PARTS = ("demo", "documents", "test")
CLONE = "root/cairn"


def clone(root):
    """Clones what is committed here, as somebody who downloads it would get it."""
    git = ["git", "-c", "safe.directory=*", "-C", ROOT]
    changed = subprocess.run([*git, "status", "--porcelain"], stdout=subprocess.PIPE, check=True)
    if changed.stdout:
        say("what is not committed is not tested:\n" + changed.stdout.decode().rstrip())
    commit = subprocess.run([*git, "rev-parse", "HEAD"], stdout=subprocess.PIPE, check=True)
    commit = commit.stdout.decode().strip()
    archive = subprocess.Popen([*git, "archive", "--format=tar", commit], stdout=subprocess.PIPE)
    os.mkdir(root.path(CLONE))
    subprocess.run(["tar", "-C", root.path(CLONE), "--no-same-owner", "-xf", "-"],
                   stdin=archive.stdout, check=True)
    if archive.wait() != 0:
        raise roots.Unfit("git archive failed")
    say(f"testing {commit[:12]}")


def timed(name, work, *arguments):
    began = time.monotonic()
    say(name)
    work(*arguments)
    say(f"{name}: {time.monotonic() - began:.0f} s")


def run_parts(parts):
    with roots.work_folder() as work:
        stranger = roots.Root(work, "stranger")
        clone(stranger)
        if "demo" in parts:
            timed("make demo", stranger.run, f"/{CLONE}/tests/bare/first_hour", "demo")
        if "documents" in parts:
            # Imported when used: the other parts need none of it.
            import runbook  # pylint: disable=import-outside-toplevel
            timed("the package", stranger.run, f"/{CLONE}/tests/bare/first_hour", "package")
            package, = glob.glob(stranger.path(CLONE + "/build/cairn_*.deb"))
            shutil.copy(package, work)
            timed("the documents", runbook.prove, work, stranger.path(CLONE),
                  os.path.join(work, os.path.basename(package)))
        if "test" in parts:  # nothing is told after its own last line
            say("make test")
            stranger.run(f"/{CLONE}/tests/bare/first_hour", "test")


def main(parts):
    unknown = set(parts) - set(PARTS)
    if unknown:
        print(__doc__, file=sys.stderr)
        return 2
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that folders go, too
    try:
        roots.look_over()
        run_parts(parts or PARTS)
    except roots.Unfit as lack:
        print(f"bare: {lack}", file=sys.stderr)
        return 2
    except subprocess.CalledProcessError as failed:
        print(f"bare: failed: {failed.cmd if isinstance(failed.cmd, str) else failed.cmd[-1]}",
              file=sys.stderr)
        return 1
    except AssertionError as failed:
        print(f"bare: failed: {failed}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 1
    return 0


if __name__ == "__main__":
    with contextlib.suppress(BrokenPipeError):
        sys.exit(main(sys.argv[1:]))
