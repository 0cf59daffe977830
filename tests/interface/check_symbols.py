#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""What the shared libraries show and load.

Each shows the functions that its headers mark, with its version, and nothing else; the library of pictures
gets the rest of what it needs from the other one under a version of their very release. A program
that starts loads no library for pictures, for the network, for C++, and none that solving needs.

check_symbols.py LIBRARY LIBRARY_OF_PICTURES HEADER_FOLDER SOURCE_FOLDER
"""
import pathlib
import re
import subprocess
import sys

OF_PICTURES = {"picture.h"}
# Parts of names of libraries that computing and storing do not load, or not before they are needed.
STRANGERS = ("X11", "xcb", "krb5", "gssapi", "curl", "ssl", "crypto", "ldap", "cairo", "pango", "glib", "png",
             "freetype", "hdf5", "muparser", "stdc++", "openblas", "blas", "lapack", "arpack", "gfortran", "gomp",
             "cholmod", "metis")


def functions_marked(mark, headers):
    names = set()
    for header in headers:
        text = re.sub(r"/\*.*?\*/", "", header.read_text(), flags=re.S)
        names |= set(re.findall(mark + r"\s[^;{(]*?\b(cavum_\w+)\s*\(", text))
    return names


def shown(library):
    """Name of each symbol that a library defines for others, and its version."""
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


def check(library, wanted, between):
    """`wanted` and `between`: version and functions of the interface, and of what is not part of it."""
    found, faults = shown(library), []
    for version, names in (wanted, between):
        faults += [f"{name} is missing" for name in sorted(names - set(found))]
        faults += [f"{name} has the version {found[name]}, not {version}"
                   for name in sorted(names & set(found)) if found[name] != version]
    faults += [f"{name} is shown but not documented" for name in sorted(set(found) - wanted[1] - between[1])]
    print(f"{library}: {len(wanted[1])} functions in the headers, {len(found)} symbols")
    return faults


def loaded(library):
    listing = subprocess.run(["ldd", library], check=True, capture_output=True, text=True).stdout
    return [line.split()[0] for line in listing.splitlines()]


def check_loading(library):
    names = loaded(library)
    print(f"{library}: loads {len(names)} libraries")
    faults = [f"{library} loads {name}" for name in names for stranger in STRANGERS if f"lib{stranger}" in name]
    if not any("yaml" in name for name in names):
        faults.append("ldd does not show what is loaded")
    return faults


def main():
    library, pictures, headers, sources = sys.argv[1:]
    absent = [name for name in (library, pictures) if not pathlib.Path(name).exists()]
    if absent:
        sys.exit(f"not built: {', '.join(absent)}")
    public = sorted(pathlib.Path(headers).glob("*.h"))
    core = functions_marked("CAVUM_API", [path for path in public if path.name not in OF_PICTURES])
    drawing = functions_marked("CAVUM_API", [path for path in public if path.name in OF_PICTURES])
    between = functions_marked("CAVUM_BETWEEN", pathlib.Path(sources).glob("*/*.h"))
    project = (pathlib.Path(sources).parent / "CMakeLists.txt").read_text()
    release = re.search(r"project\(cavum VERSION (\S+)", project)[1]
    number = re.search(r"set\(CAVUM_SOVERSION (\d+)\)", project)[1]
    faults = check(library, (f"CAVUM_{number}", core), (f"CAVUM_PRIVATE_{release}", between))
    faults += check(pictures, (f"CAVUM_PICTURES_{number}", drawing), ("", set()))
    faults += check_loading(library)
    if len(core) < 100 or len(drawing) < 5 or not between:
        faults.append("the headers were not read")
    print("\n".join(faults))
    sys.exit(1 if faults else 0)


main()
