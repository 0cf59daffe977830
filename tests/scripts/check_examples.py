#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The short examples of scripts/ read and plot every kind of file.

Usage: check_examples.py PROGRAM CELLS_FOLDER
"""
import os
import subprocess
import sys
import tempfile

import h5py  # noqa: F401
import matplotlib  # noqa: F401

STUDY = """title: A small study of the mid-cell
cell: %s
vary:
  iris_ellipse.axial_mm: {from: 10.0, to: 13.0}
sampling: {kind: sobol, points: 8}
"""


def main():
    program, cells_folder = (os.path.abspath(path) for path in sys.argv[1:3])
    scripts = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "scripts")
    failures = 0
    with tempfile.TemporaryDirectory() as folder:
        study = os.path.join(folder, "study.yaml")
        with open(study, "w", encoding="utf-8") as file:
            file.write(STUDY % os.path.join(cells_folder, "mid-cell.yaml"))
        kinds = {
            "result": ("solve", os.path.join(cells_folder, "mid-cell.yaml"), "-q"),
            "coldtest": ("coldtest", os.path.join(cells_folder, "coldtest", "injector-test.yaml")),
            "scan": ("scan", study, "-q"),
        }
        for kind, command in kinds.items():
            path, picture = (os.path.join(folder, kind + end) for end in (".hdf", ".png"))
            subprocess.run((program,) + command + ("-o", path), check=True,
                           stdout=subprocess.DEVNULL)
            for script in (("read-result.py", path), (f"plot-{kind}.py", path, picture)):
                done = subprocess.run([sys.executable, os.path.join(scripts, script[0]), *script[1:]],
                                      stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False)
                good = done.returncode == 0
                print("passed" if good else "FAILED", script[0], kind)
                if not good:
                    print(done.stdout.decode(errors="replace"))
                failures += not good
            drawn = os.path.exists(picture) and os.path.getsize(picture) > 5000
            print("passed" if drawn else "FAILED", f"picture of {kind}")
            failures += not drawn
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
