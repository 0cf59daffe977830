#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Every command has a page for man, made from its --help: all options and examples are in it, and groff
has nothing to say where it is installed.

Usage: check_manual.py PROGRAM CELLS_FOLDER
"""
import os
import re
import shutil
import subprocess
import sys
import tempfile

SOURCE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")


def text_of(command):
    return subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout.decode()


def main():
    program, failures = os.path.abspath(sys.argv[1]), 0
    overview = text_of([program, "--help"])
    listed = re.search(r"Commands:\n(.*?)\n\n", overview, re.S)[1]
    commands = [line.split()[0] for line in listed.splitlines()]
    with open(os.path.join(SOURCE, "scripts", "cmake", "manual.cmake"), encoding="utf-8") as file:
        pages = re.search(r'foreach\(command IN ITEMS "" (.*)\)', file.read())[1].split()
    good = sorted(pages) == sorted(set(commands) - {"help"})
    print("passed" if good else "FAILED", "commands with a page:", pages)
    failures += not good
    with tempfile.TemporaryDirectory() as folder:
        for command in [""] + pages:
            wide = dict(os.environ, ARGP_HELP_FMT="rmargin=500")
            words = subprocess.run([program] + ([command] if command else []) + ["--help"], check=True,
                                   env=wide, stdout=subprocess.PIPE).stdout.decode()
            page = subprocess.run(
                ["awk", "-v", "name=cavum", "-v", "version=1", "-f",
                 os.path.join(SOURCE, "scripts", "cmake", "man.awk")],
                check=True, input=words.encode(), stdout=subprocess.PIPE).stdout.decode()
            plain = page.replace("\\-", "-").replace("\\e", "\\")
            wanted = re.findall(r"--[a-z][-a-z]+", words) + re.findall(r"\n  (cavum .*)", words)
            missing = [word for word in wanted if word not in plain]
            sections = [name for name in ("NAME", "SYNOPSIS", "DESCRIPTION", "OPTIONS", "EXAMPLES")
                        if f".SH {name}\n" not in page]
            said = ""
            if shutil.which("groff"):
                path = os.path.join(folder, "page.1")
                with open(path, "w", encoding="utf-8") as file:
                    file.write(page)
                said = subprocess.run(["groff", "-man", "-Tascii", "-ww", "-z", path], check=False,
                                      stderr=subprocess.PIPE).stderr.decode()
            good = not missing and not sections and not said
            print("passed" if good else "FAILED", command or "cavum", missing, sections, said)
            failures += not good
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
