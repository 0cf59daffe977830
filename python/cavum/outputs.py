# SPDX-License-Identifier: GPL-3.0-or-later
"""Which files are not written over: the rules of the commands."""
from __future__ import annotations

import os
import re
from typing import Any, Iterable, Tuple

from ._library import CavumError, ffi


def names_of(files: Any) -> Tuple[str, ...]:
    """The names in a list of files of the library; NULL has none."""
    if files == ffi.NULL:
        return ()
    return tuple(os.fsdecode(ffi.string(files.paths[i])) for i in range(files.num_paths))


def keep_inputs(path: Any, inputs: Iterable[str]) -> None:
    """Raises where a file to write is one of those that something was read from."""
    for name in inputs:
        if _is_same_file(path, name):
            raise CavumError(f"{os.fsdecode(path)}: would replace {name}, which this was read from", "ERR_USAGE")


# The last bytes of a result file say what it is (solver/hdf5/seal.h).
_SEAL_SIZE = 128


def keep_others(path: Any, overwrite: bool, kind: str = "") -> None:
    """Raises where there is a file with something in it, unless it may be overwritten or is a result of this kind."""
    if overwrite or not os.path.isfile(path) or os.path.getsize(path) == 0 or (kind and _sealed_kind(path) == kind):
        return
    what = f"not a result of this kind ({kind})" if kind else "not an empty file"
    raise CavumError(f"{os.fsdecode(path)}: exists and is {what}; overwrite=True replaces it", "ERR_USAGE")


def _sealed_kind(path: Any) -> str:
    """What a result file says of itself; "" of any other file."""
    try:
        with open(path, "rb") as file:
            before = file.seek(-_SEAL_SIZE, os.SEEK_END)
            found = re.match(rb"\ncavum seal 1 ([!-~]+) sha256 [0-9a-f]{64} size (\d+) *\n", file.read(_SEAL_SIZE))
    except OSError:
        return ""
    return found[1].decode() if found and int(found[2]) == before else ""


def _is_same_file(one: Any, other: str) -> bool:
    try:
        # Devices are shared by nature.
        return os.path.samefile(one, other) and os.path.isfile(one)
    except OSError:
        return os.path.realpath(os.fsdecode(one)) == os.path.realpath(other)
