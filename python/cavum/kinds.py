# SPDX-License-Identifier: GPL-3.0-or-later
"""Files of another kind than a function reads: what they are, and which function reads them."""
from __future__ import annotations

import os
from typing import Any

from ._library import CavumError, ffi, lib, raise_error

_KINDS = {
    lib.CAVUM_STORED_RESULT: "is a result of `cavum solve`; cavum.Result.read() reads it",
    lib.CAVUM_STORED_SCAN: "is a result of `cavum scan`; cavum.read_study() reads it",
    lib.CAVUM_STORED_COLDTEST: "is a result of `cavum coldtest`; cavum.evaluate_coldtest() takes the test file that it is of",
    lib.CAVUM_STORED_SPREAD: "is a result of `cavum tolerances`, for `cavum draw` and `cavum report`; cavum.tolerances() computes one",
    lib.CAVUM_STORED_STEPS: "is a result of `cavum steps`, for `cavum draw` and `cavum report`; cavum.steps() computes one",
    lib.CAVUM_STORED_AS_BUILT: "is a result of `cavum as-built`, for `cavum draw` and `cavum report`; cavum.as_built() computes one"}


def raise_of_file(status: int, error: Any, path: bytes, expected: Any = None) -> None:
    """Raises what reading a file came back with, or that it is no file of the kind that was expected: a CAVUM_STORED_*, or
    None for a text."""
    kind = ffi.new("cavum_stored_kind *")
    if status in (lib.CAVUM_ERR_INPUT, lib.CAVUM_ERR_FILE) and lib.cavum_stored_find_kind(kind, path, ffi.NULL) == lib.CAVUM_OK \
            and kind[0] != expected:
        raise CavumError(f"{os.fsdecode(path)}: {_KINDS[kind[0]]}", "ERR_INPUT")
    raise_error(status, error)
