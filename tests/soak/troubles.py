# SPDX-License-Identifier: MIT
"""The troubles of an event's machine, one after the other, chosen by the seed.

In the first part of a run the server is killed now and then. In the second it is not, so that a
small leak has time to show.
"""

import random
import signal

KILLING_SHARE = 0.4  # of the run, in which the server is killed
CLOCKS = (-3650 * 86400, -86400, -61, 0, 59, 3600, 4 * 86400, 800 * 86400)


class Troubles:
    """Plans the troubles and lets them happen to `soak`."""

    def __init__(self, soak, seconds, seed):
        self.soak, self.seconds = soak, seconds
        self.rng = random.Random(seed)
        self.count = {}
        self.plan = sorted(self._plan(), key=lambda entry: entry[0])

    def _plan(self):
        early = [self.kill] * 4 + [self.stop, self.kill_while_full, self.cut_field, self.delay,
                                   self.tear, self.move_clock, self.desk_clock]
        late = [self.fill, self.fill, self.cut_field, self.cut_crowd, self.delay, self.delay,
                self.tear, self.move_clock, self.move_clock, self.move_clock, self.desk_clock]
        for first, last, troubles in ((0.03, KILLING_SHARE, early), (KILLING_SHARE, 0.95, late)):
            step = (last - first) / len(troubles)
            for place, trouble in enumerate(self.rng.sample(troubles, len(troubles))):
                share = first + step * (place + self.rng.uniform(0.1, 0.5))
                yield share * self.seconds, trouble, self.rng.random()

    def play(self):
        """Lets all happen, each when it is due or after the one before it."""
        for due, trouble, luck in self.plan:
            while self.soak.motion.now() < due:
                if self.soak.over.wait(max(0.0, min(0.2, due - self.soak.motion.now()))):
                    return
            name = trouble.__name__
            self.soak.say(f"{self.soak.motion.now():6.1f} s  {name.replace('_', ' ')}")
            self.soak.crowd.order("storm")
            trouble(luck)
            self.count[name] = self.count.get(name, 0) + 1
            self.soak.over.wait(self.length(0.5))
            self.soak.crowd.order("calm")

    def length(self, share):
        """How long a trouble lasts, in seconds: a share of its usual length that depends on the
        run's."""
        return share * self.seconds / 60

    def last(self, luck):
        self.soak.over.wait(self.length(0.2 + luck))

    def kill(self, luck):
        self.soak.end_server(signal.SIGKILL)
        self.soak.over.wait(self.length(luck / 3))
        self.soak.start_server()

    def stop(self, luck):
        self.soak.end_server(signal.SIGTERM)
        self.soak.over.wait(self.length(luck / 6))
        self.soak.start_server()

    def fill(self, luck):
        disk, pid = self.soak.disk, self.soak.server.pid
        disk.fill(pid, (0, 4096, 60000, 200000)[int(4 * luck)])
        self.last(luck)
        disk.free(pid)

    def kill_while_full(self, luck):
        disk, pid = self.soak.disk, self.soak.server.pid
        disk.fill(pid, int(20000 * luck))
        self.last(luck)
        self.soak.end_server(signal.SIGKILL)
        disk.free(pid)
        self.soak.start_server()

    def cut_field(self, luck):
        self.soak.field.cut(True)
        self.last(luck)
        self.soak.field.cut(False)

    def cut_crowd(self, luck):
        self.soak.town.cut(True)
        self.last(luck)
        self.soak.town.cut(False)

    def delay(self, luck):
        self.soak.line.delay = 0.05 + 0.7 * luck
        self.last(luck)
        self.soak.line.delay = 0.0

    def tear(self, luck):
        """Breaks connections, some in the middle of an answer, and lets none be made for a
        moment."""
        self.soak.line.tear(True)
        self.soak.over.wait(self.length(0.2 * luck))
        self.soak.line.tear(False)

    def move_clock(self, luck):
        self.soak.inside.move(CLOCKS[int(len(CLOCKS) * luck)])

    def desk_clock(self, luck):
        self.soak.set_desk_clocks(random.Random(luck))
