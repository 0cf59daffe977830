#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The names of numbers of a cell in the schemas of cells, studies and goals are those that the library knows.

Candidates are the places of all values of cells with every key (check_cell_schema.py); the library is asked for each.

Usage: check_dimension_names.py LIBRARY SOURCE_FOLDER [--write]     --write: the names into the schemas
"""
import ctypes
import json
import pathlib
import re
import sys

import check_cell_schema as cells
from schema_checks import Error, check, finish, load, places, read_schema

SECTIONS_OF_COMMANDS = ("tolerances", "requirements")
WALLS = ("{kind: resistance, surface_resistance_nohm: 20}", "{kind: resistance, surface_resistance_ohm: 2.0e-8}")
TUBES = "ends: {left: {kind: tube, length_mm: 90, close: metal}, right: {kind: tube, length_mm: 90, radius_mm: 40, close: metal}}\n"
# Names that were known before are still read, and no name is better than the new one.
FORMER = ("accuracy.peak_field",)


def dotted(place):
    name = ""
    for key in place:
        name += f"[{key + 1}]" if isinstance(key, int) else ("." if name else "") + str(key)
    return name


class Library:
    """cavum_cell_describe_key() of one cell."""

    def __init__(self, path, text):
        self.library, self.cell, error = ctypes.CDLL(path), ctypes.create_string_buffer(cells.CELL_BYTES), Error()
        data = text.encode()
        self.library.cavum_cell_read_text_sized(self.cell, ctypes.c_size_t(cells.CELL_BYTES), data,
                                                ctypes.c_size_t(len(data)), b"cell.yaml", ctypes.byref(error))
        if error.message:
            raise ValueError(error.message.decode())

    def knows(self, name):
        info, error = ctypes.create_string_buffer(1 << 12), Error()
        self.library.cavum_cell_describe_key(info, self.cell, name.encode(), ctypes.byref(error))
        return "the cell has no number" not in error.message.decode()


def samples():
    """Cells that have every number between them."""
    whole = re.sub("ends:.*", TUBES.strip(), cells.TWO_HALVES)
    whole = whole.replace("right: {iris_ellipse: {radial_mm: 18}}", re.search(r"left: (\{half.*?\}\})", cells.TWO_HALVES, re.S)[0]
                          .replace("left:", "right:", 1).replace("iris_radius_mm: 36", "iris_radius_mm: 35"))
    return [whole, cells.PATH, cells.MOVED] + [re.sub("wall: .*", "wall: " + wall, cells.PATH) for wall in WALLS]


def known_names(library):
    """Those that the library knows, and others that it does not."""
    known, others = set(), {"strange", "contour.iris_radus_mm", "iris_radius", "ends.iris_radius_mm", "path.line_to.z_mm"}
    for text in samples():
        asked = Library(library, text)
        for place, value in places(load(text)):
            if place[0] in SECTIONS_OF_COMMANDS:
                continue
            name = dotted(place)
            (known if asked.knows(name) else others).add(name)
            short = name.removeprefix("contour.")
            check(asked.knows(short) == asked.knows(name), f"{name} without contour.")
        check(not any(asked.knows(name) for name in others if "kind" in name or "radus" in name), "a name that is none")
    return sorted(known - set(FORMER)), sorted(others)


def plain_names(known):
    """Names without lists: whole, and without `contour.`."""
    whole = [name for name in known if "[" not in name]
    return sorted({name.removeprefix("contour.") for name in whole}) + [name for name in whole if name.startswith("contour.")]


def pattern_of(known):
    """Names with places in lists."""
    short = {re.sub(r"\[\d+\]", "[]", name.removeprefix("contour.")) for name in known if "[" in name}
    return "^(contour[.])?(" + "|".join(sorted(name.replace(".", "[.]").replace("[]", r"\[[1-9][0-9]*\]") for name in short)) + ")$"


def written(text, known):
    """A schema with the names in its part "number"."""
    part = json.dumps({"description": "A number of the cell file by its dotted name; `contour.` may be left out.",
                       "anyOf": [{"enum": plain_names(known)}, {"type": "string", "pattern": pattern_of(known)}]}, indent=1)
    part = '"number": ' + part.replace("\n", "\n  ")
    old = re.search(r'"number": \{.*?\n  \}(?=,?\n)', text, re.S)
    if old:
        return text.replace(old[0], part)
    if '"$defs": {' in text:
        return text.replace('"$defs": {\n', '"$defs": {\n  ' + part + ",\n", 1)
    return text.rstrip().removesuffix("}").rstrip() + ',\n "$defs": {\n  ' + part + "\n }\n}\n"


def main():
    source = pathlib.Path(sys.argv[2]).resolve()
    known, others = known_names(sys.argv[1])
    check(len(known) > 60, "names", known)
    for kind in ("cell", "study", "goal"):
        path = source / f"scripts/schemas/{kind}.schema.json"
        if sys.argv[3:] == ["--write"]:
            path.write_text(written(path.read_text(), known))
        schema, _ = read_schema(path)
        names = schema["$defs"]["number"]["anyOf"]
        check(names[0]["enum"] == plain_names(known), f"names in the schema of {kind}s", set(names[0]["enum"]) ^ set(plain_names(known)))
        check(names[1]["pattern"] == pattern_of(known), f"names in lists in the schema of {kind}s", names[1]["pattern"])
        taken = [name for name in others if name in names[0]["enum"] or re.search(names[1]["pattern"], name)]
        check(not taken, "names that are none", taken)
        refused = [name for name in known if name not in names[0]["enum"] and not re.search(names[1]["pattern"], name)]
        check(not refused, "names that are some", refused)
    return finish()


if __name__ == "__main__":
    sys.exit(main())
