#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The HDF5 file of a chain of steps, read with h5py: each column is what the JSON of the same run says.

Usage: check_steps_file.py PROGRAM CELLS_FOLDER
"""
import json
import math
import pathlib
import subprocess
import sys
import tempfile

from checking import check, exit_status

import h5py

STEPS = """title: Cup of a chain
cell: {cells}/mid-cell.yaml
dumb_bell: {{half: left}}
drawing: {{uncertainty_kHz: 200}}
target: {{frequency_MHz: 1299.0, tolerance_kHz: 60}}
steps:
  - {{name: bench, air: {{temperature_C: 22, humidity_percent: 40}}, measured_MHz: 1300.4, measured_uncertainty_kHz: 20,
     measured_zero_MHz: 1272.5, measured_pi_MHz: 1298.2}}
  - {{name: bulk, remove: {{depth_um: 140, uncertainty_um: 12}}}}
  - {{name: pulled, stretch: {{length_mm: 0.3, uncertainty_mm: 0.02}}}}
  - {{name: pumped, air: {{gas: vacuum}}}}
  - {{name: cold, cool: {{material: niobium, from_K: 293, to_K: 2}}}}
"""
# Columns of the file that have another name in JSON; all others are KEY_Hz there.
NAMES = {"amount": "amount_m", "amount_uncertainty": "amount_uncertainty_m", "slope": "slope_Hz_per_m",
         "next_amount": "next_amount_m", "next_amount_uncertainty": "next_amount_uncertainty_m",
         "found_amount": "found_amount_m", "found_amount_uncertainty": "found_amount_uncertainty_m", "k_cc": "k_cc",
         "uncertainty_not_stated": "uncertainty_not_stated"}


def find(step, name):
    """The number of JSON that a column of the file holds; None: there is none."""
    for place in (step, step.get("halves_between_plates") or {}):
        for key in (NAMES.get(name, ""), f"{name}_Hz", name):
            if key in place:
                return place[key]
    return None


def unit_of(name):
    """The unit of a column by the end of its key in JSON."""
    key = NAMES.get(name, f"{name}_Hz")
    return next((unit for end, unit in (("_Hz_per_m", "Hz/m"), ("_m", "m"), ("_Hz", "Hz")) if key.endswith(end)), "1")


def compare(group, steps):
    """Numbers to the bit, texts to the letter; missing ones are NaN or empty. Units are those of the keys in JSON."""
    compared = set()
    for name, column in group.items():
        if not isinstance(column, h5py.Dataset):
            continue
        check(column.attrs["long_name"] and column.attrs["units"] is not None, f"{name} says what it is")
        check(len(column) == len(steps), f"{name} has a row for each step")
        for i, step in enumerate(steps):
            value = column[i]
            if column.dtype.kind == "S":
                check(value.decode() == (step.get(name) or ""), f"{name} {i}: {value}")
                compared.add(name)
                continue
            expected = find(step, name)
            if expected is None:
                check(not math.isfinite(value) or value == 0.0, f"{name} {i} is {value}, and not in JSON")
                continue
            check(value == expected, f"{name} {i}: {value}, {expected}")
            if name not in compared:
                unit = column.attrs["units"].decode()
                check(unit == unit_of(name), f"{name} is in {unit}, expected {unit_of(name)}")
            compared.add(name)
    return compared


def main():
    program, cells = sys.argv[1:3]
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "steps.yaml").write_text(STEPS.format(cells=cells))
        done = subprocess.run([program, "steps", "steps.yaml", "-o", "steps.hdf", "--json", "steps.json"], cwd=folder,
                              capture_output=True, text=True, check=False)
        check(done.returncode == 0, f"cavum steps: {done.stderr.strip()}")
        steps = json.loads((folder / "steps.json").read_text())["behind_each_step"]
        with h5py.File(folder / "steps.hdf") as file:
            compared = compare(file["steps"], steps)
    for key in ("frequency", "uncertainty", "aim", "aim_uncertainty", "tolerance", "change", "change_uncertainty",
                "derivative_change", "expected", "expected_uncertainty", "measured", "measured_uncertainty", "amount",
                "amount_uncertainty", "slope", "next_amount", "next_amount_uncertainty", "what", "reason",
                "zero_mode", "pi_mode", "zero_mode_aim", "pi_mode_aim", "zero_mode_uncertainty", "pi_mode_uncertainty",
                "measured_zero_mode", "measured_pi_mode", "k_cc"):
        check(key in compared, f"{key} is in file and JSON")
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
