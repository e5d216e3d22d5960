# SPDX-License-Identifier: MIT
"""The documents for the person at the machine, followed word for word.

A story boots machines that have nothing but Debian, runs the commands of one document on them
heading by heading, and looks after each that what the document promises has come true. What only
the reader can bring is put in by the story: the address of a stick, a password, the stick itself
carried over. A command of a document that no story runs is an error.
"""

import json
import os
import re
import time

import blocks
import machines
import roots
from roots import say

SLUG = "merrow-2027"
API = f"/api/v1/events/{SLUG}"
STICK = ("mount -o uid=cairn,gid=cairn,umask=027 /dev/sdX1 /media/stick",
         "mount -t tmpfs -o uid=cairn,gid=cairn,mode=0750,size=96m tmpfs /media/stick")
PASSWORD = "gannet\ngannet\n"
SOON_SECONDS = 60


def wait_for(what, true):
    """Waits until `true()` holds; fails with `what` where it does not within a while."""
    until = time.monotonic() + SOON_SECONDS
    while not true():
        if time.monotonic() > until:
            raise AssertionError(f"not within {SOON_SECONDS} s: {what}")
        time.sleep(0.3)


def expect(true, what):
    if not true:
        raise AssertionError(what)


class Story:
    """One document and the machines it speaks of."""

    document = ""
    headings = ()
    machines = {}

    def __init__(self, work, archive, tree, package, init):
        self.work, self.archive, self.init = work, archive, init
        self.tree, self.package = tree, package
        self.network = machines.Network()
        self.at = {}
        with open(os.path.join(tree, "deploy", self.document), encoding="utf-8") as file:
            self.left = blocks.blocks(self.document, file.read())

    def end(self):
        for machine in set(self.at.values()):
            machine.kill()
            roots.remove(machine.root.folder)
        self.network.end()

    def boot(self):
        """Boots every machine. Raises Unfit where one does not come up."""
        for name, address in self.machines.items():
            machine = machines.Machine(self.work, self.archive, f"{name}-{self.init}", self.init)
            self.at[name] = machine
            if not machine.boot():
                raise roots.Unfit(f"{name} does not come up under {self.init}: {machine.log()}")
            self.network.join(machine, address)
            # A disk of its own, that can be full.
            machine.root_shell("mkdir -p /var/lib/cairn /media/stick && "
                               "mount -t tmpfs -o mode=0750,size=300m tmpfs /var/lib/cairn")
            machine.put(os.path.basename(self.package), self.package)

    def tell(self, heading, answers="", instead=(), before=lambda block: None):
        """Runs the commands under a heading; returns all that they printed."""
        mine = [block for block in self.left if block.heading == heading]
        expect(mine, f"{self.document} has no commands under “{heading}”")
        printed = ""
        for block in mine:
            text = block.text
            if instead and instead[0] in text:
                text = text.replace(*instead)
            before(block)
            for name in ("first", "second") if block.machine == "both" else (block.machine,):
                code, told = self.at[name].type(text, answers)
                expect(code == 0, f"deploy/{self.document}:{block.line}, on {name}: the command "
                       f"ends with {code}\n{text}\n{told}")
                printed += told
            self.left.remove(block)
        say(f"  {self.document}: {heading}")
        return printed

    def troubles(self):
        """The status and log of the services of all machines, for a failure's report."""
        return "".join(machine.troubles() for machine in set(self.at.values())
                       if machine.process is not None)

    def started(self, *names):
        """Starts what the package would start when it is installed, where there is no systemd to
        do so."""
        if self.init == "supervisor":
            for name in names:
                self.at[name].root_shell("systemctl start cairn cairn-backup.timer")

    def finish(self):
        expect(not self.left, f"{self.document}: never run: " +
               ", ".join(f"line {block.line}" for block in self.left))

    def ask(self, name, path, key=None, body=None, at="http://127.0.0.1:8080"):
        """(status, text) of a request that is made on a machine."""
        words = ["curl", "-sk", "--max-time", "20", "-w", "\n%{http_code}"]
        if key is not None:
            words += ["-H", f"Authorization: Bearer {key}"]
        if body is not None:
            words += ["-H", "Content-Type: application/json", "--data-binary", json.dumps(body)]
        code, told = self.at[name].call(*words, at + path)
        text, _, status = told.rpartition("\n")
        return (int(status) if code == 0 else 0), text

    def readings(self, name, key, at="http://127.0.0.1:8080"):
        """The ids of the readings at the test's own point that a server has."""
        status, text = self.ask(name, f"{API}/readings?point=TC15", key, at=at)
        expect(status == 200, f"{name}: readings: {status} {text[:300]}")
        return set(re.findall(r'"id":"(bare-\d+)"', text))


class Runbook(Story):
    """An event with two laptops, from the package to the day after."""

    document = "runbook.md"
    machines = {"first": "192.168.7.2", "second": "192.168.7.3"}
    headings = ("Install, on both laptops", "The event goes in", "A proxy before it", "Copies",
                "The drill", "The second laptop stands by", "Each morning", "During",
                "A key is lost", "The laptop dies, and the second stood by",
                "The laptop dies, and nothing stood by", "The disk is full",
                "It does not answer", "After")
    FIRST = "http://192.168.7.2"

    def post(self, key, at=FIRST, name="second"):
        """Posts one more reading, from one machine to another; its status."""
        self.posted = getattr(self, "posted", 0) + 1
        row = {"point": "TC15", "car": 1, "time": "11:30:05", "id": f"bare-{self.posted}"}
        return self.ask(name, f"{API}/readings", key, [row], at)[0]

    def run(self):
        self.before()
        self.during()
        self.takeover()
        self.restored()
        told = self.tell("After")
        expect("good:" in told, told)
        self.finish()

    def before(self):
        first = self.at["first"]
        first.put(SLUG, os.path.join(self.tree, "seed-demo", SLUG))
        self.tell("Install, on both laptops")
        self.started("first", "second")
        told = self.tell("The event goes in")
        self.office, self.desk = re.findall(r"#([\w.-]+)", told)
        self.tell("A proxy before it")
        status, page = self.ask("second", "/", at=self.FIRST)
        expect(status == 200 and "nginx" not in page, f"the first page is not ours: {page[:300]}")
        expect(self.ask("second", f"/{SLUG}/", at=self.FIRST + ":6081")[0] == 200, "by Varnish")
        expect(self.ask("second", "/metrics", at=self.FIRST)[0] == 404, "metrics by nginx")
        expect(self.post(self.desk) == 200, "a reading by nginx")

        self.tell("Copies", instead=STICK)
        copies = "ls {}/" + SLUG + ".*.cairn | wc -l"
        places = ("/var/backups/cairn", "/media/stick")
        count = lambda place: int(first.root_shell(copies.format(place)))  # noqa: E731
        had = [count(place) for place in places]
        expect(min(had) >= 1, f"copies: {had}")
        time.sleep(1.1)  # a copy's name tells its second
        first.root_shell("systemctl start cairn-backup")
        expect(all(count(place) > n for place, n in zip(places, had)), "a second copy")  # or more:
        had = [count(place) for place in places]  # the timer's own come in between
        first.root_shell("umount /media/stick && sleep 1.1; ! systemctl start cairn-backup")
        expect(count(places[0]) > had[0], "no copy where it can be, without the stick")
        first.root_shell(STICK[1])
        expect(self.ask("first", f"{API}/notices", self.office,
                        {"title": "Lunch", "text": "Is moved."})[0] in (200, 201), "a notice")
        time.sleep(1.1)
        first.root_shell("systemctl start cairn-backup")
        told = self.tell("The drill")
        expect("good:" in told and "0 made since" in told, told)

        self.tell("The second laptop stands by", before=self.carry)
        wait_for("the second has what the first has", lambda: self.ask(
            "second", f"{API}/readings?point=TC15", self.office)[0] == 200 and self.readings(
                "second", self.office) == self.readings("first", self.office))

    def carry(self, block):
        """Moves the USB stick from the first machine to the second."""
        if block.machine == "second":
            first, second = (self.at[name] for name in ("first", "second"))
            data = first.root_shell("tar -C /media/stick -cf - . | base64 -w0")
            second.put_bytes("/var/tmp/stick", data.encode())
            second.root_shell("mkdir -p /media/stick; base64 -d /var/tmp/stick | "
                              "tar -C /media/stick -xf -; rm /var/tmp/stick")

    def during(self):
        first = self.at["first"]
        told = self.tell("Each morning")
        expect(not re.search(r"(?m)^bad:", told), told)
        self.tell("During")
        expect("readings.csv" in first.root_shell("ls /srv/cairn/after-today"), "the export")
        self.tell("A key is lost")
        expect(self.post(self.desk) == 401, "a revoked key")
        self.desk = first.root_shell(
            f"cairn key add /var/lib/cairn {SLUG} --role timekeeper --points TC15").split()[-1]
        expect(self.post(self.desk) == 200, "a new key")

        first.root_shell("mount -o remount,size=20m /var/lib/cairn && "
                         "! cat /dev/zero >/var/lib/cairn/filler 2>/dev/null")
        full = []
        wait_for("a full disk is told", lambda: full.append(self.post(self.desk)) or
                 full[-1] in (503, 507))
        expect(self.ask("second", f"/{SLUG}/", at=self.FIRST)[0] == 200, "reads on a full disk")
        self.tell("The disk is full")
        first.root_shell("rm /var/lib/cairn/filler")
        wait_for("there is room again", lambda: self.post(self.desk) == 200)
        self.tell("It does not answer")
        wait_for("it answers after the restart", lambda: self.post(self.desk) == 200)

    def takeover(self):
        """The first machine dies; what it had acknowledged is on the second."""
        had = self.readings("first", self.office)
        wait_for("the second has it all", lambda: self.readings("second", self.office) == had)
        expect(self.post(self.desk, "http://127.0.0.1:8080") != 200, "a standby takes no readings")
        self.at["first"].kill()
        self.tell("The laptop dies, and the second stood by")
        self.at["second"].root_shell("ip addr add 192.168.7.2/24 dev lan")
        expect(self.readings("second", self.office) == had, "what was acknowledged")
        expect(self.post(self.desk, "http://127.0.0.1:8080") == 200, "a reading after the takeover")

    def restored(self):
        """A backup is restored as if there had been no standby; what was recorded meanwhile comes
        back by a merge."""
        had = self.readings("second", self.office)
        self.tell("The laptop dies, and nothing stood by")
        wait_for("all is there", lambda: self.readings("second", self.office) == had)
        # The desk's key is younger than the copy; the office's is in it.
        expect(self.post(self.office, "http://127.0.0.1:8080") == 200, "a reading after a restore")


class LocalNetwork(Story):
    """A control room without the internet, with TLS."""

    document = "local-network.md"
    machines = {"server": "192.168.7.2", "laptop": "192.168.7.3", "home": ""}
    headings = ("1. Address and name", "2. A private authority and the server's certificate",
                "3. Trust on the timekeepers' laptops", "4. Start cairn",
                "5. Check it from a second laptop", "6. The clock", "7. Before the first car")

    def boot(self):
        home = self.machines
        self.machines = {name: address for name, address in home.items() if address}
        super().boot()
        self.machines = home
        self.at["home"] = self.at["laptop"]  # the one that stays there, until it goes along

    def run(self):
        server, laptop = self.at["server"], self.at["laptop"]
        server.put(SLUG, os.path.join(self.tree, "seed-demo", SLUG))
        server.root_shell(f"apt-get install -y /home/{machines.USER}/cairn_*.deb && "
                          f"adduser {machines.USER} cairn && systemctl enable --now cairn && "
                          f"cairn import /var/lib/cairn /home/{machines.USER}/{SLUG}")
        self.tell("1. Address and name")
        self.tell("2. A private authority and the server's certificate", PASSWORD)
        laptop.root_shell(f"runuser -u {machines.USER} -- mkdir -p "
                          f"/home/{machines.USER}/.pki/nssdb")
        told = self.tell("3. Trust on the timekeepers' laptops")
        expect("sha256 Fingerprint=" in told, told)
        for name in ("server.crt", "server.key"):
            server.put(name, laptop.root.path(f"home/{machines.USER}/authority/{name}"))
        self.tell("4. Start cairn")
        expect("listening on https://192.168.7.2:8443/" in server.journal("cairn"), "https")
        # What the announcement does where there is a radio network to announce on.
        laptop.root_shell("echo 192.168.7.2 cairn.local >>/etc/hosts")
        told = self.tell("5. Check it from a second laptop")
        expect(told.count('{"status":"ok"') == 2 and '"revision":' in told, told)
        self.tell("6. The clock")
        server.root_shell(STICK[1])
        told = self.tell("7. Before the first car")
        expect(not re.search(r"(?m)^bad:", told), told)
        server.root_shell(f"runuser -u cairn -- cairn backup /var/lib/cairn {SLUG} "
                          "/media/stick/by-hand.cairn --replace")
        self.finish()


STORIES = (Runbook, LocalNetwork)


def prove(work, tree, package):
    """Every story, under systemd where it can be booted, else under a supervisor of our own."""
    archive = machines.offering(work, package)
    inits = os.environ.get("CAIRN_BARE_INIT", "").split()
    if not inits:
        inits = ["systemd"] if machines.can_boot(work, archive) else ["supervisor"]
    for init in inits:
        say(f"under {init}")
        for kind in STORIES:
            story = kind(work, archive, tree, package, init)
            try:
                story.boot()
                story.run()
            except AssertionError as failed:
                raise AssertionError(f"{failed}\n{story.troubles()}") from failed
            finally:
                story.end()
