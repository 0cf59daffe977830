#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""What the program loads when it starts: solving a cell must not wait for libraries of other commands.

Usage: check_start.py PROGRAM CELLS_FOLDER
"""
import os
import subprocess
import sys

from checking import check, exit_status

# Each takes about a millisecond or more: pictures, and expressions of studies with the C++ library.
SLOW_LIBRARIES = ("cairo", "pango", "png", "muparser", "stdc++")


def loaded_libraries(program):
    """Names of the shared libraries that the loader takes for a program."""
    listing = subprocess.run(["ldd", program], check=True, capture_output=True, text=True).stdout
    return [line.split()[0] for line in listing.splitlines()]


def main():
    program = sys.argv[1]
    libraries = loaded_libraries(program)
    check(any("cholmod" in name for name in libraries), f"{len(libraries)} libraries are listed")
    for slow in SLOW_LIBRARIES:
        check(not any(f"lib{slow}" in name for name in libraries), f"cavum starts without {slow}")
    more = loaded_libraries(os.path.join(os.path.dirname(program), "cavum-more"))
    check(any("libcairo" in name for name in more), "cavum-more has the library for pictures")
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
