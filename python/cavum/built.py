# SPDX-License-Identifier: GPL-3.0-or-later
"""A measured wall against its drawing."""
from __future__ import annotations

import json
from typing import Any, Dict, Optional, Tuple

from ._library import Log, Stop, Watch, encode_path, ffi, lib, new_error, number_of, put, raise_error, take_text
from .cell import Cell
from .outputs import keep_inputs, keep_others
from .solving import make_options


class AsBuilt(Dict[str, Any]):
    """A measured wall: what `cavum as-built --json` writes, by its keys.

        built = cavum.as_built("built.yaml")
        built["figures"]["frequency_Hz"]["uncertainty"]
        built.write("built.hdf")                # for cavum draw and report
    """

    def __init__(self, built: Any, inputs: Tuple[str, ...]):
        text, error = ffi.new("char **"), new_error()
        raise_error(lib.cavum_store_as_built_to_json(text, built, error), error)
        super().__init__(json.loads(take_text(text[0])))
        self._built, self._inputs = built, inputs

    def write(self, path: Any, overwrite: bool = False) -> None:
        """Writes it as HDF5, over an earlier one too; no file that it was read from is replaced, any other with overwrite=True."""
        name, error = encode_path(path), new_error()
        keep_inputs(name, self._inputs)
        keep_others(name, overwrite, "as-built")
        raise_error(lib.cavum_store_write_as_built(name, self._built, error), error)


def as_built(path: Any, mode: int = 0, section_mm: float = 0.0, draws: int = 0, seed: int = 1,
             stop: Optional[Stop] = None, log: Optional[Log] = None, **choices: Any) -> AsBuilt:
    """Solves the measured wall of a cell file, and its drawing.

    mode: counted from 0. section_mm: length of the pieces of wall, 0: a twentieth of it. draws: so many walls are
    drawn and solved. stop, log and choices are those of solve().
    Raises NotConverged with the best comparison as `result` when the accuracy is not reached.
    """
    wanted, error, name = ffi.new("cavum_as_built_choices *"), new_error(), encode_path(path)
    lib.cavum_as_built_choices_set_defaults(wanted, ffi.sizeof("cavum_as_built_choices"))
    put(wanted, "mode", mode, "mode")
    put(wanted, "num_draws", draws, "draws")
    put(wanted, "seed", seed, "seed")
    wanted.section_m = 1e-3 * number_of(section_mm, "section_mm")
    place = ffi.new("cavum_as_built **")
    watch, made = Watch(stop, log), make_options(**choices)
    watch.put_into(made)
    watch.begin()
    status = lib.cavum_as_built_run(place, name, wanted, made, error)
    watch.end()
    if place[0] == ffi.NULL:
        raise_error(status, error)
    built = ffi.gc(place[0], lambda it: lib.cavum_as_built_destroy(ffi.new("cavum_as_built **", it)))
    best = AsBuilt(built, Cell.read(path)._inputs())
    raise_error(status, error, best)
    return best
