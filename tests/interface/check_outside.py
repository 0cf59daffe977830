#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Somebody else's project (outside/), in C and in C++, with this one inside, gives the frequency of the program.

check_outside.py installed BUILD_FOLDER PROGRAM CELL      find_package() and pkg-config after an install
check_outside.py folder SOURCE_FOLDER PROGRAM CELL        add_subdirectory(); compiles the library
"""
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile

# The program keeps OpenBLAS to one thread, others do not: sums in another order.
TOLERANCE = 1e-12
OUTSIDE = pathlib.Path(__file__).resolve().parent / "outside"


def run(*command, **options):
    print("$", *command, flush=True)
    done = subprocess.run(list(map(str, command)), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                          check=False, **options)
    if done.returncode != 0:
        sys.exit(f"{done.stdout}\nFAILED with exit status {done.returncode}")
    return done.stdout


def frequency_of(program, cell):
    return float(run(*program, cell).split()[0])


def frequency_by_program(program, cell):
    text = run(program, "solve", cell, "--json", "-", "--quiet")
    return json.loads(text)["modes"][0]["frequency_Hz"]["value"]


def build(folder, *settings):
    run("cmake", "-S", OUTSIDE, "-B", folder, "-DCMAKE_BUILD_TYPE=Release", *settings)
    run("cmake", "--build", folder, "--parallel", "2")
    return sorted(path for path in folder.glob("outside_*") if path.is_file() and os.access(path, os.X_OK))


def check(programs, count, expected, cell, **environment):
    if len(programs) != count:
        sys.exit(f"FAILED: {count} programs expected, found {list(map(str, programs))}")
    for program in programs:
        found = frequency_of(["env", *(f"{k}={v}" for k, v in environment.items()), program], cell)
        print(f"{program.name}: {found:.17g} Hz, by the program {expected:.17g} Hz")
        if abs(found - expected) > TOLERANCE * expected:
            sys.exit("FAILED: not the same frequency")


def compile_by_pkg_config(folder, prefix):
    files = list(prefix.glob("lib*/**/pkgconfig"))
    environment = dict(os.environ, PKG_CONFIG_PATH=str(files[0]))
    flags = run("pkg-config", "--cflags", "--libs", "cavum", env=environment).split()
    run("pkg-config", "--exists", "--print-errors", "cavum-pictures", env=environment)
    folder.mkdir()
    for compiler, source in (("cc", "outside.c"), ("c++", "outside.cpp")):
        run(compiler, OUTSIDE / source, *flags, "-o", folder / f"outside_{compiler}")
    # The archive, with all that it needs.
    flags = run("pkg-config", "--static", "--cflags", "--libs", "cavum", env=environment).split()
    archive = str(files[0].parent / "libcavum.a")
    run("cc", OUTSIDE / "outside.c", *(archive if flag == "-lcavum" else flag for flag in flags), "-o",
        folder / "outside_archive")
    return sorted(folder.glob("outside_*")), files[0].parent


def check_without_library(program, cell, library_folder, work):
    """A library that cannot be loaded at first need is an error of the solve that needs it."""
    for name in ("libcholmod.so.3", "libopenblas.so.0", "libarpack.so.2"):
        broken = work / name.partition(".")[0]
        broken.mkdir()
        (broken / name).write_text("not a library")
        done = subprocess.run([program, cell], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, check=False,
                              env=dict(os.environ, LD_LIBRARY_PATH=f"{broken}:{library_folder}"))
        print(f"without {name}: exit status {done.returncode}, {done.stderr.strip()}")
        if done.returncode != 1 or "cannot be loaded" not in done.stderr:
            sys.exit("FAILED: not one clear error")


def check_unknown_component(folder, prefix):
    """A part that there is not says which ones there are."""
    done = subprocess.run(["cmake", "-S", OUTSIDE, "-B", folder, f"-DCMAKE_PREFIX_PATH={prefix}", "-DOUTSIDE_COMPONENT=movies"],
                          capture_output=True, text=True, check=False)
    said = " ".join(done.stderr.split())
    print(f"an unknown component: exit status {done.returncode}, {said}")
    if done.returncode == 0 or "no component 'movies': there are pictures and static" not in said:
        sys.exit("FAILED: not one clear error")


def check_documents(prefix):
    """What headers refer to is installed: sources by their key, and files."""
    documents = prefix / "share/doc/cavum"
    known = set(re.findall(r"^\| (\w+) \|", (documents / "solver/bibliography.md").read_text("utf-8"), re.M))
    for header in sorted((prefix / "include/cavum").glob("*.h")):
        text = header.read_text("utf-8")
        for key in re.findall(r"\[([A-Z][A-Za-z]+\d{4})\]", text):
            if key not in known:
                sys.exit(f"FAILED: {header.name} cites {key}, which the installed bibliography has not")
        for name in re.findall(r"\b[\w/-]+\.md\b", text):
            if not (documents / name).is_file():
                sys.exit(f"FAILED: {header.name} refers to {name}, which is not installed")


def check_installed(build_folder, expected, cell, work):
    # What is installed may be moved to another place.
    run("cmake", "--install", build_folder, "--prefix", work / "installed")
    prefix = (work / "installed").rename(work / "moved")
    settings = [f"-DCMAKE_PREFIX_PATH={prefix}", "-DOUTSIDE_PICTURES=ON", "-DOUTSIDE_STATIC=ON"]
    check(build(work / "package", *settings), 4, expected, cell)
    check_unknown_component(work / "unknown", prefix)
    programs, library_folder = compile_by_pkg_config(work / "by_hand", prefix)
    check(programs, 3, expected, cell, LD_LIBRARY_PATH=library_folder)
    check_without_library(programs[-1], cell, library_folder, work)
    # Licences of ours and of what is inside, and a page for each command.
    for name in ("share/doc/cavum/LICENSE", "share/doc/cavum/NOTICE", "share/doc/cavum/HDF5.copyright",
                 "share/man/man1/cavum.1", "share/man/man1/cavum-solve.1",
                 "share/bash-completion/completions/cavum", "share/zsh/site-functions/_cavum"):
        if not (prefix / name).is_file():
            sys.exit(f"FAILED: {name} is not installed")
    check_documents(prefix)
    # The installed program finds its second part.
    run(prefix / "bin" / "cavum", "scan", "--help")


def main():
    way, folder, program, cell = sys.argv[1:]
    expected = frequency_by_program(program, cell)
    with tempfile.TemporaryDirectory() as name:
        work = pathlib.Path(name)
        if way == "installed":
            check_installed(folder, expected, cell, work)
        else:
            check(build(work / "folder", f"-DCAVUM_SOURCE={folder}"), 2, expected, cell)
            if list((work / "folder").glob("**/cavum-more")):
                sys.exit("FAILED: programs are built, which nobody asked for")


main()
