#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The HDF5 file of a measured wall, read with h5py: each column is what the JSON of the same run says, in its unit.

Usage: check_as_built_file.py PROGRAM CELLS_FOLDER
"""
import json
import pathlib
import subprocess
import sys
import tempfile

from checking import check, exit_status

import h5py

DRAWING = """accelerating_length_mm: 100
contour:
  kind: path
  start: {z_mm: -50, r_mm: 0}
  path:
    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}
    - {line_to: {z_mm: 50, r_mm: 88}, boundary: electric}
    - {line_to: {z_mm: -50, r_mm: 88}, boundary: metal}
    - {line_to: {z_mm: -50, r_mm: 0}, boundary: electric}
"""
BUILT = """accelerating_length_mm: 100
contour: {kind: measured, file: points.csv, drawing: drawing.yaml, scatter_um: 2, probe_uncertainty_um: 3}
"""
# Ends of keys in JSON, which name the unit, the longest first.
ENDS = (("_Hz_per_m2", "Hz/m2"), ("_Hz_per_m", "Hz/m"), ("_Hz", "Hz"), ("_m", "m"))


def compare(group, numbers, count):
    """Columns against lists under KEY_UNIT; how many were compared."""
    compared = 0
    for key, values in numbers.items():
        end, unit = next(pair for pair in ENDS if key.endswith(pair[0]))
        column = group[key[:-len(end)]]
        check(column.attrs["units"].decode() == unit, f"{key} is in {column.attrs['units'].decode()}")
        check(column.attrs["long_name"], f"{key} says what it is")
        check(len(column) == count and list(column) == values, f"{key} to the bit")
        compared += 1
    return compared


def main():
    program = sys.argv[1]
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "drawing.yaml").write_text(DRAWING)
        (folder / "built.yaml").write_text(BUILT)
        rows = [f"{0.5 * i - 49.75:g},{88.02 + 1e-5 * i:.5f}" for i in range(200)]
        (folder / "points.csv").write_text("z_mm,r_mm\n" + "\n".join(rows) + "\n")
        done = subprocess.run([program, "as-built", "built.yaml", "-q", "-o", "built.hdf", "--json", "built.json"],
                              cwd=folder, capture_output=True, text=True, check=False)
        check(done.returncode == 0, f"cavum as-built: {done.stderr.strip()}")
        told = json.loads((folder / "built.json").read_text())
        with h5py.File(folder / "built.hdf") as file:
            wall = {key: values for key, values in told["wall"].items() if isinstance(values, list)}
            check(compare(file["wall"], wall, len(wall["along_m"])) == 7, "seven columns along the wall")
            sections = {key: [section[key] for section in told["sections"]] for key in told["sections"][0]}
            check(compare(file["sections"], sections, len(told["sections"])) == 9, "nine columns of pieces")
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
