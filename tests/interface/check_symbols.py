#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The shared library shows the functions that its headers mark and nothing else, each with a version.

check_symbols.py LIBRARY HEADER_FOLDER
"""
import pathlib
import re
import subprocess
import sys


def documented(folder):
    names = set()
    for header in pathlib.Path(folder).glob("*.h"):
        text = re.sub(r"/\*.*?\*/", "", header.read_text(), flags=re.S)
        names |= set(re.findall(r"CAVUM_API\s[^;{(]*?\b(cavum_\w+)\s*\(", text))
    return names


def shown(library):
    listing = subprocess.run(
        ["nm", "-D", "--defined-only", "--with-symbol-versions", library],
        check=True, capture_output=True, text=True).stdout
    symbols = {}
    for line in listing.splitlines():
        _, kind, name = line.split()
        name, _, version = name.partition("@")
        if kind not in "Aa":
            symbols[name] = version.lstrip("@")
    return symbols


def main():
    library, folder = sys.argv[1:]
    wanted, found = documented(folder), shown(library)
    missing, extra = sorted(wanted - set(found)), sorted(set(found) - wanted)
    unversioned = sorted(name for name, version in found.items() if version != "CAVUM_0")
    print(f"{len(wanted)} functions in the headers, {len(found)} symbols in the library")
    for text, names in (("missing", missing), ("shown but not documented", extra),
                        ("without version CAVUM_0", unversioned)):
        if names:
            print(f"{text}: {', '.join(names)}")
    sys.exit(1 if missing or extra or unversioned or len(wanted) < 100 else 0)


main()
