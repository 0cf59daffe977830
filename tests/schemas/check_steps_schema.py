#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The schema of step files takes what the library reads, and refuses what it refuses, key by key.

Usage: check_steps_schema.py LIBRARY SOURCE_FOLDER
"""
import ctypes
import pathlib
import re
import sys
import tempfile

import yaml

from schema_checks import Error, check, check_values, finish, keys_of_schema, load, read_schema

WRONG = ("steps: [{air: {gas: vacuum}}]\n",
         "cell: cell.yaml\n",
         "cell: cell.yaml\nsteps: []\n",
         "cell: cell.yaml\nsteps: [{name: nothing}]\n",
         "cell: cell.yaml\nsteps: [{air: {gas: vacuum}, change: {change_kHz: 1}}]\n",
         "cell: cell.yaml\nsteps: [{remove: {depth_um: 1, iris_um: 1, equator_um: 1}}]\n",
         "cell: cell.yaml\nsteps: [{remove: {equator_um: 1}}]\n",
         "cell: cell.yaml\nsteps: [{remove: {profile: [{z_mm: 1, depth_um: 1}]}}]\n",
         "cell: cell.yaml\nsteps: [{cool: {material: niobium, from_K: 293}}]\n",
         "cell: cell.yaml\nsteps: [{cool: {material: niobium, from_K: 293, to_K: 2, contraction: 0.001}}]\n",
         "cell: cell.yaml\nsteps: [{pressure: {change_mbar: 1}}]\n",
         "cell: cell.yaml\nsteps: [{lorentz: {gradient_MV_per_m: 1}}]\n",
         "cell: cell.yaml\nsteps: [{trim: {each_side_mm: 1}}]\n",
         "cell: cell.yaml\ntarget: {tolerance_kHz: 1}\nsteps: [{air: {gas: vacuum}}]\n",
         "cell: cell.yaml\ndumb_bell: {}\nsteps: [{air: {gas: vacuum}}]\n")


class Reader:
    """cavum_steps_open() of the library."""

    def __init__(self, library, folder):
        self.library, self.folder = ctypes.CDLL(library), folder

    def message(self, document):
        """"" where the library reads a document, else what it says."""
        path = self.folder / "steps.yaml"
        path.write_text(document if isinstance(document, str) else yaml.safe_dump(document))
        steps, error = ctypes.c_void_p(), Error()
        self.library.cavum_steps_open(ctypes.byref(steps), str(path).encode(), ctypes.byref(error))
        self.library.cavum_steps_close(ctypes.byref(steps))
        # Materials are listed in a sentence of their own.
        return re.sub(r"no table of the contraction of '(\w+)'.*: there are (.*), or state it", r"expected \2, found '\1'",
                      error.message.decode())


def keys_of_sources(folder):
    """Keys in the tables of the sources."""
    text = "".join(path.read_text() for path in (folder / "solver/steps").glob("*.c"))
    return set(re.findall(r'(?:CAVUM_STEP_FIELD\(\w+,\s*|\.key = |\bSECTION\(|\bMEASURED\()"(\w+)"', text)) | {"source"}


def main():
    source = pathlib.Path(sys.argv[2]).resolve()
    schema, validator = read_schema(source / "scripts/schemas/steps.schema.json")
    good = [path.read_text() for path in sorted((source / "tests/fuzz/seeds/steps").glob("*.yaml"))]
    check(len(good) >= 2, "good files")
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        reader = Reader(sys.argv[1], folder)
        for cell in ("cell.yaml", "path.yaml"):
            (folder / cell).write_text((source / "tests/cells/mid-cell.yaml").read_text())
        for text in good:
            check(not list(validator.iter_errors(load(text))), "taken by the schema",
                  [error.message for error in validator.iter_errors(load(text))])
            check(not reader.message(text), "read by the library", reader.message(text))
        for text in WRONG:
            check(not validator.is_valid(load(text)), "refused by the schema", text)
            check(reader.message(text), "refused by the library", text)
        for text in good:
            check_values(load(text), schema, reader.message)
    check(keys_of_schema(schema) == keys_of_sources(source), "keys of the schema and of the sources",
          keys_of_schema(schema) ^ keys_of_sources(source))
    return finish()


if __name__ == "__main__":
    sys.exit(main())
