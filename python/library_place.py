# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the library is: CAVUM_BUILD names a folder that CMake has built it in; without it, pkg-config finds an installed one."""
import os
import shlex
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))


def find_build(named):
    """A folder as it was named where pip was called, which has gone to the folder of this file since; or in the tree."""
    places = [os.path.abspath(os.path.join(base, named)) for base in (os.environ.get("PWD", "."), ".", os.path.join(HERE, ".."))]
    return next((place for place in places if os.path.isdir(place)), places[0])


def refuse_without_shared(build, names):
    """A linker takes a static library where there is no shared one, without a word and without what that one needs."""
    for name in names:
        if not any(os.path.exists(os.path.join(build, f"lib{name}{ending}")) for ending in (".so", ".dylib")):
            sys.exit(f"CAVUM_BUILD={build}: the shared library lib{name}.so is not there; build all targets first: cmake --build")


def library_settings():
    """Keywords for the compiler and the linker."""
    build = os.environ.get("CAVUM_BUILD")
    if build:
        build = find_build(build)
        refuse_without_shared(build, ("cavum", "cavum_pictures"))
        return {"include_dirs": [os.path.join(HERE, "..", "include")], "library_dirs": [build],
                # A package looks for the library where the system has it.
                "runtime_library_dirs": [] if "CAVUM_NO_RPATH" in os.environ else [build], "libraries": ["cavum_pictures", "cavum"]}
    command = [os.environ.get("PKG_CONFIG", "pkg-config"), "--cflags", "--libs", "cavum-pictures", "cavum"]
    words = shlex.split(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    settings = {"include_dirs": [], "library_dirs": [], "libraries": []}
    places = {"-I": "include_dirs", "-L": "library_dirs", "-l": "libraries"}
    for word in words:
        if word[:2] in places:
            settings[places[word[:2]]].append(word[2:])
    settings["runtime_library_dirs"] = list(settings["library_dirs"])
    return settings
