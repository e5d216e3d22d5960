# SPDX-License-Identifier: MIT
"""Prints the table of all that the other benchmarks measured; runs last, by its name."""

from tests.support import figures, machine


def main():
    print()
    print(f"Measured on {machine.describe()}.")
    print()
    print(figures.table())


if __name__ == "__main__":
    main()
