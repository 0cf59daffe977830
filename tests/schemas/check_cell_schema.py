#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The schema of cell files takes what the library reads, and refuses what it refuses, key by key.

Good cells are read by both. Then every number, word and key of them is spoilt in turn: both refuse. Each number at
an end of its range is in range for both. Keys of the schema and keys in the sources are the same.

Usage: check_cell_schema.py LIBRARY SOURCE_FOLDER
"""
import copy
import ctypes
import os
import pathlib
import re
import sys
import tempfile

import yaml

from schema_checks import Error, check, check_values, finish, keys_of_schema, load, read_schema

# What cavum_cell_read_text() leaves to functions of their own.
OF_COMMANDS = ("tolerances", "requirements")
CELL_BYTES = 1 << 13
OK = 0

TWO_HALVES = """
title: Two halves
beta: 0.9
accelerating_length_mm: 120
contour:
  kind: two-ellipse
  half_length_mm: 57.7
  iris_radius_mm: 35
  equator_radius_mm: 103.3
  equator_ellipse: {axial_mm: 42, radial_mm: 42}
  iris_ellipse: {axial_mm: 12, radial_mm: 19}
  left: {half_length_mm: 56, iris_radius_mm: 36, equator_radius_mm: 103.3, equator_ellipse: {axial_mm: 40, radial_mm: 40},
    iris_ellipse: {axial_mm: 10, radial_mm: 14}}
  right: {iris_ellipse: {radial_mm: 18}}
ends: {left: {kind: tube, length_mm: 100, radius_mm: 40, close: electric}, right: {kind: magnetic}}
modes: {count: 2, near_MHz: 1300}
accuracy: {frequency: 1.0e-6, other_figures: 1.0e-4}
wall: {kind: niobium, temperature_K: 2, residual_nohm: 5}
tolerances:
  left.iris_radius_mm: {uniform: 0.1}
  left.half_length_mm: {normal: 0.1}
  right.half_length_mm: {normal: 0.1}
  correlations: [{of: [left.half_length_mm, right.half_length_mm], coefficient: 0.8}]
  covariance: {of: [left.equator_ellipse.axial_mm, left.equator_ellipse.radial_mm], values: [[0.01, 0.005], [0.005, 0.01]]}
requirements:
  epk_over_eacc: {most: 2.4}
  wall_angle_deg: {least: 6}
  frequency_MHz: {is: 1300, within: 0.01}
"""
PATH = """
contour:
  kind: path
  start: {z_mm: 0, r_mm: 0}
  path:
    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}
    - {arc_to: {z_mm: 60, r_mm: 40}, centre: {z_mm: 60, r_mm: 0}, turn: left, boundary: metal}
    - {ellipse_to: {z_mm: 20, r_mm: 60}, centre: {z_mm: 60, r_mm: 60}, axial_mm: 40, radial_mm: 20, turn: right,
       angle_start_rad: -1.5707963267948966, angle_end_rad: -3.141592653589793,
       moved: [{offset_mm: 0, lengthening: 0}], boundary: electric}
    - {spline_through: [{z_mm: 14, r_mm: 54}, {z_mm: 10, r_mm: 50}, {z_mm: 0, r_mm: 40}], direction_at_start_deg: 180,
       direction_at_end_deg: 250, boundary: metal}
    - {cubic_to: {z_mm: 0, r_mm: 0}, coefficients: [{z_mm: 0, r_mm: 40}, {z_mm: 0, r_mm: -40}, {z_mm: 0, r_mm: 0},
       {z_mm: 0, r_mm: 0}], moved: [{offset_mm: 0}, {lengthening: 0}], boundary: magnetic}
accuracy: {peak_field: 1.0e-4}
wall: {kind: metal, conductivity_S_per_m: 5.8e+7}
"""
MESH = """
contour:
  kind: mesh
  file: cell.msh
  unit: mm
  axis: x
  regions: {window: {eps_r: 9.8, mu_r: 1}}
  boundaries: {outer: metal}
wall: {kind: resistance, surface_resistance_nohm: 20}
"""
BASE64 = """
contour: {kind: mesh, file_base64: JA==, unit: inch, axis: z}
wall: {kind: resistance, surface_resistance_ohm: 2.0e-8}
"""
MEASURED = """
contour: {kind: measured, file: points.csv, drawing: drawing.yaml, scatter_um: 5, probe_radius_mm: 0.5,
  probe_uncertainty_um: 1, largest_gap_mm: 20, best_fit: none}
"""
MOVED = """
contour:
  kind: two-ellipse
  half_length_mm: 57.7
  iris_radius_mm: 35
  equator_radius_mm: 103.3
  equator_ellipse: {axial_mm: 42, radial_mm: 42}
  iris_ellipse: {axial_mm: 12, radial_mm: 19}
  moved: [{equator_mm: 0}, {iris_mm: 0}, {left_iris_mm: 0}, {right_iris_mm: 0}, {offset_mm: 0.1, iris_share: 1.5},
    {offset_mm: 0.1, profile: [{z_mm: -50, share: 1}, {z_mm: 50, share: 0.5}]}, {longer_mm: 0.2},
    {contraction: 0.001, axial_contraction: 0.0008}]
ends: {left: {kind: magnetic}, right: {kind: magnetic}}
"""
# What it names, from the folder where the check runs.
FILES = {
    "points.csv": "z_mm,r_mm\n" + "".join(f"{z},89.5\n" for z in range(-50, 51, 2)),
    "drawing.yaml": "contour: {kind: path, start: {z_mm: -50, r_mm: 0}, path: [{line_to: {z_mm: 50, r_mm: 0}, boundary: axis},"
                    "{line_to: {z_mm: 50, r_mm: 90}, boundary: magnetic}, {line_to: {z_mm: -50, r_mm: 90}, boundary: metal},"
                    "{line_to: {z_mm: -50, r_mm: 0}, boundary: magnetic}]}",
}
# Each is wrong as a whole, not by one value.
WRONG = (
    MEASURED.replace("scatter_um: 5,", ""), MEASURED.replace("drawing: drawing.yaml,", ""),
    "{}", "contour: {kind: sphere}", "contour: {kind: path}", "contour: {kind: path, start: {z_mm: 0, r_mm: 0}, path: 3}",
    MESH.replace("file: cell.msh", ""), MESH.replace("unit: mm", "unit: mm\n  file_base64: JA=="),
    MESH.replace("unit: mm", ""), MESH + "ends: {left: {kind: metal}, right: {kind: metal}}",
    re.sub("ends:.*", "", TWO_HALVES), re.sub("ends:.*", "ends: {left: {kind: metal}}", TWO_HALVES),
    TWO_HALVES.replace("close: electric", ""), TWO_HALVES.replace("length_mm: 100, ", ""),
    TWO_HALVES.replace("{kind: magnetic}", "{kind: magnetic, length_mm: 4}"),
    TWO_HALVES.replace("temperature_K: 2, ", ""), TWO_HALVES.replace("kind: niobium", "kind: metal"),
    PATH.replace("turn: left,", ""), PATH.replace("angle_start_rad: -1.5707963267948966,", ""), PATH.replace(", boundary: axis", ""),
    MOVED.replace("{iris_mm: 0}", "{}"), MOVED.replace("{iris_mm: 0}", "{iris_mm: 0, longer_mm: 1}"),
    MOVED.replace("{iris_mm: 0}", "{iris_share: 2}"), MOVED.replace("{longer_mm: 0.2}", "{axial_contraction: 0.001}"),
    MOVED.replace("{z_mm: 50, share: 0.5}", ""), MOVED.replace("0.1, iris_share", "0.1, profile: [], iris_share"),
    BASE64.replace("surface_resistance_ohm: 2.0e-8", "surface_resistance_ohm: 2.0e-8, surface_resistance_nohm: 20"),
)
# Wrong sections, read by functions of their own.
WRONG_SECTIONS = {
    "requirements": ("3", "{f: 3}", "{frequncy_MHz: {least: 1}}", "{frequency_ohm: {least: 1}}", "{epk_over_eacc: {}}", "{epk_over_eacc: {most: many}}", "{epk_over_eacc: {is: 3}}",
                     "{epk_over_eacc: {is: 3, within: -1}}", "{epk_over_eacc: {is: 3, within: 1, most: 3}}",
                     "{epk_over_eacc: {largest: 2}}"),
    "tolerances": ("3", "{left.iris_radius_mm: 0.1}", "{left.iris_radius_mm: {normal: 0}}", "{left.iris_radius_mm: {normal: -1}}",
                   "{left.iris_radius_mm: {uniform: wide}}", "{left.iris_radius_mm: {normal: 1, uniform: 1}}",
                   "{left.iris_radius_mm: {triangular: 1}}", "{covariance: {of: [left.iris_radius_mm]}}",
                   "{covariance: {of: [left.iris_radius_mm], values: 3}}",
                   "{left.iris_radius_mm: {normal: 1}, correlations: 3}",
                   "{left.iris_radius_mm: {normal: 1}, left.equator_radius_mm: {normal: 1}, correlations: "
                   "[{of: [left.iris_radius_mm, left.equator_radius_mm], coefficient: 1.1}]}",
                   "{left.iris_radius_mm: {normal: 1}, left.equator_radius_mm: {normal: 1}, correlations: "
                   "[{of: [left.iris_radius_mm], coefficient: 1}]}"),
}
class Reader:
    """cavum_cell_read_text() of the library."""

    def __init__(self, library):
        self.library = ctypes.CDLL(library)
        self.library.cavum_cell_read_text_sized.argtypes = [
            ctypes.c_void_p, ctypes.c_size_t, ctypes.c_char_p, ctypes.c_size_t, ctypes.c_char_p, ctypes.c_void_p]

    def message(self, document):
        """"" where the library reads a document, else what it says."""
        text = document if isinstance(document, str) else yaml.safe_dump(document)
        cell, error = ctypes.create_string_buffer(CELL_BYTES), Error()
        data = text.encode()
        status = self.library.cavum_cell_read_text_sized(cell, CELL_BYTES, data, len(data), b"cell.yaml",
                                                         ctypes.byref(error))
        if status == OK:
            self.library.cavum_cell_clear(cell)
            return ""
        return error.message.decode()

    def message_of_section(self, section, text):
        """The same of one that has a function of its own."""
        cell, error, made = ctypes.create_string_buffer(CELL_BYTES), Error(), ctypes.c_void_p()
        data = text.encode()
        if section == "requirements":
            self.library.cavum_requirements_read_text(ctypes.byref(made), data, ctypes.c_size_t(len(data)), b"cell.yaml",
                                                      ctypes.byref(error))
            self.library.cavum_requirements_destroy(ctypes.byref(made))
            return error.message.decode()
        self.library.cavum_cell_read_text_sized(cell, CELL_BYTES, data, len(data), b"cell.yaml", None)
        self.library.cavum_tolerances_read_text(ctypes.byref(made), cell, data, ctypes.c_size_t(len(data)), b"cell.yaml",
                                                ctypes.byref(error))
        self.library.cavum_tolerances_destroy(ctypes.byref(made))
        self.library.cavum_cell_clear(cell)
        return error.message.decode()


def keys_of_sources(folder):
    """Keys in the tables of the sources."""
    found = set()
    for source in (folder / "mesh/cell").glob("*.c"):
        text = source.read_text()
        found |= set(re.findall(r"\.(?:key|former) = \"(\w+)\"", text))
        if source.name == "keys.c":
            found |= set(re.findall(r"\b(?:NUMBER|LENGTH|WORD|MAPPING)\(\"(\w+)\"", text))
        if source.name == "file_moved.c":
            found |= set(re.findall(r"\bMOVE_(?:NUMBER|LENGTH)\(\"(\w+)\"", text))
    return found


def main():
    library, source = sys.argv[1], pathlib.Path(sys.argv[2]).resolve()
    schema, validator = read_schema(source / "scripts/schemas/cell.schema.json")
    reader = Reader(library)
    folder = tempfile.TemporaryDirectory()
    os.chdir(folder.name)
    for name, text in FILES.items():
        pathlib.Path(name).write_text(text)
    files = [path for folder in ("tests/cells", "geometries-demo") for path in sorted((source / folder).glob("*.yaml"))
             if "study" not in path.name]
    check(len(files) > 15, "demo cells are there")
    for text in [TWO_HALVES, PATH, MESH, BASE64, MEASURED, MOVED] + [path.read_text() for path in files]:
        said = "; ".join(error.message for error in validator.iter_errors(load(text)))
        check(not said, "taken by the schema", said)
        check(not reader.message(text), "read by the library", reader.message(text))
    for text in WRONG:
        check(not validator.is_valid(load(text)), "refused by the schema", text)
        check(reader.message(text), "refused by the library", text)
    plain = re.sub("tolerances:.*", "", TWO_HALVES, flags=re.S)
    for section, wrong in WRONG_SECTIONS.items():
        check(not reader.message_of_section(section, TWO_HALVES), section, reader.message_of_section(section, TWO_HALVES))
        for text in (plain + f"{section}: {one}\n" for one in wrong):
            check(not validator.is_valid(load(text)), "refused by the schema", text)
            check(reader.message_of_section(section, text), "refused by the library", text)
    for text in (TWO_HALVES, PATH, MESH, BASE64, MEASURED, MOVED):
        check_values(load(text), schema, reader.message, OF_COMMANDS, ("regions", "boundaries"))
    of_commands = {"correlations", "of", "coefficient", "covariance", "values", "normal", "uniform", "least", "most",
                   "is", "within"}
    check(keys_of_schema(schema) == keys_of_sources(source) | of_commands, "keys of the schema and of the sources",
          keys_of_schema(schema) ^ (keys_of_sources(source) | of_commands))
    return finish()


if __name__ == "__main__":
    sys.exit(main())
