# SPDX-License-Identifier: GPL-3.0-or-later
"""The shape of a cell."""
from __future__ import annotations

from typing import Any, Dict, Mapping, Optional, Tuple, Union

from . import _core
from ._library import (CavumError, address_of, encode_path, ffi, json_of, lib, name_of, new_error, number_of, put, raise_error, refuse_type,
                       take_text, text_of)
from .kinds import raise_of_file
from .outputs import keep_inputs, keep_others, names_of

# Keys that cells have, as the library takes them.
_known: Dict[str, bytes] = {}
_A_KEY = "the key of a number of the cell"


def _member(name: str, text: str) -> property:
    """A number of the cell that no solve of its shape depends on; a solve checks its range."""
    def get(cell: Cell) -> Any:
        return getattr(cell._cell, name)

    def put_it(cell: Cell, value: float) -> None:
        put(cell._cell, name, value, name.replace("_hz", "_Hz"))
    return property(get, put_it, doc=text)


class Cell(_core.Cell):
    """A cell, from a file, text or a dictionary with the keys of a cell file.

    Its numbers are there by their dotted keys, in the unit that the key names:

        cell["iris_radius_mm"] = 35.5
        cell["contour.left.equator_ellipse.axial_mm"]
    """

    def __init__(self, source: Union[str, Mapping[str, Any]], name: str = "cell"):
        """From the text of a cell file, or from a dictionary; `name` is for messages and mesh paths."""
        if not isinstance(source, (str, Mapping)):
            refuse_type("the text of a cell file, or a dictionary of its keys (cavum.Cell.read(path) reads a file)", source)
        if isinstance(source, str) and source and ":" not in source:  # as each key has
            raise CavumError(f"{name}: expected the text of a cell file, found {source!r}: cavum.Cell.read(path) reads a file",
                             "ERR_INPUT")
        data, called = source.encode() if isinstance(source, str) else json_of(source), name_of(name, "a name for messages")
        self._take(lambda cell, error: lib.cavum_cell_read_text(cell, data, len(data), called, error))

    # Nothing else is set: a number of the shape is cell["iris_radius_mm"]. _from: files beside its own that a cell
    # comes from, if it was made from others. Numbers are set in C: core/cell.c.
    __slots__ = ("_from",)
    _from: Tuple[str, ...]

    def _take(self, read: Any, path: Optional[bytes] = None) -> None:
        self._from = ()
        cell, error = ffi.gc(ffi.new("cavum_cell *"), lib.cavum_cell_clear), new_error()
        lib.cavum_cell_set_defaults(cell)
        status = read(cell, error)
        if path is not None:
            raise_of_file(status, error, path)
        raise_error(status, error)
        self._hold(cell, address_of(cell), _known)

    @classmethod
    def read(cls, path: Any) -> Cell:
        """Reads a cell file (YAML). Raises CavumError with file, line and column."""
        cell, name = cls.__new__(cls), encode_path(path)
        cell._take(lambda place, error: lib.cavum_cell_read_file(place, name, error), name)
        return cell

    def copy(self) -> Cell:
        """Another cell that is equal to the bit."""
        return Cell(self.text())._made_from(self._inputs())

    def __copy__(self) -> Cell:
        return self.copy()

    def __deepcopy__(self, _: Any) -> Cell:
        return self.copy()

    def __reduce__(self) -> Tuple[Any, ...]:
        return _take_over, (self.text(), self._inputs())

    def _made_from(self, names: Tuple[str, ...]) -> Cell:
        self._from = names
        return self

    def _inputs(self) -> Tuple[str, ...]:
        """All files that the cell comes from: they are not written over."""
        return (*names_of(ffi.addressof(self._cell, "files")), *self._from)

    def text(self) -> str:
        """A cell file of this cell; that which was read, with its comments, while nothing changed."""
        text, error = ffi.new("char **"), new_error()
        raise_error(lib.cavum_cell_to_text(text, self._cell, error), error)
        return take_text(text[0])

    def write(self, path: Any, overwrite: bool = False) -> None:
        """Writes a cell file, through a temporary name.

        A file with something in it is replaced with overwrite=True only; a file that the cell was read from, or a
        mesh or points or a drawing of it, never: CavumError then.
        """
        name, error = encode_path(path), new_error()
        keep_inputs(name, self._inputs())
        keep_others(name, overwrite)
        raise_error(lib.cavum_store_write_text(name, self.text().encode(), error), error)

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
        raise_error(lib.cavum_cell_get(value, self._cell, name_of(key, _A_KEY), error), error)
        return value[0]

    # A cell is no list of its numbers.
    __iter__ = None

    def __contains__(self, key: object) -> bool:
        """Whether this is the key of a number that the cell has."""
        try:
            self[key]  # type: ignore[index]  # pylint: disable=pointless-statement
        except (CavumError, TypeError, ValueError):
            return False
        return True

    def _set(self, key: str, value: float) -> None:
        """Sets a number for the first time, or says why it is refused."""
        name, error = name_of(key, _A_KEY), new_error()
        raise_error(lib.cavum_cell_set(self._cell, name, number_of(value, key), error), error)
        _known[key] = name

    def describe(self, key: str) -> Dict[str, Any]:
        """Full key, unit, value and range of a number of the cell."""
        info, error = ffi.new("cavum_cell_key_info *"), new_error()
        raise_error(lib.cavum_cell_describe_key(info, self._cell, name_of(key, _A_KEY), error), error)
        return {"key": text_of(info.key), "unit": text_of(info.unit), "value": info.value, "low": info.low,
                "high": info.high}

    def __repr__(self) -> str:
        return f"<cavum.Cell {self.title!r}>"


def _take_over(text: str, inputs: Tuple[str, ...]) -> Cell:
    """A cell of another process, or one that was kept."""
    return Cell(text)._made_from(inputs)


def cell_of(cell: Any) -> Any:
    """The cell of the library that an argument is."""
    if not isinstance(cell, Cell):
        refuse_type("a cavum.Cell (cavum.Cell.read(path) reads a cell file, cavum.Cell(...) takes its text or a dictionary "
                    "of its keys)", cell)
    return cell._cell
