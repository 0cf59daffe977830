#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""One version everywhere: of the program, its headers, the change log and the citation.

Usage: check_release.py PROGRAM CELLS_FOLDER
"""
import os
import re
import subprocess
import sys

from checking import check, exit_status

SOURCE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")


def read(*names):
    with open(os.path.join(SOURCE, *names), encoding="utf-8") as file:
        return file.read()


def main():
    said = subprocess.run([sys.argv[1], "--version"], check=True, stdout=subprocess.PIPE, text=True).stdout
    name, version = said.splitlines()[0].split()
    check(name == "cavum", "first line of --version")
    header = read("include", "cavum", "status.h")
    parts = [re.search(rf"#define CAVUM_VERSION_{part} (\d+)", header)[1] for part in ("MAJOR", "MINOR", "PATCH")]
    check(version == ".".join(parts), f"headers: {'.'.join(parts)}, program: {version}")
    newest = re.search(r"^## ([0-9.]+)", read("CHANGELOG.md"), re.M)[1]
    check(version == newest, f"change log: {newest}")
    cited = re.search(r"^version: ([0-9.]+)$", read("CITATION.cff"), re.M)[1]
    check(version == cited, f"citation: {cited}")
    libraries = dict(part.split() for part in said.splitlines()[1].removeprefix("compiled for ").split(", "))
    check({"HDF5", "CHOLMOD", "OpenBLAS", "GSL"} <= set(libraries), f"libraries {libraries}")
    packages = {"HDF5": "hdf5", "GSL": "gsl", "Jansson": "jansson", "zlib": "zlib", "OpenBLAS": "openblas"}
    for library, package in packages.items():
        there = subprocess.run(["pkg-config", "--modversion", package], check=True, stdout=subprocess.PIPE, text=True)
        check(there.stdout.startswith(libraries[library]), f"{library} {libraries[library]}, {there.stdout.strip()}")
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
