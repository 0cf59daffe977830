# SPDX-License-Identifier: GPL-3.0-or-later
"""Results of scans: columns as arrays or as a data frame, rows as cells."""
from __future__ import annotations

import operator
import os
from typing import Any, Dict, Iterator, Mapping

from ._library import encode_path, ffi, lib, name_of, new_error, numpy, pointer_to, raise_error, take_text, text_of
from .cell import Cell
from .kinds import raise_of_file


class Study(Mapping[str, "numpy.ndarray"]):
    """A result file of a scan: its columns by their keys, each an array of all rows.

        study = cavum.read_study("study.hdf")
        study["epk_over_eacc"][study["status"] == 0]
        study.data_frame()                      # of pandas
        study.cell(17)                          # the cell of row 17
    """

    def __init__(self, path: Any):
        place, error = ffi.new("cavum_stored_scan **"), new_error()
        name = encode_path(path)
        raise_of_file(lib.cavum_stored_scan_open(place, name, error), error, name, lib.CAVUM_STORED_SCAN)
        self._path = os.fsdecode(name)
        self._scan = ffi.gc(place[0], _close_scan)
        self._keys = [text_of(lib.cavum_stored_scan_key(self._scan, i))
                      for i in range(lib.cavum_stored_scan_num_columns(self._scan))]

    @property
    def title(self) -> str:
        """Title of the study."""
        return text_of(lib.cavum_stored_scan_title(self._scan))

    @property
    def num_rows(self) -> int:
        """Number of shapes."""
        return lib.cavum_stored_scan_num_rows(self._scan)

    def _find(self, key: str) -> int:
        column = lib.cavum_stored_scan_find(self._scan, name_of(key, "the key of a column"))
        if column < 0:
            raise KeyError(key)
        return column

    def unit(self, key: str) -> str:
        """Unit of a column, "1" for pure numbers."""
        return text_of(lib.cavum_stored_scan_unit(self._scan, self._find(key)))

    def __getitem__(self, key: str) -> numpy.ndarray:
        values, error = numpy.empty(self.num_rows), new_error()
        raise_error(lib.cavum_stored_scan_read(pointer_to(values), self._scan, self._find(key), 0, values.size,
                                               error), error)
        return values

    def __iter__(self) -> Iterator[str]:
        return iter(self._keys)

    def __len__(self) -> int:
        return len(self._keys)

    def data_frame(self) -> Any:
        """All columns as a pandas.DataFrame."""
        import pandas  # only who asks for it needs it
        return pandas.DataFrame(self.arrays())

    def arrays(self) -> Dict[str, numpy.ndarray]:
        """All columns."""
        return {key: self[key] for key in self}

    def cell(self, shape: int) -> Cell:
        """The cell of a row."""
        text, error = ffi.new("char **"), new_error()
        raise_error(lib.cavum_stored_scan_shape_to_text(text, self._scan, operator.index(shape), error), error)
        return Cell(take_text(text[0]))._made_from((self._path,))

    def __repr__(self) -> str:
        return f"<cavum.Study {self.title!r}: {self.num_rows} shapes, {len(self)} columns>"


def _close_scan(scan: Any) -> None:
    lib.cavum_stored_scan_close(ffi.new("cavum_stored_scan **", scan))


def read_study(path: Any) -> Study:
    """Opens the result file of a scan (HDF5). Raises CavumError, also of a file of another kind, with what reads that."""
    return Study(path)
