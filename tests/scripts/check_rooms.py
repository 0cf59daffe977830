#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The order of the house: what stands in a room can be found by its name.

A room is a folder of mesh/ or solver/. Its sources and headers are judged by what Universal Ctags
finds in them:
  - a function that other files can call is declared in the header of its source's name (file.h also for
    file_path.c: steps and kinds of one subject), in a public header, or in the one header that a room may
    keep for itself: no source has its name, and no other room includes it;
  - no two sources of a room need each other, neither directly nor through a third;
  - an include of a header that is not public names its room;
  - no type, constant or macro of a header has the name of one in another;
  - each file of code names its licence, and the guard of a header is made of its room and its name.

Usage: check_rooms.py [PROGRAM CELLS_FOLDER]     arguments that all checks get; they are not needed here
"""
import collections
import json
import pathlib
import re
import subprocess
import sys

from checking import check, exit_status

HOUSE = pathlib.Path(__file__).resolve().parents[2]


def files(*patterns):
    return [path for pattern in patterns for path in sorted(HOUSE.glob(pattern))]


SOURCES = files("mesh/*/*.c", "solver/*/*.c")
HEADERS = files("mesh/*/*.h", "solver/*/*.h")
PUBLIC = files("include/cavum/*.h")


def name(path):
    """As people write it: room/file."""
    return f"{path.parent.name}/{path.name}"


def find_tags():
    """Functions that each source defines for others, and those that each header declares."""
    done = subprocess.run(
        ["ctags", "--quiet=yes", "--options=NONE", "--output-format=json", "--languages=C", "--langmap=C:.c.h",
         "--kinds-C=fp", "--fields=+K", "--extras=+F-F", "-f", "-", *map(str, SOURCES + HEADERS + PUBLIC)],
        stdout=subprocess.PIPE, check=True, text=True)
    defined, declared = collections.defaultdict(set), collections.defaultdict(set)
    for line in done.stdout.splitlines():
        tag = json.loads(line)
        path = pathlib.Path(tag["path"])
        if tag["kind"] == "prototype":
            declared[path].add(tag["name"])
        elif path.suffix == ".c" and not tag.get("file") and tag["name"] != "main":
            defined[path].add(tag["name"])
    return defined, declared


def check_names():
    """Types, constants and macros have one header each: two of a name could not be included together."""
    done = subprocess.run(
        ["ctags", "--quiet=yes", "--options=NONE", "--output-format=json", "--languages=C", "--langmap=C:.c.h",
         "--kinds-C=degstu", "--fields=+K", "--extras=+F-F", "-f", "-", *map(str, HEADERS + PUBLIC)],
        stdout=subprocess.PIPE, check=True, text=True)
    places = collections.defaultdict(set)
    for line in done.stdout.splitlines():
        tag = json.loads(line)
        # An opaque type is named in one header, its struct stands in another.
        if not tag["name"].startswith("__anon"):
            places[tag["name"], tag["kind"] in ("struct", "union", "enum")].add(tag["path"])
    check(len(places) > 1000, f"ctags finds the names of headers ({len(places)})")
    twice = {name: sorted(found) for (name, _), found in places.items() if len(found) > 1}
    check(not twice, f"each type, constant and macro has one header {twice}")


def without_comments(text):
    """Code with comments and what stands in quotes left out, but for includes."""
    return re.sub(r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])+\'', " ", text, flags=re.S)


def includes(path):
    return re.findall(r'^[ \t]*#[ \t]*include[ \t]+"([^"]+)"', path.read_text(), flags=re.M)


def headers_of(source):
    """The header of a source's name, and those of its steps or kinds: file.h for file_path.c."""
    words = source.stem.split("_")
    return [source.with_name("_".join(words[:count]) + ".h") for count in range(len(words), 0, -1)]


def check_declarations(defined, declared):
    public = set().union(*(declared[path] for path in PUBLIC))
    shared = {header for path in SOURCES + HEADERS for header in includes(path)
              if header.split("/")[0] != path.parent.name}
    private = collections.defaultdict(set)
    for header in HEADERS:
        named = [header.with_suffix(".c"), *header.parent.glob(f"{header.stem}_*.c")]
        if not any(path.exists() for path in named) and name(header) not in shared and declared[header]:
            private[header.parent].add(header)
    for source, functions in defined.items():
        rest = functions.difference(public, *(declared[header] for header in headers_of(source)))
        if len(private[source.parent]) == 1:
            rest -= declared[next(iter(private[source.parent]))]
        for function in sorted(rest):
            places = [name(h) for h in HEADERS if function in declared[h]] or ["no header"]
            check(False, f"{name(source)} defines {function}, which is declared in {', '.join(places)}")


def needs(defined):
    """For each source the sources of its own room whose functions it names."""
    words = {path: set(re.findall(r"\w+", without_comments(path.read_text()))) for path in SOURCES}
    return {path: {other for other in SOURCES if other.parent == path.parent and other != path
                   and words[path] & (defined[other] - defined[path])} for path in SOURCES}


def reached(start, graph):
    seen, waiting = set(), [start]
    while waiting:
        for following in graph[waiting.pop()] - seen:
            seen.add(following)
            waiting.append(following)
    return seen


def check_circles(defined):
    graph = needs(defined)
    after = {path: reached(path, graph) for path in SOURCES}
    circles = {tuple(sorted(name(other) for other in after[path] if path in after[other]))
               for path in SOURCES if path in after[path]}
    for circle in sorted(circles):
        check(False, f"these need each other in a circle: {' '.join(circle)}")


def check_includes():
    for path in SOURCES + HEADERS + PUBLIC:
        for header in includes(path):
            found = any((HOUSE / above / header).is_file() for above in ("mesh", "solver", "include"))
            if not found:
                check(False, f"{name(path)} includes \"{header}\", which is no header of a room")


def check_head(path):
    """Licence and, for headers of rooms, the guard."""
    lines = path.read_text().splitlines()
    if not any("SPDX-License-Identifier: GPL-3.0-or-later" in line for line in lines[:2]):
        check(False, f"{path.relative_to(HOUSE)} does not name its licence in its first lines")
    if path in HEADERS or path in PUBLIC:
        room = "" if path in PUBLIC or path.stem == path.parent.name == "cavum" else path.parent.name + "_"
        guard = f"{'' if path.stem == 'cavum' else 'cavum_'}{room}{path.stem}_h".upper()
        if f"#ifndef {guard}" not in lines or f"#define {guard}" not in lines:
            check(False, f"{name(path)}: its guard is not {guard}")


def main():
    defined, declared = find_tags()
    check(sum(map(len, defined.values())) > 300, "ctags finds the functions")
    check_declarations(defined, declared)
    check_circles(defined)
    check_includes()
    check_names()
    for path in SOURCES + HEADERS + PUBLIC + files(
            "tests/**/*.[ch]", "tests/**/*.py", "tests/**/*.sh", "scripts/*", "scripts/cmake/*.cmake",
            "CMakeLists.txt", "tests/CMakeLists.txt", ".ci/*", "solver/*/web/*.css", "solver/*/web/*.js"):
        if path.is_file():
            check_head(path)
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
