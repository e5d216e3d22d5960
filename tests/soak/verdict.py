# SPDX-License-Identifier: MIT
"""What must hold at the end of a soak, and its figures."""

import json
import os
import signal
import statistics

from tests.soak import places
from tests.support import figures, machine
from tests.support.cairn import CAIRN, cairn
from tests.support.running import API, BYS, FIELDS, SLUG, EventClient, read_rows, write_folder
from tests.support.standings import first_difference, score, unnumbered

SECTION = "9-soak"
FRESH_SECONDS = 8    # that a new server is under the same crowd before it is measured
GROWTH_MIB = 16      # resident, over the last server's warm third: new facts, and the room of the
                     # most answers that were ever made and sent at once
KEPT_MIB = 4         # allocated, over a new server's, when crowd and desks have gone
TOLD_SECONDS = 0.6   # a server tells four times a second what it has allocated
SETTLE_SECONDS = 75  # until connections that nobody uses are closed


class Verdict:
    def __init__(self, soak):
        self.soak = soak
        self.section = figures.Section(SECTION, "Soak")
        with open(CAIRN, "rb") as file:
            self.sanitized = b"__asan_init" in file.read()

    def must(self, holds, what):
        if not holds:
            self.soak.violation(what)

    def count(self, name, value, note="", unit="", **aim):
        """Records a figure; one that misses its aim is a violation."""
        self.section.figure(name, unit, [value], note, **aim)
        if "most" in aim:
            self.must(value <= aim["most"], f"{name}: {value:g}, at most {aim['most']}")
        if "least" in aim:
            self.must(value >= aim["least"], f"{name}: {value:g}, at least {aim['least']}")

    # ------------------------------------------------------------------------------ the facts

    def facts(self):
        """Every acknowledged fact is stored once, as it was sent, and there is no other."""
        soak = self.soak
        folder = soak.path("export")
        cairn("export", soak.data, SLUG, folder)
        kept = {name: [row for person in soak.people for row in person.kept[name]]
                for name in FIELDS}
        for name, planned in (("readings", soak.readings), ("decisions", soak.decisions)):
            rows = kept[name]
            more = ("desk", "seq") if name == "readings" else ()
            fields = (*FIELDS[name], *more)
            path = os.path.join(folder, name + ".csv")
            back = [tuple(row.get(field) or "" for field in fields)
                    for row in (read_rows(path) if os.path.exists(path) else ())]
            sent = [tuple(row.get(field, "") for field in fields) for row in rows]
            lost, doubled = set(sent) - set(back), len(back) - len(set(back))
            strange = set(back) - set(sent)
            self.count(f"{name} acknowledged", len(sent), f"of {len(planned)} that were made",
                       least=len(planned))
            wrong = ((len(lost), "lost"), (doubled, "there twice"),
                     (len(strange), "that nobody sent"))
            for count, how in wrong:
                self.must(count == 0, f"{name} {how}: {count}")
            self.section.figure(f"{name} lost, doubled or invented", "",
                                [sum(count for count, _ in wrong)], "acknowledged to exported",
                                most=0)
            for row in [*lost, *strange][:5]:
                soak.say(f"  {row}")
        write_folder(soak.path("kept"), [{f: row.get(f, "") for f in FIELDS["readings"]}
                                         for row in kept["readings"]], kept["decisions"])
        return folder

    def standings(self, folder):
        """The server's standings are those that the command gives for the export, and for the
        facts that the desks remember."""
        soak = self.soak
        compared = 0
        for key, view in ((soak.office_key, ()), (None, ("--public",))):
            client = EventClient(soak.server, key)
            for path, options in [(f"standings?by={by}", ("--by", by)) for by in BYS] + \
                    [(f"cars/{car}?format=json", ("--card", car)) for car in ("12", "67", "91")]:
                told = unnumbered(client.good(f"{API}/{path}"))
                for source in (folder, soak.path("kept")):
                    due = unnumbered(score(source, *options, *view))
                    self.must(told == due, f"{path} {view}:" + first_difference(told, due))
                    compared += 1
            client.close()
        self.count("standings and cards compared", compared, "byte for byte with `cairn score`")

    def numbers(self):
        """The office sees the sequence numbers of every desk without a gap."""
        client = EventClient(self.soak.server, self.soak.office_key)
        told = json.loads(client.good(f"{API}/desks"))["desks"]
        client.close()
        seen = {desk["desk"]: desk for desk in told}
        gaps = 0
        for desk in self.soak.desks:
            row = seen.get(desk.desk)
            if row is None or row["gaps"] or row["last"] != len(desk.rows):
                self.must(not desk.rows, f"{desk.name}: {row}")
                gaps += bool(desk.rows)
        self.count("desks with a gap in their numbers", gaps, f"of {len(self.soak.desks)}", most=0)

    # ------------------------------------------------------------------------------ the crowd

    def crowd(self):
        soak = self.soak
        client = EventClient(soak.server)
        revision = json.loads(client.good(API))["revision"]
        client.close()
        many = soak.options.listeners
        places.wait_until(lambda: int(soak.crowd.order(f"at {revision}")) == many, 60)
        self.count("listeners at the last revision", int(soak.crowd.order(f"at {revision}")),
                   f"of {many}, whatever had happened to them", least=many)
        told = soak.crowd.tell()
        seconds = soak.motion.now()
        self.count("messages heard", told["messages"])
        self.count("reads answered a second", told["reads"] / seconds,
                   f"{soak.options.reads} were due, troubles and all", "/s")
        self.count("of them 304", 100 * told["same"] / max(told["reads"], 1), "", "%")
        self.count("median read", told["median"] / 1e3, "in calm", "ms")
        self.count("p99 of reads", told["p99"] / 1e3, "in calm", "ms")
        self.count("answers 503", told["busy"], "listeners and reads")
        self.count("connections lost", told["lost"], "and made again")
        self.count("answers to the crowd that should not be", told["wrong"], most=0)

    # ------------------------------------------------------------------------------ the process

    def memory_aim(self, most):
        """The aim for memory; None under a sanitizer, which does not free memory at once."""
        return {} if self.sanitized else {"most": most}

    def memory(self):
        """Of the last server: growth of resident memory after its first third; once all clients
        have gone, how many descriptors and how much allocated memory it has beyond a new
        server's."""
        soak = self.soak
        samples = list(soak.samples)
        if len(samples) < 7:
            raise RuntimeError(f"only {len(samples)} samples of the last server")

        def resident(share):
            at = int((len(samples) - 6) * share)
            return statistics.median(resident for _, resident, _ in samples[at:at + 6])
        warm, later, end = resident(1 / 3), resident(2 / 3), resident(1)
        life = samples[-1][0] - samples[0][0]
        self.count("resident memory at the warm third", warm, f"of a life of {life:.0f} s", "MiB")
        self.count("resident memory at two thirds", later, "", "MiB")
        self.count("resident memory at the end", end, "all facts, all listeners", "MiB")
        self.count("resident memory grown since", end - warm, "facts and room for answers", "MiB",
                   **self.memory_aim(GROWTH_MIB))
        soak.crowd.end()
        if soak.cache:
            soak.cache.end()
        soak.line.tear(True)
        seen = []

        def settled():
            seen.append(soak.descriptors())
            return len(seen[-1]) <= len(base)
        soak.inside.move(0)
        base = self.fresh()
        if not places.wait_until(settled, SETTLE_SECONDS):
            print(f"open: {seen[-1]}; in a new server: {base}", flush=True)
        self.count("descriptors left when all had gone", len(seen[-1]) - len(base),
                   f"over the {len(base)} of a new server", most=0)
        soak.over.wait(TOLD_SECONDS)
        kept = soak.inside.allocated()
        errors = soak.server.errors()
        soak.end_server(signal.SIGTERM)
        self.must("anitizer" not in errors, errors[-2000:])
        new = self.after_a_crowd()
        self.count("allocated when all had gone", kept, "answers kept for who comes among it",
                   "MiB")
        self.count("of it over a new server's", kept - new,
                   f"which came to {new:.1f} MiB by the same facts and crowd", "MiB",
                   **self.memory_aim(KEPT_MIB))

    def fresh(self):
        """Descriptors of a server that has just started on a copy of the file."""
        soak = self.soak
        os.mkdir(soak.path("copy"))
        cairn("backup", soak.data, SLUG, soak.path("copy", SLUG + ".cairn"))
        names = ("server", "port", "data", "inside", "samples")
        kept = {name: getattr(soak, name) for name in names}
        soak.samples, soak.data, soak.port = [], soak.path("copy"), 0
        soak.inside = soak.new_inside("fresh")
        try:
            soak.start_server()
            found = soak.descriptors()
            soak.end_server(signal.SIGTERM)
        finally:
            for name, value in kept.items():
                setattr(soak, name, value)
        return found

    def after_a_crowd(self):
        """MiB allocated by a new server with the same facts once the same crowd has come and
        gone."""
        soak = self.soak
        soak.start_server()
        base = len(soak.descriptors())
        soak.start_crowd()
        many = soak.options.listeners
        places.wait_until(lambda: soak.crowd.tell()["listening"] == many, 60)
        soak.over.wait(max(2, FRESH_SECONDS * min(1, soak.options.seconds / 60)))
        self.count("resident memory of a new server",
                   machine.resident_kib(soak.server.pid) / 1024, "same facts, same crowd", "MiB")
        soak.crowd.end()
        if soak.cache:
            soak.cache.end()
        places.wait_until(lambda: len(soak.descriptors()) <= base, SETTLE_SECONDS)
        soak.over.wait(TOLD_SECONDS)
        allocated = soak.inside.allocated()
        soak.end_server(signal.SIGTERM)
        return allocated

    # ------------------------------------------------------------------------------ the rest

    def troubles(self):
        soak = self.soak
        told = soak.troubles.count
        self.count("troubles", sum(told.values()), ", ".join(
            f"{count} {name.replace('_', ' ')}" for name, count in sorted(told.items())))
        tries = sum(person.tries for person in soak.people)
        self.count("requests of desks and office", tries,
                   f"{sum(p.refusals for p in soak.people)} told 503")
        self.count("readings sent again on purpose", sum(p.repeats for p in soak.people),
                   "each known, none doubled")
        self.count("keys changed", soak.key_changer.turned, "by page and by command",
                   least=len(soak.desks))
        starts = sorted(soak.starts)
        self.count("slowest start", 1e3 * starts[-1], f"of {len(starts)}, beside the crowd", "ms")


def judge(soak):
    """Checks everything, first what needs the running server."""
    verdict = Verdict(soak)
    verdict.troubles()
    verdict.crowd()
    folder = verdict.facts()
    verdict.standings(folder)
    verdict.numbers()
    verdict.memory()
