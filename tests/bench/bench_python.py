# SPDX-License-Identifier: GPL-3.0-or-later
"""What a warm solve costs more in Python than in C: both in this process, with one solver and one cell.

A round has a block of solves in C, one more of them in C, one in Python, and one in Python that also looks at the
frequency, in an order by chance. All blocks solve the same shapes from the same neighbour, so that they do the same
work. What is printed is the median of the differences between the blocks of a round, with its standard error by
bootstrap. The second block in C tells how well that measures: its difference is zero, but for noise.

Usage: bench_python.py BUILD [ROUNDS]       the module is built by pip into BUILD/python-site
       bench_python.py BUILD --loop KIND N  N blocks of one kind; this is how valgrind counts their instructions
"""
import ctypes
import os
import random
import resource
import statistics
import subprocess
import sys
import time

import numpy

HERE = os.path.dirname(os.path.abspath(__file__))
CELL = os.path.join(HERE, "..", "cells", "mid-cell.yaml")
# A block goes there and back, so that the next one starts from the same neighbour.
RADII_MM = (103.4, 103.3)
KINDS = {"c": "C", "c again": "C once more", "python": "Python", "read": "Python, with f"}


class Cost(ctypes.Structure):
    """bench_cost of bench_python.c."""

    _fields_ = [("wall_us", ctypes.c_double), ("processor_us", ctypes.c_double)]


def build(folder):
    """The module as pip builds it; a folder to import it from."""
    site = os.path.join(folder, "python-site")
    subprocess.run([sys.executable, "-m", "pip", "install", "--quiet", "--no-build-isolation", "--no-deps", "--no-index",
                    "--no-cache-dir", "--disable-pip-version-check", "--upgrade", "--target", site,
                    os.path.join(HERE, "..", "..", "python")], check=True, stdout=sys.stderr,
                   env=dict(os.environ, CAVUM_BUILD=folder, PIP_ROOT_USER_ACTION="ignore"))
    return site


class Loops:
    """The four kinds of blocks; each gives what a solve took: wall and processor time."""

    def __init__(self, folder):
        sys.path.insert(0, os.path.join(folder, "python-site"))
        import cavum
        from cavum._library import address_of
        self.cell, self.solver = cavum.Cell.read(CELL), cavum.Solver()
        self.library = ctypes.CDLL(os.path.join(folder, "tests", "libbench_python.so"))
        self.cost, self.sum_hz = Cost(), ctypes.c_double()
        self.radii = (ctypes.c_double * len(RADII_MM))(*RADII_MM)
        self.pointers = [ctypes.c_void_p(it) for it in (self.solver._address, address_of(self.cell._cell))]

    def run(self, kind):
        """One block."""
        return {"python": self.in_python, "read": self.in_python_with_f}.get(kind, self.in_c)()

    def in_c(self):
        if self.library.bench_solve(ctypes.byref(self.cost), ctypes.byref(self.sum_hz), *self.pointers, self.radii,
                                    len(RADII_MM)) != 0:
            sys.exit(1)
        cost = self.cost
        return cost.wall_us / len(RADII_MM), cost.processor_us / len(RADII_MM)

    def in_python(self):
        cell, solver = self.cell, self.solver
        wall_ns, processor_ns = time.perf_counter_ns(), time.thread_time_ns()
        for radius in RADII_MM:
            cell["equator_radius_mm"] = radius
            solver.solve(cell)
        return self.spent(wall_ns, processor_ns)

    def in_python_with_f(self):
        cell, solver = self.cell, self.solver
        wall_ns, processor_ns = time.perf_counter_ns(), time.thread_time_ns()
        for radius in RADII_MM:
            cell["equator_radius_mm"] = radius
            solver.solve(cell).modes[0]["frequency_Hz"].value
        return self.spent(wall_ns, processor_ns)

    @staticmethod
    def spent(wall_ns, processor_ns):
        processor_ns = time.thread_time_ns() - processor_ns
        return 1e-3 * (time.perf_counter_ns() - wall_ns) / len(RADII_MM), 1e-3 * processor_ns / len(RADII_MM)


def count_faults(loops, kind, blocks=500):
    """Page faults of a solve, in a loop of its own: what tells of them would disturb the caches of the others."""
    before = resource.getrusage(resource.RUSAGE_THREAD).ru_minflt
    for _ in range(blocks):
        loops.run(kind)
    return (resource.getrusage(resource.RUSAGE_THREAD).ru_minflt - before) / (blocks * len(RADII_MM))


def measure(loops, rounds):
    """By kind, an array [rounds, 2]."""
    found = {kind: [] for kind in KINDS}
    for _ in range(20):
        for kind in KINDS:
            loops.run(kind)
    for _ in range(rounds):
        for kind in random.sample(list(KINDS), len(KINDS)):
            found[kind].append(loops.run(kind))
    return {kind: numpy.array(costs) for kind, costs in found.items()}


def median(values, draws=500):
    """Median and its standard error, by bootstrap."""
    chance = numpy.random.default_rng(1)
    drawn = [numpy.median(chance.choice(values, values.size)) for _ in range(draws)]
    return numpy.median(values), statistics.stdev(drawn)


def print_figure(text, values, unit):
    print(f"{text} {'%.1f +- %.1f' % median(values)} {unit}")


def count_instructions(folder, kind):
    """Of a solve, by valgrind: the difference between many blocks and few."""
    counts = []
    for blocks in (20, 120):
        done = subprocess.run(["valgrind", "--tool=cachegrind", "--cache-sim=no", "--cachegrind-out-file=/dev/null",
                               sys.executable, __file__, folder, "--loop", kind, str(blocks)], check=True,
                              capture_output=True, text=True, env=dict(os.environ, PYTHONHASHSEED="0"))
        counts.append(int(next(line for line in done.stderr.splitlines() if "refs:" in line).split()[-1].replace(",", "")))
    return (counts[1] - counts[0]) / (100 * len(RADII_MM))


def print_instructions(folder):
    try:
        counts = {kind: count_instructions(folder, kind) for kind in ("c", "python", "read")}
    except FileNotFoundError:
        print("instructions: not counted, there is no valgrind")
        return
    print(f"instructions of a warm solve, counted by valgrind: C {counts['c']:,.0f}; Python {counts['python'] - counts['c']:,.0f} more, "
          f"{counts['read'] - counts['c']:,.0f} with f")


def main():
    """Builds, measures, prints."""
    folder = os.path.abspath(sys.argv[1])
    if sys.argv[2:3] == ["--loop"]:
        loops = Loops(folder)
        for _ in range(int(sys.argv[4])):
            loops.run(sys.argv[3])
        return
    build(folder)
    loops = Loops(folder)
    found = measure(loops, int(sys.argv[2]) if len(sys.argv) > 2 else 3000)
    for kind, name in KINDS.items():
        wall, processor = numpy.median(found[kind], axis=0)
        print(f"{name:15} {wall:8.1f} us of wall time, {processor:8.1f} us of processor time of a warm solve; "
              f"{count_faults(loops, kind):.3f} page faults")
    for column, clock in enumerate(("wall time", "processor time")):
        base = found["c"][:, column]
        for kind in list(KINDS)[1:]:
            more = found[kind][:, column] - base
            print_figure(f"{KINDS[kind]:15} adds {clock:14}", more, "us, "
                         + "rate %.2f +- %.2f %% of that of C" % median(100 * base / found[kind][:, column]))
    print_instructions(folder)


if __name__ == "__main__":
    main()
