#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The names of figures in the schemas of cells and goals are those that the library takes, in every unit that it takes.

Usage: check_figure_names.py LIBRARY SOURCE_FOLDER [--write]     --write: the names into the schemas
"""
import ctypes
import json
import pathlib
import re
import sys
import tempfile

from schema_checks import Error, check, finish, read_schema

UNKNOWN = ("is not a figure", "is not differentiated")
GOAL = "cell: %s.yaml\nvary: {'%s': {from: %s, to: %s}}\ncoupling: %s\nminimise: geometry_factor_ohm\nlimits: {%s: {least: 0.01}}\n"
# What is known of walls of ellipses and of paths, with k_cc and without; cells of the folder of tests.
KINDS = (("mid-cell", "iris_radius_mm", 34, 36, "yes"), ("pillbox", "path[2].line_to.r_mm", 99, 101, "no"))


class Names:
    """The library, asked for each name."""

    def __init__(self, library, source, folder):
        self.library, self.source, self.folder = ctypes.CDLL(library), source, folder
        for name, *_ in KINDS:
            (folder / f"{name}.yaml").write_text((source / f"tests/cells/{name}.yaml").read_text())

    def taken_in_requirements(self, name):
        made, error = ctypes.c_void_p(), Error()
        data = f"requirements: {{{name}: {{least: 0.01}}}}\n".encode()
        self.library.cavum_requirements_read_text(ctypes.byref(made), data, ctypes.c_size_t(len(data)), b"cell.yaml", ctypes.byref(error))
        self.library.cavum_requirements_destroy(ctypes.byref(made))
        return not any(words in error.message.decode() for words in UNKNOWN)

    def taken_in_goals(self, name):
        return any(self.taken_in_goal(name, *kind) for kind in KINDS)

    def taken_in_goal(self, name, cell, dimension, low, high, coupling):
        path = self.folder / "goal.yaml"
        path.write_text(GOAL % (cell, dimension, low, high, coupling, name))
        goal, error = ctypes.c_void_p(), Error()
        self.library.cavum_goal_open(ctypes.byref(goal), str(path).encode(), ctypes.byref(error))
        self.library.cavum_goal_close(ctypes.byref(goal))
        said = error.message.decode()
        if said and "limits" not in said:
            raise ValueError(f"{name}: {said}")
        return not any(words in said for words in UNKNOWN + ("k_cc needs",))

    def candidates(self):
        """Names in the tables of the sources, each with any unit behind it."""
        tables = "".join((self.source / f"include/cavum/{name}.h").read_text() for name in ("figures", "geometry"))
        tables += (self.source / "solver/design/requirements.c").read_text()
        table = (self.source / "solver/base/units.h").read_text()
        units = {re.sub("[()^]", "", symbol).replace("/", "_per_") for symbol in re.findall(r'X\(\w+, "([^"]*)"', table)}
        units = {unit for unit in units if re.fullmatch(r"\w+", unit)}
        known = set(re.findall(r'"([a-z]\w+)"', tables))
        stems = {name[:-len(unit) - 1] for name in known for unit in units if name.endswith("_" + unit)}
        return known | {f"{stem}_{unit}" for stem in stems for unit in units}


def with_names(text, names):
    """A schema with its names, in the part "figure"."""
    before, after = text.split('  "figure": {', 1)

    def listed(found):
        at = found[1]
        return f'{at}"enum": [\n' + ",\n".join(f'{at} "{name}"' for name in names) + f"\n{at}]"
    after = re.sub(r'( +)"enum": \[[^\]]*\]', listed, after, count=1)
    if '"pattern"' in after:
        after = re.sub(r'"pattern": "[^"]*"', f'"pattern": "{pattern_of(names)}"', after, count=1)
    return before + '  "figure": {' + after


def pattern_of(names):
    """Of figures of another cell of a goal."""
    return "^[^.]{1,23}[.](" + "|".join(names) + ")$"


def main():
    source = pathlib.Path(sys.argv[2]).resolve()
    with tempfile.TemporaryDirectory() as folder:
        asked = Names(sys.argv[1], source, pathlib.Path(folder))
        candidates = sorted(asked.candidates())
        found = {"cell": [name for name in candidates if asked.taken_in_requirements(name)],
                 "goal": [name for name in candidates if asked.taken_in_goals(name)]}
    for kind, names in found.items():
        path = source / f"scripts/schemas/{kind}.schema.json"
        if sys.argv[3:] == ["--write"]:
            path.write_text(with_names(path.read_text(), names))
        schema, _ = read_schema(path)
        part = schema["$defs"]["figure"]
        listed = part["enum"] if kind == "cell" else part["anyOf"][0]["enum"]
        check(listed == names, f"names in the schema of {kind}s", set(listed) ^ set(names))
        check({"frequency_MHz", "frequency_Hz", "k_cc", "wall_angle_deg"} <= set(names) and "strange" not in names, f"names of {kind}s", names)
        if kind == "goal":
            check(part["anyOf"][1]["pattern"] == pattern_of(names), "names of other cells of a goal")
    return finish()


if __name__ == "__main__":
    sys.exit(main())
