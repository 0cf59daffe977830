#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Takes every example out of README.md and REFERENCE.md and runs it, in order and in one folder, as a new user
would. What a command prints stands below it as it is; files are written as they stand there. Keys of samples
of JSON are those of the program.

Usage: check_readme.py PROGRAM CELLS_FOLDER          check
       check_readme.py PROGRAM CELLS_FOLDER --write  put into README.md what the commands print, and
                                                     make its picture anew
"""
import json
import os
import re
import subprocess
import sys
import tempfile

SOURCE = os.path.realpath(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", ".."))
README = os.path.join(SOURCE, "README.md")
PICTURE = os.path.join(SOURCE, "pictures", "injector-cell.png")
# Not run here: what builds and installs, which other tests and the demo do.
OF_THE_BUILD = ("scripts/demo", "scripts/check", "export PATH=\"$PWD/build/demo:$PATH\"", "cmake --build build/demo",
                "cmake --install build/demo --prefix ~/.local")
failures = 0


def tell(good, name, detail=""):
    global failures
    print("passed" if good else "FAILED", name, "" if good else detail)
    failures += not good


def run(command, folder, program):
    environment = {name: value for name, value in os.environ.items() if name != "CLICOLOR_FORCE"}
    environment["PATH"] = os.pathsep.join([os.path.dirname(program), os.path.dirname(sys.executable),
                                           environment["PATH"]])
    environment["LC_ALL"] = "C"
    done = subprocess.run(["sh", "-c", command], cwd=folder, env=environment, check=False, timeout=120,
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    return done.returncode, done.stdout.decode(), done.stderr.decode()


def commands_of(block):
    """Commands of a block without their comments."""
    found = []
    for line in block.splitlines():
        line = re.sub(r"\s+#\s.*$", "", line).strip()
        if line and not line.startswith("#"):
            found.append(line)
    return found


def run_shell(block, folder, program):
    for command in commands_of(block):
        if command in OF_THE_BUILD:
            script = os.path.join(SOURCE, command)
            tell(not command.startswith("scripts/") or os.access(script, os.X_OK), command)
            continue
        status, _, messages = run(command, folder, program)
        tell(status == 0, command, f"exit status {status}: {messages}")


def run_console(block, folder, program):
    """The block as it would be with what the command prints today."""
    command = re.match(r"\$ (.*)\n", block)[1]
    status, printed, messages = run(command, folder, program)
    tell(status == 0, command, f"exit status {status}: {messages}")
    return f"$ {command}\n{printed}"


def write_file(block, folder, program):
    name = re.match(r"# (\S+\.yaml)\n", block)
    tell(name is not None, "a file says its name in the first line", block)
    if name:
        with open(os.path.join(folder, name[1]), "w", encoding="utf-8") as file:
            file.write(block)
    if "\ncontour:" in block:
        status, _, messages = run(f"cavum solve -q {name[1]}", folder, program)
        tell(status == 0, f"the cell {name[1]} is solved", messages)


def paths_of(value, before=""):
    """Names of all members, those of lists as of one element."""
    if isinstance(value, dict):
        return {f"{before}.{key}" for key in value}.union(
            *(paths_of(part, f"{before}.{key}") for key, part in value.items()))
    if isinstance(value, list):
        return set().union(*(paths_of(part, before + "[]") for part in value))
    return set()


def check_json(block, folder, program):
    """The names in a sample are names that the program writes for the cell of README.md."""
    _, printed, _ = run("cavum solve cell.yaml --coupling --derivatives --json -", folder, program)
    sample, real = json.loads(block), json.loads(printed)
    known = paths_of(real) | paths_of(real["modes"][0])  # of the whole, or of a mode
    unknown = {path for path in paths_of(sample) - known if not path.endswith(".reason")}
    tell(not unknown, "names of the JSON sample", unknown)


def run_python(block, folder, program):
    path = os.path.join(folder, "example.py")
    with open(path, "w", encoding="utf-8") as file:
        file.write(block)
    status, printed, messages = run(f"{sys.executable} example.py", folder, program)
    tell(status == 0 and printed, "example in Python", messages)


def run_c(block, folder, program):
    """The example is the middle of a function; it compiles, the headers are ours."""
    path = os.path.join(folder, "example.c")
    with open(path, "w", encoding="utf-8") as file:
        file.write(f"#include <stdio.h>\n#include <cavum/cavum.h>\nint main(void) {{\n{block}\nreturn 0;\n}}\n")
    status, _, messages = run(f"cc -std=c17 -Wall -Wextra -Werror -fsyntax-only -I{SOURCE}/include example.c",
                              folder, program)
    tell(status == 0, "example in C", messages)


def picture(folder, program, path):
    command = (f"cavum solve -q geometries-demo/injector-cell.yaml -o readme.hdf && cavum draw readme.hdf "
               f"-o {path} --view section --width 1000 --overwrite")
    status, _, messages = run(command, folder, program)
    tell(status == 0, "the picture is made", messages)


def size_of_png(path):
    with open(path, "rb") as file:
        head = file.read(24)
    return int.from_bytes(head[16:20], "big"), int.from_bytes(head[20:24], "big")


def check_links(text):
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", text):
        tell(os.path.exists(os.path.join(SOURCE, target)), f"link to {target}")
    with open(os.path.join(SOURCE, "REFERENCE.md"), encoding="utf-8") as file:
        heads = re.findall(r"^#+ (.*)$", file.read(), re.M)
    anchors = {re.sub(r"[^a-z0-9 -]", "", head.lower()).replace(" ", "-") for head in heads}
    for anchor in re.findall(r"REFERENCE\.md#([^)]+)\)", text):
        tell(anchor in anchors, f"anchor {anchor}")


def main():
    program, write = os.path.abspath(sys.argv[1]), "--write" in sys.argv
    with open(README, encoding="utf-8") as file:
        text = file.read()
    made = text
    with tempfile.TemporaryDirectory() as folder:
        for name in ("geometries-demo", "scripts"):
            os.symlink(os.path.join(SOURCE, name), os.path.join(folder, name))
        with open(os.path.join(SOURCE, "REFERENCE.md"), encoding="utf-8") as file:
            reference = file.read()
        for kind, block in re.findall(r"^```(\w*)\n(.*?)^```$", text + reference, re.M | re.S):
            if kind == "sh":
                run_shell(block, folder, program)
            elif kind == "yaml":
                write_file(block, folder, program)
            elif kind == "console":
                today = run_console(block, folder, program)
                tell(write or today == block, "what it prints", f"README has\n{block}\nit prints\n{today}")
                made = made.replace(f"```console\n{block}```", f"```console\n{today}```")
            elif kind == "json":
                check_json(block, folder, program)
            elif kind == "python":
                run_python(block, folder, program)
            elif kind == "c":
                run_c(block, folder, program)
            elif kind == "dockerfile":
                # Not run here; scripts/packages --try runs the same on a bare system.
                scripts = re.findall(r"scripts/[\w-]+", block)
                tell(scripts and all(os.access(os.path.join(SOURCE, name), os.X_OK) for name in scripts), "recipe",
                     scripts)
            else:
                # How another project finds this one: tests/interface does it.
                tell(kind == "cmake", "kind of block", kind)
        fresh = os.path.join(folder, "readme.png")
        picture(folder, program, PICTURE if write else fresh)
        if not write:
            tell(size_of_png(fresh) == size_of_png(PICTURE), "the picture has the size of a new one")
            tell(os.path.getsize(PICTURE) < 200000, "the picture is small", os.path.getsize(PICTURE))
    if write:
        with open(README, "w", encoding="utf-8") as file:
            file.write(made)
    check_links(made)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
