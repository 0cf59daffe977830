# SPDX-License-Identifier: GPL-3.0-or-later
"""The Python side of bench_python: reads how many solves, prints what each took of processor time and page faults.

Usage: python_warm.py BUILD CELL    the module is built by pip into BUILD/python-site, once for each version of it
"""
import os
import resource
import subprocess
import sys
import time

SOURCE = os.path.realpath(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "python"))


def build(folder):
    site = os.path.join(folder, "python-site")
    subprocess.run([sys.executable, "-m", "pip", "install", "--quiet", "--no-build-isolation", "--no-deps", "--no-index",
                    "--no-cache-dir", "--disable-pip-version-check", "--upgrade", "--target", site, SOURCE],
                   check=True, stdout=sys.stderr,
                   env=dict(os.environ, CAVUM_BUILD=folder, PIP_ROOT_USER_ACTION="ignore"))
    return site


def faults():
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt


def main():
    sys.path.insert(0, build(sys.argv[1]))
    import cavum
    cell, solver = cavum.Cell.read(sys.argv[2]), cavum.Solver()
    for line in sys.stdin:
        count, before, start = int(line), faults(), time.process_time()
        for i in range(count):
            cell["equator_radius_mm"] = 103.3 * (1 + 1e-5 * i)
            solver.solve(cell)
        print(1e6 * (time.process_time() - start) / count, (faults() - before) / count, flush=True)


main()
