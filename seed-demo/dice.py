# SPDX-License-Identifier: MIT
"""Whole-number chance for the demo event.

Every throw is drawn from a stream named by a text, such as "R4/2|117", so that a change at one
place of the event leaves every other place as it was. Nothing here depends on the Python version.
"""

MASK = (1 << 64) - 1
SEED = 20270520


class Dice:
    """A SplitMix64 stream that belongs to one name."""

    def __init__(self, name):
        state = 0xCBF29CE484222325 ^ SEED
        for byte in name.encode("utf-8"):  # FNV-1a
            state = ((state ^ byte) * 0x100000001B3) & MASK
        self.state = state

    def next(self):
        """The next 64 bits."""
        self.state = (self.state + 0x9E3779B97F4A7C15) & MASK
        z = self.state
        z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & MASK
        z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & MASK
        return z ^ (z >> 31)

    def between(self, low, high):
        """A whole number from low to high, both included."""
        return low + self.next() % (high - low + 1)

    def chance(self, thousandths):
        """True so many times in a thousand."""
        return self.next() % 1000 < thousandths

    def pick(self, items):
        """One of a list."""
        return items[self.next() % len(items)]

    def bell(self, sigma):
        """A bell-shaped whole number about 0 with this standard deviation (at most six of them)."""
        total = sum(self.next() % 1000 for _ in range(12)) - 5994
        return (total * sigma) // 1000

    def shuffle(self, items):
        """A shuffled copy."""
        out = list(items)
        for i in range(len(out) - 1, 0, -1):
            j = self.next() % (i + 1)
            out[i], out[j] = out[j], out[i]
        return out
