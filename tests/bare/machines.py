# SPDX-License-Identifier: MIT
"""Machines that a test boots in folders: Debian with systemd, and a network between them.

Each has processes, mounts, host name, control groups and network of its own; only the disk and the
kernel are shared. Where the kernel or a container lets no systemd start, `supervisor` stands in its
place: it starts what the shipped units name, with their user and environment.
"""

import glob
import hashlib
import os
import shutil
import signal
import subprocess
import time

import roots
from roots import HERE, PATH, say

# What Debian's installer puts on a laptop, as far as the documents count on it.
PACKAGES = ["systemd", "systemd-sysv", "dbus", "sudo", "iproute2", "curl", "openssl", "procps",
            "less", "python3"]
# What the documents install, by the words in them; fetched beforehand, since machines that are
# tested have no line to the outside.
OFFERED = ["nginx", "varnish", "avahi-daemon", "chrony", "libnss3-tools"]
USER = "alice"
BOOT_SECONDS = 60
BLOCK_SECONDS = 300


def image(work):
    """The path of an archive of a root with PACKAGES installed and OFFERED ready to be installed.
    Made once, then reused."""
    key = hashlib.sha256(" ".join([*PACKAGES, "/", *OFFERED]).encode()).hexdigest()[:12]
    path = os.path.join(roots.CACHE, f"machine-{key}.tar")
    if not os.path.exists(path):
        say("making the image of the machines")
        root = roots.Root(work, "image")
        # Nothing may be thrown away that was fetched for later.
        root.write("etc/apt/apt.conf.d/95keep", 'APT::Keep-Downloaded-Packages "true";\n')
        root.install(*PACKAGES)
        root.run("apt-get", "-q", "-y", "-o", "Acquire::Retries=3", "--download-only", "install",
                 *OFFERED, quiet=True)
        root.run("useradd", "--create-home", "--shell", "/bin/bash", USER)
        os.chmod(root.path(f"home/{USER}"), 0o700)  # as Debian's adduser makes homes
        root.write(f"etc/sudoers.d/{USER}", f"{USER} ALL=(ALL) NOPASSWD: ALL\n", 0o440)
        for old in glob.glob(os.path.join(roots.CACHE, "machine-*.tar")):
            os.unlink(old)
        roots.pack(root.folder, path)
        roots.remove(root.folder)
    return path


def offering(work, package):
    """The path of an archive of the same root together with what our own package depends on and
    recommends."""
    root = roots.Root(work, "needs", image(work))
    shutil.copy(package, root.path("root"))
    root.run("apt-get", "-q", "-y", "-o", "Acquire::Retries=3", "--download-only", "install",
             "/root/" + os.path.basename(package), quiet=True)
    os.unlink(root.path("root/" + os.path.basename(package)))
    path = os.path.join(work, "machine.tar")
    roots.pack(root.folder, path)
    roots.remove(root.folder)
    return path


class Network:
    """A switch between machines, in a network namespace of its own."""

    def __init__(self):
        self.switch = subprocess.Popen(
            [*roots.BOUND, "unshare", "--net", "--fork", "--kill-child", "sh", "-c", "ip link add "
             "lan type bridge && ip link set lan up && echo up && exec sleep infinity"],
            stdout=subprocess.PIPE, text=True)
        if self.switch.stdout.readline() != "up\n":
            raise roots.Unfit("no network of its own can be made here (iproute2, CAP_NET_ADMIN)")
        self.pid = child_of(self.switch.pid)

    def join(self, machine, address):
        """Gives a machine a network card with an address."""
        port = f"p{machine.pid}"
        run("ip", "link", "add", "name", port, "netns", str(self.pid), "type", "veth",
            "peer", "name", "lan", "netns", str(machine.pid))
        enter = ["nsenter", f"--net=/proc/{self.pid}/ns/net"]
        run(*enter, "ip", "link", "set", port, "master", "lan", "up")
        machine.root_shell(f"ip link set lo up; ip addr add {address}/24 dev lan; "
                           "ip link set lan up")

    def end(self):
        self.switch.kill()
        self.switch.wait()
        self.switch.stdout.close()


def run(*words):
    """Runs a command on the machine that tests; raises with its output where it fails."""
    done = subprocess.run(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False)
    if done.returncode != 0:
        raise roots.Unfit(f"{' '.join(words)}: {done.stdout.decode(errors='replace').strip()}")


def child_of(pid):
    """The process id of the only child of a process; waits a moment for it to appear."""
    until = time.monotonic() + BOOT_SECONDS
    while time.monotonic() < until:
        with open(f"/proc/{pid}/task/{pid}/children", encoding="ascii") as file:
            children = file.read().split()
        if children:
            return int(children[0])
        time.sleep(0.05)
    raise roots.Unfit(f"process {pid} has started nothing")


class Machine:
    """A booted machine. `init` is "systemd" or "supervisor"."""

    def __init__(self, work, archive, name, init):
        self.name, self.init = name, init
        self.root = roots.Root(work, name, archive)
        self.group = None
        self.process = None
        self.pid = None
        self.here = {}
        self.root.write("etc/machine-id", "")
        self.root.write("etc/hosts", f"127.0.0.1 localhost\n127.0.1.1 {name}\n")
        if init == "supervisor":
            self.root.write("usr/sbin/policy-rc.d", "#!/bin/sh\nexit 101\n", 0o755)
            for tool in ("systemctl", "journalctl", "hostnamectl", "systemd-run"):
                shutil.copy(os.path.join(HERE, "supervisor"),
                            self.root.path("usr/local/bin/" + tool))

    def boot(self):
        """Boots the machine; returns whether it came up. At first it has no network but its own
        loopback."""
        command = [*roots.NAMESPACES, "--net", "--ipc", "--uts"]
        init = ["/lib/systemd/systemd", "--system", "--show-status=no"]
        if self.init == "systemd":
            self.group = own_group(self.name)
            if self.group is None:
                return False
            command = ["sh", "-c", 'echo $$ >"$0/cgroup.procs" && exec "$@"', self.group, *command,
                       "--cgroup"]
        else:
            init = ["/bin/bash", "-c", f"hostname {self.name}; while :; do sleep 1; done"]
        kind = "--boot" if self.init == "systemd" else "--held"
        with open(self.root.folder + ".log", "wb") as log:
            self.process = subprocess.Popen(
                [*command, os.path.join(HERE, "enter"), kind, self.root.folder, "/usr/bin/env",
                 "-i", f"PATH={PATH}", "container=cairn-test", *init],
                stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        self.pid = child_of(self.process.pid)
        until = time.monotonic() + BOOT_SECONDS
        while time.monotonic() < until and self.process.poll() is None:
            if self.is_up():
                return True
            time.sleep(0.2)
        return False

    def is_up(self):
        if self.init == "supervisor":
            return os.path.exists(f"/proc/{self.pid}/root/usr/local/bin/systemctl")
        done = subprocess.run(self.inside("systemctl", "is-system-running"),
                              stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=False)
        return done.stdout.strip() in (b"running", b"degraded")

    def inside(self, *words):
        """The command line that runs words in the machine as its root, with no more rights than
        its init has (see `enter`): entered from outside, it would keep the tester's rights."""
        return ["nsenter", "--target", str(self.pid), "--all", "/usr/bin/setpriv",
                "--bounding-set=-sys_time,-sys_module,-sys_boot,-sys_rawio,-syslog",
                "--inh-caps=-all", "/usr/bin/env", "-i", "HOME=/root",
                "LANG=C.UTF-8", "TERM=dumb", f"PATH={PATH}", *words]

    def root_shell(self, script):
        """Runs a command of the test itself there; returns what it printed. Raises where it
        fails."""
        done = subprocess.run(self.inside("/bin/sh", "-ec", script), stdin=subprocess.DEVNULL,
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                              timeout=BLOCK_SECONDS, check=False)
        told = done.stdout.decode(errors="replace")
        if done.returncode != 0:
            raise AssertionError(f"{self.name}: {script}: {done.returncode}\n{told}")
        return told

    def type(self, text, answers=""):
        """What a user types in a terminal that stays open: (exit status, what it printed). The
        first command that fails ends it."""
        script = f"set -eo pipefail\ncd {self.here.get(USER, '~')}\n{text}\npwd >~/.here\n"
        done = subprocess.run(
            self.inside("/usr/bin/setsid", "--wait", "/usr/sbin/runuser", "--login", USER,
                        "--command", script),
            input=answers.encode(), stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
            timeout=BLOCK_SECONDS, check=False)
        if done.returncode == 0:
            with open(self.root.path(f"home/{USER}/.here"), encoding="utf-8") as file:
                self.here[USER] = file.read().strip()
        return done.returncode, done.stdout.decode(errors="replace")

    def call(self, *words):
        """Runs a program there, as root; (exit status, its standard output)."""
        done = subprocess.run(self.inside(*words), stdin=subprocess.DEVNULL,
                              stdout=subprocess.PIPE, timeout=BLOCK_SECONDS, check=False)
        return done.returncode, done.stdout.decode(errors="replace")

    def log(self):
        """The end of what its init has logged."""
        with open(self.root.folder + ".log", encoding="utf-8", errors="replace") as file:
            return file.read()[-2000:]

    def journal(self, unit):
        return self.root_shell(f"journalctl --no-pager -u {unit} -n 200 || true")

    def troubles(self):
        """The status and log of its services, for a failure's report."""
        return "".join(f"--- {self.name}: {unit}\n{self.journal(unit)[-1500:]}"
                       for unit in ("cairn", "cairn-backup", "nginx", "varnish", "cairn-follow"))

    def put_bytes(self, path, data):
        with open(self.root.path(path), "wb") as file:
            file.write(data)

    def put(self, path, source):
        """Copies a file or folder of the tester's to a user's home."""
        target = self.root.path(f"home/{USER}/{path}")
        if os.path.isdir(source):
            shutil.copytree(source, target)
        else:
            shutil.copy(source, target)
        self.root_shell(f"chown -R {USER}: /home/{USER}/{path}")

    def kill(self):
        """Ends it at once, as when its battery is taken out."""
        if self.process is not None:
            if self.process.poll() is None and self.pid is not None:
                try:
                    os.kill(self.pid, signal.SIGKILL)
                except ProcessLookupError:
                    pass
            self.process.kill()
            self.process.wait()
            self.process = self.pid = None
        if self.group is not None:
            end_group(self.group)
            self.group = None


def can_boot(work, archive):
    """Whether systemd comes up in namespaces here."""
    machine = Machine(work, archive, "trial", "systemd")
    try:
        return machine.boot()
    finally:
        machine.kill()
        roots.remove(machine.root.folder)


def own_group(name):
    """A new control group (version 2), or None where none can be made."""
    with open("/proc/self/mountinfo", encoding="utf-8") as file:
        mounts = [line.split(" - ") for line in file]
    folders = [left.split()[4] for left, right in mounts if right.startswith("cgroup2 ")]
    with open("/proc/self/cgroup", encoding="ascii") as file:
        own = [line.strip()[3:] for line in file if line.startswith("0::")]
    for folder in folders:
        for place in own:
            for old in glob.glob(os.path.join(folder, place.lstrip("/"), "cairn-bare-*-*")):
                if not os.path.exists(f"/proc/{old.rsplit('cairn-bare-')[-1].split('-')[0]}"):
                    remove_groups(old)  # of a run that was killed
            path = os.path.join(folder, place.lstrip("/"), f"cairn-bare-{os.getpid()}-{name}")
            try:
                os.mkdir(path)
                return path
            except OSError:
                continue
    return None


def remove_groups(folder):
    """Removes a group and those below where nothing is left in them; returns whether it is gone."""
    for path in sorted(glob.glob(folder + "/**/", recursive=True), key=len, reverse=True):
        try:
            os.rmdir(path)
        except OSError:
            pass
    return not os.path.exists(folder)


def end_group(folder):
    """Waits until nothing is left in a group, then removes it."""
    for _ in range(100):
        if remove_groups(folder):
            return
        time.sleep(0.1)
    say(f"{folder} is left")
