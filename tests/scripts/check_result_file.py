#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Reads a result file with h5py, as its users do, and compares it with the JSON of the same run.

Usage: check_result_file.py PROGRAM CELLS_FOLDER
"""
import hashlib
import json
import math
import os
import subprocess
import sys
import tempfile

from checking import check, exit_status

import h5py


def text_of(item, attribute):
    """A text attribute as str; empty when there is none. Texts have a fixed length in the file."""
    return item.attrs.get(attribute, b"").decode()


def check_dataset(name, item):
    """Every dataset outside /VTKHDF says what it is, in UTF-8."""
    if not isinstance(item, h5py.Dataset) or name.startswith("VTKHDF/"):
        return
    for attribute in ("units", "long_name"):
        check(text_of(item, attribute), f"{name} has no text {attribute}")


def check_figure(name, item, expected):
    """Same number, uncertainty and position as in the JSON: both are written without rounding."""
    print(name, item[()], expected)
    check(text_of(item, "definition"), f"{name} has no definition")
    if expected["value"] is None:
        check(math.isinf(item[()]), f"{name} is unbounded in JSON only")
        check(text_of(item, "reason") == expected["reason"], f"{name}: reason")
    else:
        check(item[()] == expected["value"], f"{name}: value {item[()]}")
        check(item.attrs["uncertainty"] == expected["uncertainty"], f"{name}: uncertainty")
    if "at_m" in expected:
        z, r = item.attrs["position_z_r_m"]
        check((z, r) == (expected["at_m"]["z"], expected["at_m"]["r"]), f"{name}: position")


def check_derivatives(group, expected, figures):
    """Same dimensions, figures, numbers and reasons as in the JSON, with units."""
    check(set(group) == set(expected), "the dimensions are not those of the JSON")
    for dimension, values in expected.items():
        check(set(values) <= set(figures), f"{dimension}: derivatives of figures that are not there")
        for key, value in values.items():
            item, name = group[dimension][key], f"{key} by {dimension}"
            if value["value"] is None:
                check(math.isnan(item[()]), f"{name}: absent in JSON only")
                check(text_of(item, "reason") == value["reason"], f"{name}: reason")
            else:
                check(item[()] == value["value"], f"{name}: value")
                check(item.attrs["uncertainty"] == value["uncertainty"], f"{name}: uncertainty")
    check(text_of(group["iris_radius_mm/frequency_Hz"], "units") == "Hz mm-1", "Hz per mm")
    check(text_of(group["iris_radius_mm/epk_over_eacc"], "units") == "mm-1", "per mm")
    check(text_of(group["beta/r_over_q_linac_ohm"], "units") == "ohm", "ohm per 1")
    check(expected["iris_radius_mm"]["frequency_Hz"]["value"] is not None, "the iris moves f")


def check_mode(group, expected):
    """Figures, profiles, fields and derivatives of one mode."""
    derivatives = expected.pop("derivatives")
    check_derivatives(group["derivatives"], derivatives, expected)
    check(text_of(group, "label") == expected["label"], "label")
    figures = {key: value for key, value in expected.items() if isinstance(value, dict)}
    check(set(group["figures"]) == set(figures), "the figures are not those of the JSON")
    for key, value in figures.items():
        check_figure(key, group["figures"][key], value)
    for name in ("axis/z", "axis/E_z", "wall/arc_length", "wall/z", "wall/r", "wall/E", "wall/H"):
        check(name in group and group[name].shape[0] > 1, f"{name} is missing")
    for name in ("axis/E_z", "wall/E", "wall/H"):
        column = group[f"{name}_uncertainty"]
        check(column.shape == group[name].shape, f"shape of {name}_uncertainty")
        check(column.attrs["units"] == group[name].attrs["units"], f"unit of {name}_uncertainty")
        check((column[()] > 0.0).all(), f"{name}_uncertainty")
        check(column[()].max() < 0.01 * abs(group[name][()]).max(), f"size of {name}_uncertainty")
    for name in ("z", "r", "H_phi", "E_z", "E_r"):
        check(group["field"][name].shape == group["field/z"].shape, f"shape of field/{name}")
    for name, unit in (("H_phi", "A m-1"), ("E", "V m-1")):
        column = group[f"field/{name}_uncertainty"]
        largest = abs(group["field/H_phi"][()] if name == "H_phi" else group["field/E_z"][()]).max()
        check(column.shape[0] == group.file["mesh/element_vertices"].shape[0], f"{name}_uncertainty: one for each element")
        check(text_of(column, "units") == unit, f"unit of field/{name}_uncertainty")
        check((column[()] > 0.0).all() and column[()].max() < 0.1 * largest, f"size of field/{name}_uncertainty")


def check_file(result_path, cell_path, expected):
    """The whole file."""
    with open(result_path, "rb") as file:
        everything = file.read()
    seal = everything[-128:].split()
    check(seal[:5] == [b"cavum", b"seal", b"1", b"result", b"sha256"], "the file has no seal")
    digest = hashlib.sha256(everything[:-128]).hexdigest()
    check(seal[5:] == [digest.encode(), b"size", b"%d" % (len(everything) - 128)], "the seal")
    with h5py.File(result_path, "r") as result, open(cell_path, "rb") as cell:
        text = cell.read()
        check(result["input/cell_file"][()] == text, "the text of the cell file")
        check(
            result["input/cell_sha256"].asstr()[()] == hashlib.sha256(text).hexdigest(),
            "the fingerprint of the cell file",
        )
        result.visititems(check_dataset)
        modes = [name for name in result["modes"] if name.isdigit()]
        check(len(modes) == len(expected["modes"]), f"modes {modes}")
        for number, mode in enumerate(expected["modes"], 1):
            check_mode(result[f"modes/{number}"], mode)
        check(result["mesh/element_vertices"].shape[0] == expected["mesh"]["elements"], "elements")
        check(result["VTKHDF/Points"].shape[1] == 3, "points for ParaView")


def main():
    program, cells_folder = sys.argv[1:3]
    cell_path = os.path.join(cells_folder, "injector-cell.yaml")
    with tempfile.TemporaryDirectory() as folder:
        result_path = os.path.join(folder, "result.hdf")
        command = [program, "solve", cell_path, "-o", result_path, "--json", "-", "--derivatives"]
        output = subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout
        check_file(result_path, cell_path, json.loads(output))
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
