#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The lowest mode of matrices that bench_rate wrote, by SciPy's eigsh as a user would call it.

Usage: rate_eigsh.py FOLDER SHIFT REPEATS
Prints the eigenvalue and the median seconds of eigsh alone; exit status 77 without SciPy.
"""

import sys
import time
from pathlib import Path

try:
    import numpy as np
    from scipy.sparse import csc_matrix, csr_matrix
    from scipy.sparse.linalg import eigsh
except ImportError as problem:
    print(problem, file=sys.stderr)
    sys.exit(77)


def read_matrix(folder, name):
    """One of the two matrices, in the format that shift-invert factorises without a copy."""
    values = np.fromfile(folder / name, np.float64)
    columns = np.fromfile(folder / "columns.bin", np.int32)
    pointers = np.fromfile(folder / "pointers.bin", np.int64)
    size = len(pointers) - 1
    return csc_matrix(csr_matrix((values, columns, pointers), shape=(size, size)))


def main():
    folder, shift, repeats = Path(sys.argv[1]), float(sys.argv[2]), int(sys.argv[3])
    stiffness, mass = read_matrix(folder, "stiffness.bin"), read_matrix(folder, "mass.bin")
    seconds = []
    for _ in range(repeats):
        start = time.perf_counter()
        values, _ = eigsh(stiffness, k=1, M=mass, sigma=shift)
        seconds.append(time.perf_counter() - start)
    print(f"{values[0]:.17g} {sorted(seconds)[len(seconds) // 2]:.9g} {stiffness.nnz}")


main()
