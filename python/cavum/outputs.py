# SPDX-License-Identifier: GPL-3.0-or-later
"""Which files are not written over: the rules of the commands."""
from __future__ import annotations

import os
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


def keep_others(path: Any, overwrite: bool) -> None:
    """Raises where there is a file with something in it, unless it may be overwritten."""
    if not overwrite and os.path.isfile(path) and os.path.getsize(path) > 0:
        raise CavumError(f"{os.fsdecode(path)}: exists and is not an empty file; overwrite=True replaces it", "ERR_USAGE")


def _is_same_file(one: Any, other: str) -> bool:
    try:
        # Devices are shared by nature.
        return os.path.samefile(one, other) and os.path.isfile(one)
    except OSError:
        return os.path.realpath(os.fsdecode(one)) == os.path.realpath(other)
