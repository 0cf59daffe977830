#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Files that claim to be larger than they are: refused, with little memory.

h5py makes them: it cuts the seal off, so that nothing but the sizes can be found wrong.

Usage: check_damage.py PROGRAM CELLS_FOLDER
"""
import os
import resource
import shutil
import subprocess
import sys
import tempfile

from checking import check, exit_status

try:
    import h5py
except ImportError:
    print("skipped: python3-h5py is not installed")
    sys.exit(77)

# What a command may take: a picture of a small cell takes a tenth.
MOST_MEGABYTES = 1000
CLAIMED = 1 << 28  # numbers, 2 GB


def claim(path, name, chunked):
    """Gives a dataset a size without storing anything."""
    with h5py.File(path, "r+") as file:
        old = file[name]
        attributes, dtype = dict(old.attrs), old.dtype
        del file[name]
        shape = (CLAIMED,)
        new = file.create_dataset(name, shape, dtype=dtype, chunks=(1 << 20,) if chunked else None)
        new.attrs.update(attributes)


def try_to_read(command, name):
    """Refused with one line and little memory."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    run = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    lines = [line for line in run.stderr.splitlines() if "note:" not in line]
    print(command[1], name, run.returncode, lines, before >> 10, after >> 10, "MB")
    check(run.returncode == 2 and len(lines) == 1, f"{command[1]}, {name}: refused")
    check("note:" in run.stderr, f"{command[1]}, {name}: told that there is no seal")
    check(after < MOST_MEGABYTES << 10, f"{command[1]}, {name}: memory")


def main():
    program, cells = os.path.abspath(sys.argv[1]), sys.argv[2]
    with tempfile.TemporaryDirectory() as folder:
        whole, damaged = os.path.join(folder, "whole.hdf"), os.path.join(folder, "damaged.hdf")
        subprocess.run([program, "solve", "-q", f"{cells}/pillbox.yaml", "-o", whole], check=True)
        for name in ("modes/1/axis/z", "modes/1/field/H_phi", "mesh/vertices"):
            for chunked in (False, True):
                shutil.copy(whole, damaged)
                claim(damaged, name, chunked)
                picture = os.path.join(folder, "picture.svg")
                try_to_read([program, "draw", damaged, "-o", picture], name)
                check(not os.path.exists(picture), "no picture")
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
