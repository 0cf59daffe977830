# SPDX-License-Identifier: GPL-3.0-or-later
"""The shape of a cell."""
from __future__ import annotations

import json
from typing import Any, Mapping, Union

from ._library import encode_path, ffi, lib, new_error, raise_error, take_text, text_of


def _member(name: str, text: str) -> property:
    """A number of the cell that no solve of its shape depends on; a solve checks its range."""
    def get(cell: Cell) -> float:
        return getattr(cell._cell, name)

    def put(cell: Cell, value: float) -> None:
        setattr(cell._cell, name, value)
    return property(get, put, doc=text)


class Cell:
    """A cell, from a file, text or a dictionary with the keys of a cell file.

    Its numbers are there by their dotted keys, in the unit that the key names:

        cell["iris_radius_mm"] = 35.5
        cell["contour.left.equator_ellipse.axial_mm"]
    """

    def __init__(self, source: Union[str, Mapping[str, Any]], name: str = "cell"):
        """From the text of a cell file, or from a dictionary; `name` is for messages and mesh paths."""
        text = source if isinstance(source, str) else json.dumps(source)
        data = text.encode()
        self._take(lambda cell, error: lib.cavum_cell_read_text(cell, data, len(data), name.encode(), error))

    def _take(self, read: Any) -> None:
        self._cell = ffi.gc(ffi.new("cavum_cell *"), lib.cavum_cell_clear)
        lib.cavum_cell_set_defaults(self._cell)
        error = new_error()
        raise_error(read(self._cell, error), error)

    @classmethod
    def read(cls, path: Any) -> Cell:
        """Reads a cell file (YAML). Raises CavumError with file, line and column."""
        cell, name = cls.__new__(cls), encode_path(path)
        cell._take(lambda place, error: lib.cavum_cell_read_file(place, name, error))
        return cell

    def copy(self) -> Cell:
        """Another cell that is equal to the bit."""
        return Cell(self.text())

    def text(self) -> str:
        """A cell file of this cell; that which was read, with its comments, while nothing changed."""
        text, error = ffi.new("char **"), new_error()
        raise_error(lib.cavum_cell_to_text(text, self._cell, error), error)
        return take_text(text[0])

    def write(self, path: Any) -> None:
        """Writes a cell file, through a temporary name."""
        error = new_error()
        raise_error(lib.cavum_store_write_text(encode_path(path), self.text().encode(), error), error)

    @property
    def title(self) -> str:
        """Title of the cell, may be empty."""
        return text_of(self._cell.title)

    @property
    def is_mirror_symmetric(self) -> bool:
        """True when the cell is its own mirror image and is solved as a half."""
        return bool(lib.cavum_cell_is_mirror_symmetric(self._cell))

    num_modes = _member("num_modes", "Modes that a solve gives.")
    near_Hz = _member("near_hz", "0: the lowest modes; else those nearest to this frequency.")
    accuracy_frequency = _member("accuracy_frequency", "Relative accuracy that is asked for of f.")
    accuracy_other_figures = _member("accuracy_other_figures", "The same of every other figure.")

    def __getitem__(self, key: str) -> float:
        value, error = ffi.new("double *"), new_error()
        raise_error(lib.cavum_cell_get(value, self._cell, key.encode(), error), error)
        return value[0]

    def __setitem__(self, key: str, value: float) -> None:
        error = new_error()
        raise_error(lib.cavum_cell_set(self._cell, key.encode(), float(value), error), error)

    def describe(self, key: str) -> dict:
        """Full key, unit, value and range of a number of the cell."""
        info, error = ffi.new("cavum_cell_key_info *"), new_error()
        raise_error(lib.cavum_cell_describe_key(info, self._cell, key.encode(), error), error)
        return {"key": text_of(info.key), "unit": text_of(info.unit), "value": info.value, "low": info.low,
                "high": info.high}

    def __repr__(self) -> str:
        return f"<cavum.Cell {self.title!r}>"
