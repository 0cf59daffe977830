# SPDX-License-Identifier: GPL-3.0-or-later
"""The frequency from the drawing to the cold cavity."""
from __future__ import annotations

import json
import operator
from typing import Any, Dict, Mapping, Optional, Union

from ._library import Log, Stop, Watch, encode_path, ffi, json_of, lib, name_of, new_error, raise_error, take_text
from .cell import Cell
from .outputs import keep_inputs, keep_others, names_of
from .solving import make_options


class Steps(Dict[str, Any]):
    """A chain of steps both ways: what `cavum steps --json` writes, by its keys.

        chain = cavum.steps("steps.yaml")
        chain["behind_each_step"][-1]["frequency_Hz"]
        chain.cell("bulk")                      # the shape behind a step
        chain.write("steps.hdf")                # for cavum draw and report
    """

    def __init__(self, steps: Any, result: Any):
        text, error = ffi.new("char **"), new_error()
        raise_error(lib.cavum_store_steps_to_json(text, result, error), error)
        super().__init__(json.loads(take_text(text[0])))
        self._steps, self._result = steps, result

    def cell(self, step: Union[int, str]) -> Cell:
        """The cell behind a step, by its name or its number from 0, the drawing."""
        number = lib.cavum_steps_find(self._steps, name_of(step, "a step")) if isinstance(step, str) else operator.index(step)
        if number < 0:
            raise KeyError(step)
        made, text, error = ffi.new("cavum_cell *"), ffi.new("char **"), new_error()
        raise_error(lib.cavum_steps_shape(made, self._steps, number, error), error)
        try:
            raise_error(lib.cavum_cell_to_text(text, made, error), error)
        finally:
            lib.cavum_cell_clear(made)
        return Cell(take_text(text[0]))._made_from(names_of(lib.cavum_steps_files(self._steps)))

    def write(self, path: Any, overwrite: bool = False) -> None:
        """Writes the chain as HDF5, over an earlier one too; no file that it was read from is replaced, any other with
        overwrite=True."""
        name, error = encode_path(path), new_error()
        keep_inputs(name, names_of(lib.cavum_steps_files(self._steps)))
        keep_others(name, overwrite, "steps")
        raise_error(lib.cavum_store_write_steps(name, self._result, error), error)


def steps(chain: Any, stop: Optional[Stop] = None, log: Optional[Log] = None,
          **choices: Any) -> Steps:
    """Follows the steps of a step file, or of its keys as a dictionary, both ways.

    The cell is named in it, from the folder of the file (from the present folder for a dictionary).
    stop, log and choices are those of solve().
    """
    place, error = ffi.new("cavum_steps **"), new_error()
    if isinstance(chain, Mapping):
        text = json_of(chain)
        raise_error(lib.cavum_steps_open_text(place, text, len(text), ffi.NULL, error), error)
    else:
        name = encode_path(chain, "the path of a step file, or its keys as a dictionary")
        raise_error(lib.cavum_steps_open(place, name, error), error)
    opened = ffi.gc(place[0], lambda it: lib.cavum_steps_close(ffi.new("cavum_steps **", it)))
    result = ffi.new("cavum_steps_result **")
    watch, options = Watch(stop, log), make_options(**choices)
    watch.put_into(options)
    watch.begin()
    status = lib.cavum_steps_run(result, opened, options, error)
    watch.end()
    raise_error(status, error)
    held = ffi.gc(result[0], lambda it: lib.cavum_steps_result_destroy(ffi.new("cavum_steps_result **", it)))
    return Steps(opened, held)
