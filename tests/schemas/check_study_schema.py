#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The schema of study files takes what the library reads, and refuses what it refuses, key by key.

Usage: check_study_schema.py LIBRARY SOURCE_FOLDER
"""
import ctypes
import pathlib
import re
import sys
import tempfile

import yaml

from schema_checks import Error, check, check_values, finish, keys_of_schema, load, read_schema

WHOLE = """
title: All keys
cell: mid-cell.yaml
vary:
  iris_ellipse.axial_mm: {from: 10, to: 13}
  iris_ellipse.radial_mm: [19, 20]
sampling: {kind: sobol, points: 8, seed: 3}
linked: [equator_ellipse.axial_mm = equator_ellipse.radial_mm]
hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 90, to: 120}
limits: {wall_angle_deg: 3, iris_curvature_mm: 4, where: [epk_over_eacc < 3]}
figures: [epk_over_eacc, frequency_Hz]
derivatives: [frequency_Hz]
coupling: inner-cell
mode: 1
modes: {count: 1}
aims: ["epk_over_eacc:smaller"]
batch: 64
"""
GRID = "cell: mid-cell.yaml\nvary: {iris_radius_mm: {from: 34, to: 36, points: 3}}\nlimits: {wall_angle_deg: 3}\n"
TABLE = "cell: mid-cell.yaml\ntable: shapes.csv\ncoupling: yes\n"
SHAPES = "cell: mid-cell.yaml\nshapes: {iris_radius_mm: [34, 35], equator_radius_mm: [103, 104]}\naims: [epk_over_eacc]\n"
WRONG = ("vary: {iris_radius_mm: [34, 35]}", "cell: mid-cell.yaml", GRID + "table: shapes.csv",
         TABLE + "sampling: {kind: grid}", SHAPES + "sampling: {kind: grid}", SHAPES + "table: shapes.csv", GRID.replace("from: 34, ", ""), GRID.replace("iris_radius_mm: {from: 34, to: 36, points: 3}", ""),
         WHOLE.replace("kind: sobol, ", ""), WHOLE.replace("frequency_MHz: 1300, ", ""), WHOLE.replace("by: equator_radius_mm, ", ""),
         WHOLE.replace("seed: 3", "seed: 0.5"), WHOLE.replace("count: 1", ""),
         WHOLE.replace("[equator_ellipse.axial_mm = equator_ellipse.radial_mm]", "[nothing]"))


class Reader:
    """cavum_study_open() of the library."""

    def __init__(self, library, folder):
        self.library, self.folder = ctypes.CDLL(library), folder

    def message(self, document):
        """"" where the library reads a document, else what it says."""
        path = self.folder / "study.yaml"
        path.write_text(document if isinstance(document, str) else yaml.safe_dump(document))
        study, error = ctypes.c_void_p(), Error()
        self.library.cavum_study_open(ctypes.byref(study), str(path).encode(), ctypes.byref(error))
        self.library.cavum_study_close(ctypes.byref(study))
        return error.message.decode()


def keys_of_sources(folder):
    """Keys in the tables of the sources."""
    return {key for source in (folder / "solver/scan").glob("study_*.c")
            for key in re.findall(r"\.key = \"(\w+)\"", source.read_text())}


def main():
    source = pathlib.Path(sys.argv[2]).resolve()
    schema, validator = read_schema(source / "scripts/schemas/study.schema.json")
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        reader = Reader(sys.argv[1], folder)
        (folder / "mid-cell.yaml").write_text((source / "tests/cells/mid-cell.yaml").read_text())
        (folder / "shapes.csv").write_text("iris_radius_mm\n34\n35\n")
        for text in (WHOLE, GRID, TABLE, SHAPES):
            check(not list(validator.iter_errors(load(text))), "taken by the schema", text)
            check(not reader.message(text), "read by the library", reader.message(text))
        for text in WRONG:
            check(not validator.is_valid(load(text)), "refused by the schema", text)
            check(reader.message(text), "refused by the library", text)
        for text in (WHOLE, GRID, TABLE):
            check_values(load(text), schema, reader.message, (), ("vary",),
                         ("vary.iris_ellipse.radial_mm.0", "vary.iris_ellipse.radial_mm.1"))
    for file in ("tests/cells/iris-study.yaml", "geometries-demo/iris-study.yaml"):
        check(validator.is_valid(load((source / file).read_text())), "taken by the schema", file)
    check(keys_of_schema(schema) == keys_of_sources(source), "keys of the schema and of the sources",
          keys_of_schema(schema) ^ keys_of_sources(source))
    return finish()


if __name__ == "__main__":
    sys.exit(main())
