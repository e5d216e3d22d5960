# SPDX-License-Identifier: MIT
"""Has an office program open a sheet and recalculate it; runs under the Python that has its binding.

    recalculate.py OFFICE FOLDER SHEET CARS POINTS

Prints the check number of the sums and places, then the microseconds of each recalculation. The
office program uses FOLDER for its profile and its pipe, and is ended by this program.
"""

import subprocess
import sys
import time

import uno
from com.sun.star.beans import PropertyValue

ROUNDS = 9


def connect(pipe, child, seconds=120):
    """The desktop of the office program, once it listens."""
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext(
        "com.sun.star.bridge.UnoUrlResolver", local)
    end = time.monotonic() + seconds
    while True:
        try:
            context = resolver.resolve(
                f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
            return context.ServiceManager.createInstanceWithContext(
                "com.sun.star.frame.Desktop", context)
        except Exception:
            if time.monotonic() > end or child.poll() is not None:
                raise
            time.sleep(0.2)


def main(office, folder, sheet, cars, points):
    pipe = f"bench-{time.monotonic_ns()}"
    child = subprocess.Popen([office, "--headless", "--norestore", "--nologo",
                              f"-env:UserInstallation=file://{folder}/profile",
                              f"--accept=pipe,name={pipe};urp"],
                             stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        desktop = connect(pipe, child)
        hidden = PropertyValue()
        hidden.Name, hidden.Value = "Hidden", True
        document = desktop.loadComponentFromURL(f"file://{sheet}", "_blank", 0, (hidden,))
        times = []
        for _ in range(ROUNDS):
            start = time.perf_counter()
            document.calculateAll()
            times.append((time.perf_counter() - start) * 1e6)
        rows = document.Sheets.getByName("Score").getCellRangeByPosition(
            points, 0, points + 1, cars - 1).getDataArray()
        print(sum(round(total) * (i + 1) + round(place)
                  for i, (total, place) in enumerate(rows)))
        print(*(f"{value:.1f}" for value in times))
        document.close(True)
        desktop.terminate()
        child.wait(timeout=30)
    finally:
        if child.poll() is None:
            child.terminate()
            try:
                child.wait(timeout=20)
            except subprocess.TimeoutExpired:
                child.kill()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], sys.argv[3], int(sys.argv[4]), int(sys.argv[5]))
