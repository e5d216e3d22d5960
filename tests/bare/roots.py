# SPDX-License-Identifier: MIT
"""A Debian 12 root with nothing in it but make and certificates, and commands that run there.

The base is made by debootstrap from the machine's own package sources and kept as an archive in
CAIRN_BARE_CACHE (/var/cache/cairn-bare); each root is unpacked from it into a folder beside it.
What runs in a root has mounts and process numbers of its own (see `enter`): when its first process
ends, however it ends, the kernel ends the rest and takes the mounts down.
"""

import contextlib
import fcntl
import glob
import os
import re
import shlex
import shutil
import subprocess
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
RELEASE = "bookworm"
SUITES = (RELEASE, RELEASE + "-updates", RELEASE + "-security")
CACHE = os.environ.get("CAIRN_BARE_CACHE", "/var/cache/cairn-bare")
ROOM_GB = 8
PATH = "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"
# Ends with whoever started it, even if that was killed.
BOUND = ["setpriv", "--pdeathsig", "KILL"]
NAMESPACES = [*BOUND, "unshare", "--mount", "--pid", "--fork", "--kill-child",
              "--propagation", "private"]
BASE_PACKAGES = "make,ca-certificates"
# What of the machine's environment its way to the registries may need.
NETWORK = re.compile(r"(?i)(https?|ftp|no|all)_proxy|npm_config_\w+|ci")


class Unfit(Exception):
    """This machine cannot make a root; the text says what it lacks."""


def say(text):
    print(f"bare: {text}", flush=True)


def source_lines(text):
    """Package sources in the one-line form, of a file in either form (sources.list(5)); only those
    of RELEASE with `main`, as a fresh Debian has them."""
    found = []
    if re.search(r"(?mi)^Types:", text):
        for stanza in re.split(r"\n[ \t]*\n", text):
            stanza = re.sub(r"(?m)^#.*\n?", "", stanza)
            field = {name.lower(): value.split() for name, value in
                     re.findall(r"(?m)^([\w-]+):((?:.*(?:\n[ \t].*)*))", stanza)}
            if "deb" not in field.get("types", []) or field.get("enabled") == ["no"]:
                continue
            found += [(uri, suite, field.get("components", []), field.get("trusted") == ["yes"])
                      for uri in field.get("uris", []) for suite in field.get("suites", [])]
    else:
        for line in text.splitlines():
            parts = re.match(r"deb\s+(?:\[([^]]*)\]\s+)?(\S+)\s+(\S+)\s+([^#]*)", line.strip())
            if parts:
                found.append((parts[2], parts[3], parts[4].split(),
                              "trusted=yes" in (parts[1] or "")))
    return [f"deb {'[trusted=yes] ' if trusted else ''}{uri} {suite} main"
            for uri, suite, components, trusted in found
            if suite in SUITES and "main" in components]


def machine_sources():
    """The machine's package sources of RELEASE. Raises Unfit where it has none."""
    lines = []
    for path in ["/etc/apt/sources.list", *sorted(glob.glob("/etc/apt/sources.list.d/*.list")),
                 *sorted(glob.glob("/etc/apt/sources.list.d/*.sources"))]:
        with contextlib.suppress(FileNotFoundError), open(path, encoding="utf-8") as file:
            lines += source_lines(file.read())
    if not any(line.split()[-2] == RELEASE for line in lines):
        raise Unfit(f"no package source of Debian's {RELEASE} in /etc/apt")
    return list(dict.fromkeys(lines))


def look_over():
    """Raises Unfit where this machine cannot make a root."""
    if os.geteuid() != 0:
        raise Unfit("it makes mounts: run it as root (sudo make test-bare)")
    missing = [name for name in ("debootstrap", "git", "unshare", "nsenter", "setpriv", "ip",
                                  "tar")
               if shutil.which(name, path=PATH) is None]
    if missing:
        raise Unfit(f"missing: {' '.join(missing)}; deploy/packages/bare.txt lists the packages")
    os.makedirs(CACHE, exist_ok=True)
    free = shutil.disk_usage(CACHE).free / 1e9
    if free < ROOM_GB:
        raise Unfit(f"{CACHE} has {free:.1f} GB free, {ROOM_GB} are needed"
                    " (CAIRN_BARE_CACHE names another folder)")
    if subprocess.run([*NAMESPACES, "true"], check=False).returncode != 0:
        raise Unfit("mounts and process numbers of its own are not allowed here"
                    " (in a container: give it CAP_SYS_ADMIN)")


@contextlib.contextmanager
def work_folder():
    """A folder for this run. What earlier runs left, if they were killed, goes first."""
    for old in glob.glob(os.path.join(CACHE, "work.*")):
        with contextlib.suppress(FileNotFoundError), open(old + "/lock", "wb") as lock:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                continue
            remove(old)
    folder = tempfile.mkdtemp(prefix="work.", dir=CACHE)
    with open(folder + "/lock", "wb") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        try:
            yield folder
        finally:
            remove(folder)


def remove(folder):
    """Removes a folder, but nothing that is mounted in it: --one-file-system does not go past a
    mount."""
    with open("/proc/self/mountinfo", encoding="utf-8") as file:
        if any(f" {folder}/" in line for line in file):
            say(f"{folder} has something mounted in it and is left alone")
            return
    subprocess.run(["rm", "-rf", "--one-file-system", folder], check=False)


def base():
    """The path of the archive of the base, which is made where it is missing."""
    path = os.path.join(CACHE, RELEASE + ".tar")
    if os.path.exists(path):
        return path
    uri = next(line.split()[-3] for line in machine_sources() if line.split()[-2] == RELEASE)
    say("making the base with debootstrap")
    with tempfile.TemporaryDirectory(prefix="base.", dir=CACHE) as folder:
        made = subprocess.run(["debootstrap", "--variant=minbase", f"--include={BASE_PACKAGES}",
                               RELEASE, folder + "/root", uri], stdout=subprocess.PIPE,
                              stderr=subprocess.STDOUT, check=False)
        if made.returncode != 0:
            raise Unfit("debootstrap failed:\n" + made.stdout.decode(errors="replace")[-2000:])
        pack(folder + "/root", path)
    return path


def pack(folder, path):
    """Makes an archive of a folder; it has its name only when it is whole."""
    subprocess.run(["tar", "-C", folder, "--one-file-system", "-cf", path + ".part", "."],
                   check=True)
    os.replace(path + ".part", path)


class Root:
    """A fresh root in a folder of `work`, with the machine's own way to the registries."""

    def __init__(self, work, name, archive=None):
        """Unpacks `archive`, or the base where none is given."""
        self.folder = os.path.join(work, name)
        os.mkdir(self.folder)
        subprocess.run(["tar", "-C", self.folder, "-xf", archive or base()], check=True)
        self.write("etc/hostname", name + "\n")
        if archive is None:
            self.settle()

    def settle(self):
        """Sets the root up to reach the package registries as this machine does."""
        self.write("etc/apt/sources.list", "\n".join(machine_sources()) + "\n")
        acquire = subprocess.run(["apt-config", "dump", "Acquire"], stdout=subprocess.PIPE,
                                 check=True).stdout.decode()
        self.write("etc/apt/apt.conf.d/90machine", acquire)
        for path in ("/etc/resolv.conf", "/etc/hosts", "/etc/npmrc", "/usr/etc/npmrc",
                     "/usr/local/etc/npmrc", os.path.expanduser("~root/.npmrc")):
            if os.path.exists(path):
                with open(path, encoding="utf-8") as file:
                    self.write(path.lstrip("/"), file.read())
        own = "/usr/local/share/ca-certificates"
        if os.path.isdir(own):
            shutil.copytree(own, self.folder + own, dirs_exist_ok=True)
            self.run("update-ca-certificates", quiet=True)

    def path(self, name):
        return os.path.join(self.folder, name.lstrip("/"))

    def write(self, name, text, mode=0o644):
        """Writes a file, and makes its folder where it is missing."""
        path = self.path(name)
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with contextlib.suppress(FileNotFoundError):
            os.unlink(path)
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        os.chmod(path, mode)

    def command(self, *words):
        """The command line by which the machine runs `words` in the root, as root there."""
        kept = [f"{name}={value}" for name, value in os.environ.items() if NETWORK.fullmatch(name)]
        return [*NAMESPACES, os.path.join(HERE, "enter"), self.folder, "/usr/bin/env", "-i",
                "HOME=/root", "USER=root", "LANG=C.UTF-8", "TERM=dumb", f"PATH={PATH}", *kept,
                *words]

    def run(self, *words, quiet=False):
        """Runs a command there; raises CalledProcessError where it fails. With `quiet` what it
        prints is shown only then."""
        if not quiet:
            subprocess.run(self.command(*words), stdin=subprocess.DEVNULL, check=True)
            return
        done = subprocess.run(self.command(*words), stdin=subprocess.DEVNULL,
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False)
        if done.returncode != 0:
            print(done.stdout.decode(errors="replace")[-8000:], flush=True)
            raise subprocess.CalledProcessError(done.returncode, shlex.join(words))

    def install(self, *packages):
        """Installs Debian packages without starting their services."""
        self.write("usr/sbin/policy-rc.d", "#!/bin/sh\nexit 101\n", 0o755)
        self.run("sh", "-c", "apt-get -q update && DEBIAN_FRONTEND=noninteractive apt-get -q -y "
                 f"-o Acquire::Retries=3 install --no-install-recommends {shlex.join(packages)}",
                 quiet=True)
        os.unlink(self.path("usr/sbin/policy-rc.d"))
