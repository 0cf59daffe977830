#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The schema of goal files takes what the library reads, and refuses what it refuses, key by key.

Usage: check_goal_schema.py LIBRARY SOURCE_FOLDER
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
  iris_ellipse.radial_mm: {from: 16, to: 22}
linked: [equator_ellipse.axial_mm = equator_ellipse.radial_mm]
hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 90, to: 120}
minimise: {bpk_over_eacc_mT_per_MV_per_m: 1, epk_over_eacc: 0.5}
maximise: k_cc
limits: {wall_angle_deg: {least: 3}, iris_curvature_mm: {least: 3}, geometry_factor_ohm: {is: 270, within: 0}}
steps: {iris_ellipse.axial_mm: 0.1}
robust: {deviations: 2, tolerances: shop.yaml}
coupling: inner-cell
mode: 1
cells: {wide: {cell: mid-cell.yaml, mode: 1, coupling: yes}}
starts: 3
solves: 40
tolerance: 1.0e-5
"""
FRONT = """
cell: mid-cell.yaml
vary: {iris_ellipse.axial_mm: {from: 10, to: 13}}
minimise: epk_over_eacc
limits: {frequency_MHz: {is: 1300}}
front: {bpk_over_eacc_mT_per_MV_per_m: {from: 4, to: 5, points: 3}, wall_angle_deg: {from: 2, to: 5, points: 2}}
"""
FREE = """
cell: mid-cell.yaml
vary: {iris_ellipse.axial_mm: {from: 10, to: 13}}
minimise: epk_over_eacc
free_wall: {points: 8, within_mm: 3, iris_side_radius_mm: 6, equator_side_radius_mm: 20}
"""
SHORT = "cell: mid-cell.yaml\nvary: {iris_radius_mm: {from: 34, to: 36}}\nmaximise: geometry_factor_ohm\n"
WRONG = (FREE.replace("points: 8, ", ""), FREE.replace("within_mm: 3, ", ""), FRONT.replace("{is: 1300}", "{is: 1300, strange: 1}"), SHORT.replace("maximise: geometry_factor_ohm", ""), SHORT.replace("cell: mid-cell.yaml", ""),
         SHORT.replace("{from: 34, to: 36}", "[34, 36]"), SHORT.replace("from: 34, ", ""),
         SHORT.replace("iris_radius_mm: {from: 34, to: 36}", ""), SHORT.replace("geometry_factor_ohm", "{}"),
         SHORT.replace("geometry_factor_ohm", "{geometry_factor_ohm: 0}"), SHORT + "starts: 1.5\n",
         FRONT.replace(", points: 3", ""), FRONT.replace("is: 1300", ""), WHOLE.replace("wide:", "a.b:"), WHOLE.replace("deviations: 2, ", ""), WHOLE.replace("deviations: 2, ", "value: mean, deviations: 2, "), WHOLE.replace("deviations: 2, ", "value: median, "), WHOLE.replace("cell: mid-cell.yaml, ", ""), FRONT + "steps: {iris_ellipse.axial_mm: 0}",
         SHORT.replace("geometry_factor_ohm", "geometry_facter_ohm"), SHORT.replace("geometry_factor_ohm", "{geometry_factor_m: 1}"),
         FRONT.replace("frequency_MHz", "frequncy_MHz"), FRONT.replace("bpk_over_eacc_mT", "bpk_over_eacc_uT"),
         WHOLE.replace("geometry_factor_ohm:", "wide.geometry_facter_ohm:"), WHOLE.replace("is: 270, ", ""), WHOLE.replace("frequency_MHz: 1300, ", ""),
         WHOLE.replace("[equator_ellipse.axial_mm = equator_ellipse.radial_mm]", "[nothing]"))


class Reader:
    """cavum_goal_open() of the library."""

    def __init__(self, library, folder):
        self.library, self.folder = ctypes.CDLL(library), folder

    def message(self, document):
        """"" where the library reads a document, else what it says."""
        path = self.folder / "goal.yaml"
        path.write_text(document if isinstance(document, str) else yaml.safe_dump(document))
        goal, error = ctypes.c_void_p(), Error()
        self.library.cavum_goal_open(ctypes.byref(goal), str(path).encode(), ctypes.byref(error))
        self.library.cavum_goal_close(ctypes.byref(goal))
        return error.message.decode()


def keys_of_sources(folder):
    """Keys in the tables of the sources: those of goals, and of the sections that studies have as well."""
    own = "".join((folder / "solver/optimum" / name).read_text() for name in ("goal_file.c", "free_wall_read.c"))
    hold = re.search(r"cavum_yaml_field hold_fields\[\] = (\{.*?\n\};)", (folder / "solver/scan/study_inputs.c").read_text(), re.S)
    bounds = re.search(r'words\[\] = \{("least".*?)\}', (folder / "solver/design/requirements.c").read_text())
    return set(re.findall(r"\.key = \"(\w+)\"", own + hold[1])) | set(re.findall(r'"(\w+)"', bounds[1]))


def main():
    source = pathlib.Path(sys.argv[2]).resolve()
    schema, validator = read_schema(source / "scripts/schemas/goal.schema.json")
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        reader = Reader(sys.argv[1], folder)
        (folder / "mid-cell.yaml").write_text((source / "tests/cells/mid-cell.yaml").read_text())
        (folder / "shop.yaml").write_text("tolerances: {iris_radius_mm: {normal: 0.1}}\n")
        for text in (WHOLE, FRONT, FREE, SHORT):
            check(not list(validator.iter_errors(load(text))), "taken by the schema", text)
            check(not reader.message(text), "read by the library", reader.message(text))
        for figure, value in (("wide.geometry_factor_ohm", 0.27), ("geometry_factor_kohm", 0.27), ("frequency_GHz", 1.3),
                              ("k_cc", 0.27)):
            text = WHOLE.replace("geometry_factor_ohm:", figure + ":").replace("is: 270", f"is: {value}")
            check(validator.is_valid(load(text)) and not reader.message(text), f"a limit on {figure}", reader.message(text))
        for text in WRONG:
            check(not validator.is_valid(load(text)), "refused by the schema", text)
            check(reader.message(text), "refused by the library", text)
        # An objective is a figure or a mapping of figures.
        any_key = ("cells", "vary", "minimise", "maximise", "steps")
        figures = ("epk_over_eacc", "bpk_over_eacc_mT_per_MV_per_m", "least", "most", "is", "within")
        for text in (WHOLE, FRONT, FREE, SHORT):
            check_values(load(text), schema, reader.message, ("minimise", "maximise"), any_key, free_numbers(load(text), figures))
    check(keys_of_schema(schema) == keys_of_sources(source), "keys of the schema and of the sources",
          keys_of_schema(schema) ^ keys_of_sources(source))
    return finish()


def free_numbers(document, names):
    """Places of numbers whose range depends on the figure."""
    found = []
    for section in ("minimise", "maximise", "limits", "steps"):
        inner = document.get(section, {})
        for key, value in inner.items() if isinstance(inner, dict) else ():
            found.append(f"{section}.{key}")
            found += [f"{section}.{key}.{name}" for name in names if isinstance(value, dict)]
    return found


if __name__ == "__main__":
    sys.exit(main())
