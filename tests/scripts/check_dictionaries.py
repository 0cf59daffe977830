#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The dictionaries of the fuzz targets of test files and of readings hold all words that their readers know."""
import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
ROOM = ROOT / "solver/coldtest_file"


def dictionary(name):
    lines = (ROOT / "tests/fuzz" / name).read_text().splitlines()
    return {line.strip('"').removesuffix(":") for line in lines if line.startswith('"')}


def keys_of_test_files():
    """Keys of the tables of fields, sections, and the words that a key can have."""
    found = set()
    for source in ROOM.glob("test_file*.c"):
        text = source.read_text()
        found |= set(re.findall(r'\bCAVUM_TEST_[A-Z]+\([^"()]*"(\w+)"', text))
        found |= set(re.findall(r'\.key = "(\w+)"', text))
        found |= set(re.findall(r'\bSECTION\("(\w+)"', text))
        for words in re.findall(r"cavum_yaml_word \w+\[\] = (\{.*?\{NULL, 0\}\})", text, re.S):
            found |= set(re.findall(r'\{"(\w+)"', words))
    return found


def columns_of_readings():
    """Columns with each of their units."""
    text = (ROOM / "readings_file.c").read_text() + (ROOT / "solver/table/csv_table.c").read_text()
    units = {name: re.findall(r'\.name = "(\w+)"', body)
             for name, body in re.findall(r"cavum_csv_unit (\w+)\[\] = (\{.*?\{\.name = NULL\}\})", text, re.S)}
    found = set()
    for name, table in re.findall(r'\{"(\w+)", \w+, (\w+)\}', text):
        found |= {f"{name}_{unit}" for unit in units.get(table, [])} or {name}
    return found


def main():
    faults = []
    for name, wanted, least in (("coldtest_file.dict", keys_of_test_files(), 120),
                                ("readings.dict", columns_of_readings(), 30)):
        missing = sorted(wanted - dictionary(name))
        if len(wanted) < least:
            faults.append(f"{name}: only {len(wanted)} words were found in the sources")
        if missing:
            faults.append(f"tests/fuzz/{name} lacks: " + " ".join(missing))
        print(f"{name}: {len(wanted)} words")
    print("\n".join(faults))
    sys.exit(1 if faults else 0)


main()
