#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Every file of the sources names its licence, or REUSE.toml does for it; LICENSE is the text of the GPL.

Usage: check_licences.py PROGRAM CELLS_FOLDER
"""
import fnmatch
import os
import subprocess
import sys
import tomllib

SOURCE = os.path.realpath(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", ".."))
TAG = b"SPDX-" + b"License-Identifier: "


def tracked():
    """Files of the sources: those that git knows, or all but what is built."""
    done = subprocess.run(["git", "-c", f"safe.directory={SOURCE}", "ls-files", "-z"], cwd=SOURCE, check=False,
                          stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    if done.returncode == 0 and done.stdout:
        return [name for name in done.stdout.decode().split("\0") if name]
    found = []
    for folder, folders, names in os.walk(SOURCE):
        folders[:] = [name for name in folders if name not in ("build", "results", ".git", "__pycache__")]
        found += [os.path.relpath(os.path.join(folder, name), SOURCE) for name in names]
    return found


def main():
    with open(os.path.join(SOURCE, "REUSE.toml"), "rb") as file:
        annotations = tomllib.load(file)["annotations"]
    licensed = [pattern for entry in annotations if "SPDX-License-Identifier" in entry
                for pattern in ([entry["path"]] if isinstance(entry["path"], str) else entry["path"])]
    owned = any(entry["path"] == "**" and "SPDX-FileCopyrightText" in entry for entry in annotations)
    without = []
    for name in tracked():
        path = os.path.join(SOURCE, name)
        if name == "LICENSE" or not os.path.isfile(path):
            continue
        if any(fnmatch.fnmatch(name, pattern.replace("**", "*")) for pattern in licensed):
            continue
        with open(path, "rb") as file:
            if TAG not in file.read(2048):
                without.append(name)
    with open(os.path.join(SOURCE, "LICENSE"), encoding="utf-8") as file:
        text = file.read(200)
    print("passed" if owned else "FAILED", "copyright of every file")
    print("FAILED" if without else "passed", "licence of every file", without)
    print("passed" if "GNU GENERAL PUBLIC LICENSE" in text else "FAILED", "LICENSE")
    return 0 if owned and not without and "GNU GENERAL PUBLIC LICENSE" in text else 1


if __name__ == "__main__":
    sys.exit(main())
