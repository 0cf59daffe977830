#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Every column of a scan, read with h5py and as CSV, against the solve of the row's own cell file.

The frequency is held, so that no row is the base cell; one end is a tube, so that estimates of its cut are there.

Usage: check_scan_columns.py PROGRAM CELLS_FOLDER
"""
import csv
import io
import json
import math
import pathlib
import subprocess
import sys
import tempfile

from checking import check, exit_status

import h5py

PROGRAM = sys.argv[1]
CELL = """title: A cell with one tube
contour:
  kind: two-ellipse
  half_length_mm: 50.0
  iris_radius_mm: 30.0
  equator_radius_mm: 98.0
  equator_ellipse: {axial_mm: 38.0, radial_mm: 34.0}
  iris_ellipse: {axial_mm: 9.0, radial_mm: 15.0}
ends: {left: {kind: tube, length_mm: 60.0, close: electric}, right: {kind: magnetic}}
wall: {kind: niobium, temperature_K: 2.0, residual_nohm: 4.0}
requirements:
  epk_over_eacc: {most: 2.5}
  wall_angle_deg: {least: 9.0}
  geometry_factor_ohm: {least: 100.0}
"""
STUDY = """cell: cell.yaml
vary:
  iris_radius_mm: [27.0, 34.0]
  iris_ellipse.axial_mm: [8.0, 11.0]
hold: {frequency_MHz: 1320.0, by: equator_radius_mm}
"""
WORDS = {1: "met", 2: "missed", 3: "undecided"}


def run(folder, *arguments):
    """Standard output of the program."""
    done = subprocess.run([PROGRAM, *arguments], cwd=folder, capture_output=True, text=True, check=False)
    check(done.returncode == 0, f"{' '.join(arguments)}: {done.stderr.strip()}")
    return done.stdout


def check_figure(row, key, figure, columns):
    """Value, uncertainty and place of a figure of a row."""
    value = columns[key][row]
    if figure["value"] is None:
        check(not math.isfinite(value), f"row {row}: {key} is not there")
        return
    uncertainty = columns[f"{key}_uncertainty"][row]
    both = uncertainty + figure["uncertainty"]
    check(abs(value - figure["value"]) <= both + 1e-12 * abs(value), f"row {row}: {key} {value}, {figure['value']}")
    # About as uncertain as the single solve, whose mesh and degrees may be others.
    alike = 1e-3 * figure["uncertainty"] <= uncertainty <= 1e3 * figure["uncertainty"]
    check(alike or both <= 1e-4 * abs(value), f"row {row}: uncertainty of {key} {uncertainty}")
    for axis in ("z", "r") if "at_m" in figure else ():
        place = columns[f"{key.split('_mT_')[0]}_at_{axis}_m"][row]
        check(abs(place - figure["at_m"][axis]) < 2e-4, f"row {row}: {key} at {axis} = {place}, {figure['at_m'][axis]}")


def check_row(row, solved, columns):
    """All figures of a row, its requirements, its mesh."""
    figures = {key: value for key, value in solved["modes"][0].items()
               if isinstance(value, dict) and "uncertainty" in value and key in columns}
    for key, figure in figures.items():
        check_figure(row, key, figure, columns)
    check(len(figures) >= 15, f"row {row}: {len(figures)} figures")
    for key, requirement in solved["requirements"].items():
        word = WORDS.get(int(columns[f"verdict_{key}"][row]))
        check(word == requirement["verdict"], f"row {row}: {key} is {word}, {requirement['verdict']}")
        margin = columns[f"margin_{key}"][row]
        alike = abs(margin - requirement["margin"]) < 1e-4 * max(1.0, abs(margin))
        check(alike, f"row {row}: margin of {key} {margin}")
    check(columns["mesh_elements"][row] > 0 and columns["mesh_elements"][row] % 1 == 0, f"row {row}: elements")


def check_csv(text, columns):
    """The same numbers as text."""
    rows = list(csv.DictReader(io.StringIO(text)))
    check(len(rows) == len(columns["frequency_Hz"]), f"{len(rows)} rows of CSV")
    for key, column in columns.items():
        if key not in rows[0]:
            print("not in CSV:", key)
            continue
        for i, row in enumerate(rows):
            value = float(column[i])
            if key.startswith("verdict_"):
                check(row[key] == WORDS[int(value)], f"CSV {i}: {key} {row[key]}")
            elif key in ("status", "mode_label") or not math.isfinite(value):
                continue
            elif abs(float(row[key] or "nan") - value) > 1e-12 * abs(value):
                check(False, f"CSV {i}: {key} {row[key]}, {value}")


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "cell.yaml").write_text(CELL)
        (folder / "study.yaml").write_text(STUDY)
        run(folder, "scan", "study.yaml", "-o", "study.hdf", "--quiet")
        text = run(folder, "scan", "--summary", "study.hdf", "--csv", "-")
        with h5py.File(folder / "study.hdf") as file:
            columns = {key: column[:] for key, column in file["columns"].items()}
            for key, column in file["columns"].items():
                check(column.attrs["long_name"] and column.attrs["units"], f"{key} says what it is")
        for row in range(4):
            run(folder, "scan", "--shape", str(row), "study.hdf", "-o", f"{row}.yaml")
            check_row(row, json.loads(run(folder, "solve", f"{row}.yaml", "--json", "-")), columns)
        check_csv(text, columns)
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
