#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Each work that is cited by its key in brackets stands in solver/bibliography.md, and each that
stands there is cited."""
import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
LIST = ROOT / "solver" / "bibliography.md"
KEY = re.compile(r"\[((?:[A-Za-z]+(?:19|20)\d\d|JCGM\d+|FIPS[\d-]+))(?:[], ])")


# A name alone is no key.
NAME = re.compile(r"(?://|/\*|^ \*).*\[([A-Z][a-z]+)\](?![(\w])")


def without_year():
    places = []
    for folder in ("include", "mesh", "solver"):
        for path in sorted((ROOT / folder).rglob("*.[ch]")):
            for number, line in enumerate(path.read_text().splitlines(), 1):
                if NAME.search(line):
                    places.append(f"{path.relative_to(ROOT)}:{number}: {line.strip()}")
    return places


def cited():
    found = {}
    for folder in ("documentation", "include", "mesh", "solver", "tests", "scripts"):
        for path in (ROOT / folder).rglob("*"):
            if path.suffix in (".c", ".h", ".md", ".py") and path != LIST:
                for key in KEY.findall(path.read_text()):
                    found.setdefault(key, path.relative_to(ROOT))
    return found


def main():
    listed = set(re.findall(r"^\| (\w[\w-]*\d) \|", LIST.read_text(), re.MULTILINE))
    found = cited()
    missing = sorted(set(found) - listed)
    unused = sorted(listed - set(found))
    for key in missing:
        print(f"{found[key]}: [{key}] is not in {LIST.name}")
    for key in unused:
        print(f"{LIST.name}: nothing cites {key}")
    vague = without_year()
    for place in vague:
        print(f"{place}: a key without its year")
    print(f"{len(found)} works cited, {len(listed)} listed")
    return 1 if missing or unused or vague or not found else 0


if __name__ == "__main__":
    sys.exit(main())
