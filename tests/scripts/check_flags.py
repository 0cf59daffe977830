#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Every option of every command is given to that command by a test.

Tests are read as text: pieces of a C string or of a list of words are joined, and an option counts
for a command when it follows the command's name before the next one of a shell. Help, usage and
version are tried for all commands by cli.help.

Usage: check_flags.py PROGRAM CELLS_FOLDER
"""
import pathlib
import re
import subprocess
import sys

from checking import check, exit_status

TESTS = pathlib.Path(__file__).resolve().parents[1]
OF_ALL = {"-?", "--help", "--usage", "-V", "--version"}


def help_of(program, *words):
    return subprocess.run([program, *words, "--help"], check=True, capture_output=True, text=True).stdout


def options_of(program, command):
    """Names of each option, the short and the long one together."""
    head = help_of(program, command).split("\nExamples:")[0]
    rows = re.findall(r"^ {2,6}(-.*)$", head, re.M)
    return [set(re.findall(r"--?[A-Za-z?][-a-z]*", re.split(r" {2,}", row)[0])) for row in rows]


def commands_of_tests():
    """What tests may run, one command a piece."""
    for path in sorted(TESTS.rglob("*")):
        if path.suffix not in (".c", ".h", ".py") or path == pathlib.Path(__file__).resolve():
            continue
        text = re.sub(r'"\s*\n\s*f?"', "", path.read_text())
        if path.suffix == ".py":
            text = re.sub(r'"\s*,\s*f?"', " ", re.sub(r",\s*\n\s*", ", ", text))
        yield from re.split(r"&&|\|\||[|;\n]", text)


def main():
    program = sys.argv[1]
    commands = re.findall(r"^  ([a-z-]+) ", help_of(program).split("\nCommands:")[1].split("\nExamples:")[0], re.M)
    given = {command: set() for command in commands}
    for piece in commands_of_tests():
        for command in commands:
            match = re.search(rf"(?<![a-z-]){command}(?![a-z-])(.*)", piece)
            if match:
                given[command] |= set(re.findall(r"(?<![\w-])--?[A-Za-z][-a-z]*", match[1]))
    for command in commands:
        if command != "help":
            for names in options_of(program, command):
                if not names & OF_ALL:
                    check(names & given[command], f"a test gives {' or '.join(sorted(names))} to cavum {command}")
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
