#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The short examples of scripts/ read and plot every kind of file.

Usage: check_examples.py PROGRAM CELLS_FOLDER
"""
import json
import os
import re
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

TOLERANCES = """tolerances:
  iris_radius_mm: {normal: 0.05}
  equator_radius_mm: {uniform: 0.1}
"""


def predicted_frequency(program, script, cell, folder):
    """MHz at an iris radius that is larger by 0.01 mm, by the example and by a solve."""
    path, moved = os.path.join(folder, "d.json"), os.path.join(folder, "moved.yaml")
    subprocess.run((program, "solve", cell, "--derivatives", "-q", "--json", path), check=True)
    lines = subprocess.run((sys.executable, script, path, "iris_radius_mm=0.01"), check=True,
                           stdout=subprocess.PIPE).stdout.decode().splitlines()
    said = next(line for line in lines if line.startswith("frequency_Hz"))
    with open(cell, encoding="utf-8") as file:
        text = file.read()
    changed = re.sub(r"iris_radius_mm: ([0-9.]+)", lambda m: f"iris_radius_mm: {float(m[1]) + 0.01}", text)
    assert changed != text
    with open(moved, "w", encoding="utf-8") as file:
        file.write(changed)
    subprocess.run((program, "solve", moved, "-q", "--json", path, "--overwrite"), check=True)
    with open(path, encoding="utf-8") as file:
        solved = json.load(file)["modes"][0]["frequency_Hz"]["value"]
    return 1e-6 * float(said.split()[-1]), 1e-6 * solved


def main():
    program, cells_folder = (os.path.abspath(path) for path in sys.argv[1:3])
    scripts = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "scripts")
    failures = 0
    with tempfile.TemporaryDirectory() as folder:
        study = os.path.join(folder, "study.yaml")
        with open(study, "w", encoding="utf-8") as file:
            file.write(STUDY % os.path.join(cells_folder, "mid-cell.yaml"))
        tolerances = os.path.join(folder, "tolerances.yaml")
        with open(tolerances, "w", encoding="utf-8") as file:
            file.write(TOLERANCES)
        kinds = {
            "result": ("solve", os.path.join(cells_folder, "mid-cell.yaml"), "-q"),
            "coldtest": ("coldtest", os.path.join(cells_folder, "coldtest", "injector-test.yaml")),
            "scan": ("scan", study, "-q"),
            "spread": ("tolerances", os.path.join(cells_folder, "mid-cell.yaml"), "--from", tolerances,
                       "--samples", "20", "-q"),
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
        said, solved = predicted_frequency(program, os.path.join(scripts, "read-derivatives.py"),
                                           os.path.join(cells_folder, "mid-cell.yaml"), folder)
        # A step of 0.01 mm moves f by 0.04 MHz; half its curvature times the step squared is 1e-5 MHz.
        good = abs(said - solved) < 1e-4
        print("passed" if good else "FAILED", f"read-derivatives.py: {said} MHz, solved {solved} MHz")
        failures += not good
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
