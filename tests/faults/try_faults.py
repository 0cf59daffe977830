#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Breaks a copy of the sources in one place after another and runs the tests that must notice.

Usage: tests/faults/try_faults.py [--places] [NAME]...
  --places   only checks that each fault still has its place in the sources
  NAME       tries these faults alone, by their names in tests/faults/faults.toml

The copy and its build are in build/faults. The status is 1 when a fault has lost its place, does not
compile, or passes unnoticed, and when a test fails without any fault."""

import argparse
import os
import pathlib
import re
import shutil
import subprocess
import sys
import time
import tomllib

ROOT = pathlib.Path(__file__).resolve().parents[2]
COPY = ROOT / "build" / "faults"
BUILD = COPY / "build" / "release"
JOBS = str(len(os.sched_getaffinity(0)))


def read_faults(names):
    """The faults asked for, in the order of the file."""
    with open(ROOT / "tests/faults/faults.toml", "rb") as file:
        faults = tomllib.load(file)["fault"]
    known = [fault["name"] for fault in faults]
    for name in names:
        if name not in known:
            sys.exit(f"try_faults: no fault has the name {name}")
    if len(set(known)) < len(known):
        sys.exit("try_faults: two faults have one name")
    return [fault for fault in faults if not names or fault["name"] in names]


def break_text(fault, text):
    """The text with the fault in its one place; None when the place is lost or not unique."""
    if text.count(fault["right"]) != 1:
        return None
    return text.replace(fault["right"], fault["wrong"])


def lost_places(faults):
    """Names of the faults whose place is lost; says each."""
    lost = []
    for fault in faults:
        path = ROOT / fault["file"]
        if not path.is_file() or break_text(fault, path.read_text()) is None:
            print(f"{fault['name']}: {fault['file']} has no single place: {fault['right']}")
            lost.append(fault["name"])
    return lost


def copy_sources():
    """Copies what git knows and what is new; files that are the same keep their times."""
    listed = subprocess.run(["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"], cwd=ROOT, check=True,
                            capture_output=True).stdout.decode().split("\0")
    wanted = {name for name in listed if name and (ROOT / name).is_file()}
    for name in wanted:
        source, target = ROOT / name, COPY / name
        if target.is_file() and target.read_bytes() == source.read_bytes():
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(source, target)
    for path in list(COPY.rglob("*")):
        name = path.relative_to(COPY)
        if path.is_file() and name.parts[0] != "build" and str(name) not in wanted:
            path.unlink()


def targets_of(tests):
    """What must be built for tests by their names in ctest."""
    targets = {"cavum", "cavum_more"}
    for test in tests:
        room, stem = test.split(".")
        if room not in ("scripts", "slurm", "interface") or (ROOT / f"tests/{room}/test_{stem}.c").is_file():
            targets.add(f"test_{room}_{stem}")
    return sorted(targets)


def build(tests, log):
    """True when the programs of the tests compile."""
    command = ["cmake", "--build", str(BUILD), "--parallel", JOBS, "--target", *targets_of(tests)]
    return subprocess.run(command, stdout=log, stderr=log).returncode == 0


def failing(tests, log, all_of_them=False):
    """The first test that fails, of those given, or all that do."""
    pattern = "^(" + "|".join(re.escape(test) for test in tests) + ")$"
    command = ["ctest", "--test-dir", str(BUILD), "--parallel", JOBS, "--no-tests=error", "-R", pattern]
    if not all_of_them:
        command.append("--stop-on-failure")
    result = subprocess.run(command, capture_output=True, text=True)
    log.write(result.stdout + result.stderr)
    log.flush()
    outcomes = dict(re.findall(r"\d+/\d+ Test +#\d+: (\S+) \.+ *(Passed|\*\*\*\w+)", result.stdout))
    return [test for test in tests if outcomes.get(test, "none" if all_of_them else "Passed") != "Passed"]


def try_fault(fault, log):
    """What became of one fault: the word and whether it is as it should be."""
    path = COPY / fault["file"]
    right = path.read_text()
    path.write_text(break_text(fault, right))
    try:
        if not build(fault["tests"], log):
            return "does not compile", False
        noticed = failing(fault["tests"], log)
        return (f"noticed by {', '.join(noticed)}", True) if noticed else ("NOT NOTICED", False)
    finally:
        path.write_text(right)


def main():
    """Tries the faults; the exit status."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--places", action="store_true")
    parser.add_argument("names", nargs="*", metavar="NAME")
    arguments = parser.parse_args()
    faults = read_faults(arguments.names)
    bad = lost_places(faults)
    if bad or arguments.places:
        print(f"{len(faults)} faults, {len(bad)} without a place")
        return 1 if bad else 0
    COPY.mkdir(parents=True, exist_ok=True)
    copy_sources()
    tests = sorted({test for fault in faults for test in fault["tests"]})
    with open(COPY / "build.log", "w") as log:
        subprocess.run(["cmake", "--preset", "release"], cwd=COPY, stdout=log, stderr=log, check=True)
        if not build(tests, log):
            print(f"the sources do not build without a fault; see {log.name}")
            return 1
        sound = failing(tests, log, all_of_them=True)
        if sound:
            print("tests that fail without a fault:", ", ".join(sound))
            return 1
        for fault in faults:
            start = time.monotonic()
            text, good = try_fault(fault, log)
            bad += [] if good else [fault["name"]]
            print(f"{fault['name']:<44} {text}  {time.monotonic() - start:.0f} s", flush=True)
    print(f"{len(faults)} faults, {len(faults) - len(bad)} noticed" + (": missed " + ", ".join(bad) if bad else ""))
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
