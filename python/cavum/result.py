# SPDX-License-Identifier: GPL-3.0-or-later
"""What a solve gives: modes, figures with uncertainties, profiles, fields, pictures."""
from __future__ import annotations

import json
from typing import Any, Dict, Iterator, List, Mapping, NamedTuple, Optional, Tuple

from . import _core
from ._library import (CavumError, address_of, array_of, encode_path, ffi, lib, name_of, new_error, numpy, pointer_to, put, raise_error,
                       refuse_type, take_text, text_of)
from .cell import Cell
from .kinds import raise_of_file
from .outputs import keep_inputs, keep_others

_INFO = [lib.cavum_figure_describe(i) for i in range(lib.CAVUM_NUM_FIGURES)]
_IDS = {text_of(info.key): i for i, info in enumerate(_INFO)}
# The figures of one line of a table, in its order, and their headings.
_TABLE = {"frequency_MHz": "f", "r_over_q_linac_ohm": "R/Q, linac", "geometry_factor_ohm": "G",
          "epk_over_eacc": "E_pk/E_acc", "bpk_over_eacc_mT_per_MV_per_m": "B_pk/E_acc"}

_FORMATS = ("svg", "pdf", "png")
_VIEWS = ("sheet", "section", "axis", "wall", "mesh")


class Figure(_core.Figure):
    """A number with its uncertainty: the true value lies within value +- uncertainty.

    Infinite for a field peak at a sharp re-entrant corner, then without uncertainty. float() of it is its value, and
    formats are those of numbers: f"{figure:.3f}"; without one it is its text, 1288.12567(31) MHz.
    """

    __slots__ = ()

    def _numbers(self) -> Tuple[float, float, str]:
        return self.value, self.uncertainty, self.unit

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Figure):
            return NotImplemented
        return self._numbers() == other._numbers()

    def __hash__(self) -> int:
        return hash(self._numbers())

    def __reduce__(self) -> Tuple[Any, ...]:
        return Figure, (*self._numbers(), self.text)

    def __float__(self) -> float:
        return self.value

    def __format__(self, form: str) -> str:
        return format(self.value, form) if form else str(self)

    def __repr__(self) -> str:
        unit = "" if self.unit == "1" else " " + self.unit
        return self.text or f"{self.value:.10g} +- {self.uncertainty:.2g}{unit}"


# By their keys: number of a figure, how many SI units one of its key's unit is, and that unit: "MHz" of "frequency_MHz".
_found: Dict[str, Tuple[int, float, str]] = {}


def find_figure(key: str) -> Tuple[int, float, str]:
    """What is kept of a figure, also when it was not asked for before."""
    found = _found.get(key)
    if found is not None:
        return found
    number, unit_si, error = ffi.new("cavum_figure_id *"), ffi.new("double *"), new_error()
    raise_error(lib.cavum_figure_find(number, unit_si, name_of(key, "the key of a figure"), error), error)
    _found[key] = int(number[0]), unit_si[0], _unit_of(key, _INFO[number[0]], unit_si[0])
    return _found[key]


def _unit_of(key: str, info: Any, unit_si: float) -> str:
    """The unit that a key ends in: "V/pC" of "loss_factor_V_per_pC", where that of the library is "loss_factor_V_per_C"."""
    unit = text_of(info.unit)
    if unit_si == 1.0:
        return unit
    if key.endswith("_mT_per_MV_per_m"):
        return "mT/(MV/m)"
    before = text_of(info.key)[:-len(unit.replace("/", "_per_"))]
    if "/" in unit and key.startswith(before):
        return key[len(before):].replace("_per_", "/")
    return key.rsplit("_", 1)[-1]


def _find_key(key: str) -> Tuple[int, float, str]:
    """The same for who looks a figure up: KeyError where there is none."""
    try:
        return find_figure(key)
    except CavumError as problem:
        raise KeyError(str(problem)) from None


class _OfDimension(Dict[str, Figure]):
    """Derivatives of figures by one dimension; a figure also by its key with another unit.

    A peak that stands at two places has one where the dimension grows and one where it shrinks: `grows` and `shrinks` have
    these, and `reasons` why figures have no derivative.
    """

    def __init__(self, sided: bool = True) -> None:
        super().__init__()
        self.reasons: Dict[str, str] = {}
        if sided:
            self.grows, self.shrinks = _OfDimension(False), _OfDimension(False)

    def __missing__(self, key: str) -> Figure:
        number, unit_si, unit = _find_key(key)
        there = next((it for it in self if _IDS[it] == number), None)
        if there is None:
            reason = next((text for it, text in self.reasons.items() if _IDS[it] == number), "")
            raise KeyError(f"{key}: no derivative of this figure{reason and ': '}{reason}")
        scale, found = _found[there][1] / unit_si, self[there]
        return Figure(found.value * scale, found.uncertainty * scale, f"{unit} / {found.unit.split(' / ', 1)[1]}")


def _figure_of(derivative: Any, dimension: Any, key: str) -> Figure:
    """A derivative of the library in the unit of a key, per unit of the dimension."""
    _, unit_si, unit = find_figure(key)
    scale = dimension.unit_si / unit_si
    return Figure(derivative.value * scale, derivative.uncertainty * scale, f"{unit} / {text_of(dimension.unit)}")


class _ByDimension(Dict[str, Dict[str, Figure]]):
    """Derivatives by all dimensions."""

    def __missing__(self, key: str) -> Dict[str, Figure]:
        raise KeyError(f"{key}: no dimension that there are derivatives by, but {', '.join(self)}")


class Profile(NamedTuple):
    """Fields along axis or wall at a stored energy of one joule; arrays without copies.

    e_V_per_m: on the axis E_z with its sign, on the wall the normal E, positive into the cell.
    Uncertainties are numerical, infinite for E at sharp edges of metal; empty where there are none.
    """

    arc_length_m: numpy.ndarray
    z_m: numpy.ndarray
    r_m: numpy.ndarray
    e_V_per_m: numpy.ndarray
    h_A_per_m: numpy.ndarray
    e_uncertainty_V_per_m: numpy.ndarray
    h_uncertainty_A_per_m: numpy.ndarray


class BetaCurve(NamedTuple):
    """R/Q against the particle speed over c; arrays without copies."""

    beta: numpy.ndarray
    r_over_q_linac_ohm: numpy.ndarray
    uncertainty_ohm: numpy.ndarray


class Fields(NamedTuple):
    """Field of a mode at a stored energy of one joule: H_phi, and a quarter period behind it E.

    NaN outside of the cell.
    """

    h_phi_A_per_m: numpy.ndarray
    e_z_V_per_m: numpy.ndarray
    e_r_V_per_m: numpy.ndarray


_PRESENT, _ABSENT = lib.CAVUM_FIGURE_PRESENT, lib.CAVUM_FIGURE_ABSENT


class FieldUncertainties(NamedTuple):
    """How far the field at points may be off: H_phi, and E as a vector.

    NaN outside of the cell, infinite for E beside corners where it has no limit.
    """

    h_phi_A_per_m: numpy.ndarray
    e_V_per_m: numpy.ndarray


class Mode(_core.Mode, Mapping[str, Figure]):
    """One mode: its figures by their keys, in the unit that the key names.

        mode["frequency_MHz"], mode["r_over_q_linac_ohm"].uncertainty

    Figures are looked up in C: core/result.c.
    """

    __slots__ = ()

    @property
    def _mode(self) -> Any:
        return lib.cavum_result_mode(self._result._result, self._number)

    def __iter__(self) -> Iterator[str]:
        mode = self._mode  # of `self`, which is there as long as its keys are
        for key, number in _IDS.items():
            if lib.cavum_mode_figure(mode, number).state != _ABSENT:
                yield key

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def __copy__(self) -> Mode:
        return self

    @property
    def label(self) -> str:
        """"TM010" where the pattern supports it, else ""."""
        return text_of(self._mode.label)

    @property
    def accuracy_reached(self) -> bool:
        """All figures are within the accuracy that was asked for."""
        return bool(self._mode.accuracy_reached)

    def peak_position_m(self, key: str) -> Tuple[float, float]:
        """(z, r) of the peak that a figure is about; KeyError where it has none."""
        figure = lib.cavum_mode_figure(self._mode, _find_key(key)[0])
        if not figure.has_position:
            raise KeyError(f"{key}: no position")
        return figure.at.z_m, figure.at.r_m

    def _profile(self, profile: Any, of_e: Any, of_h: Any) -> Profile:
        if profile.num_points == 0:
            raise ValueError("solve with profiles=True to have profiles")
        names = ("arc_length_m", "z_m", "r_m", "e_v_per_m", "h_a_per_m")
        columns = [getattr(profile, name) for name in names] + [of_e, of_h]
        return Profile(*(array_of(self._result, column, profile.num_points) for column in columns))

    @property
    def axis(self) -> Profile:
        """E_z on the axis; needs profiles=True."""
        return self._profile(self._mode.axis, self._mode.axis_e_uncertainty_v_per_m, ffi.NULL)

    @property
    def wall(self) -> Profile:
        """Surface fields along the metal; needs profiles=True."""
        return self._profile(self._mode.wall, self._mode.wall_e_uncertainty_v_per_m,
                             self._mode.wall_h_uncertainty_a_per_m)

    @property
    def beta_curve(self) -> BetaCurve:
        """R/Q over the particle speed; needs profiles=True."""
        curve = self._mode.beta_curve
        if curve.num_points == 0:
            raise ValueError("solve with profiles=True to have R/Q over beta")
        return BetaCurve(*(array_of(self._result, getattr(curve, name), curve.num_points)
                           for name in ("beta", "r_over_q_linac_ohm", "uncertainty_ohm")))

    def field_at(self, z_m: Any, r_m: Any) -> Fields:
        """The field at points; z_m and r_m are broadcast against each other. Needs fields=True."""
        return Fields(*self._at(3, z_m, r_m, lambda field, *arrays: lib.cavum_mode_field_at(
            field, *arrays[:-1], ffi.NULL, arrays[-1])))

    def field_uncertainty_at(self, z_m: Any, r_m: Any) -> FieldUncertainties:
        """How far what field_at() gives may be off, at the same points. Needs fields=True."""
        return FieldUncertainties(*self._at(2, z_m, r_m, lib.cavum_mode_field_uncertainty_at))

    def _at(self, parts: int, z_m: Any, r_m: Any, ask: Any) -> Iterator[numpy.ndarray]:
        z, r = numpy.broadcast_arrays(_coordinates(z_m, "z_m"), _coordinates(r_m, "r_m"))
        shape, z, r = z.shape, numpy.ascontiguousarray(z).ravel(), numpy.ascontiguousarray(r).ravel()
        out = [numpy.empty(z.size) for _ in range(parts)]
        error = new_error()
        status = ask(self._field(), z.size, pointer_to(z), pointer_to(r), *(pointer_to(part) for part in out), error)
        raise_error(status, error)
        return (part.reshape(shape) for part in out)

    def _field(self) -> Any:
        fields = self._result._fields
        if fields is None:
            fields = self._result._fields = {}
        if self._number not in fields:
            if self._mode.field.num_points == 0:
                raise ValueError("solve with fields=True to have fields")
            place, error = ffi.new("cavum_mode_field **"), new_error()
            raise_error(lib.cavum_mode_field_create(place, self._result._result, self._number, error), error)
            fields[self._number] = ffi.gc(place[0], _destroy_field)
        return fields[self._number]

    @property
    def derivatives(self) -> Dict[str, Dict[str, Figure]]:
        """derivatives["iris_radius_mm"]["frequency_MHz"]: per unit of the dimension, all others fixed.

        Needs derivatives=True.
        """
        result, options = self._result._result, self._result._options
        if result.num_dimensions == 0 and not (options and options.derivatives):
            raise ValueError("solve with derivatives=True to have derivatives")
        found = _ByDimension()
        for d in range(result.num_dimensions):
            dimension = result.dimensions[d]
            by_figure = found[text_of(dimension.key)] = _OfDimension()
            for key, number in _IDS.items():
                derivative = lib.cavum_result_derivative(result, self._number, d, number)
                if derivative.state == _PRESENT:
                    by_figure[key] = _figure_of(derivative, dimension, key)
                    continue
                if derivative.reason:
                    by_figure.reasons[key] = text_of(derivative.reason)
                for side, change in (by_figure.grows, lib.CAVUM_CHANGE_GROWS), (by_figure.shrinks, lib.CAVUM_CHANGE_SHRINKS):
                    one = lib.cavum_result_one_sided_derivative(result, self._number, d, number, change)
                    if one.state == _PRESENT:
                        side[key] = _figure_of(one, dimension, key)
        return found

    def __repr__(self) -> str:
        return "\n".join([f"{self.label or 'mode'} (mode {self._number + 1})"] +
                         [f"  {key:36} {self[key]}" for key in self])


def _coordinates(values: Any, name: str) -> numpy.ndarray:
    array = numpy.asarray(values)
    if array.size and array.dtype.kind not in "fiu":  # None would be NaN
        refuse_type(f"numbers for {name}", values)
    return array.astype(float)


def _destroy_field(field: Any) -> None:
    lib.cavum_mode_field_destroy(ffi.new("cavum_mode_field **", field))


_RESULT = ffi.typeof("cavum_result *")


class Result(_core.Result):
    """The modes of a cell, by rising frequency: `modes` is a list of Mode."""

    __slots__ = ()

    def __init__(self, pointer: Any, cell: Optional[Cell], options: Any):
        self._hold(address_of(pointer), cell, options)

    @property
    def _result(self) -> Any:
        """The result of the library; the pointer keeps this object, which has it."""
        return ffi.gc(ffi.cast(_RESULT, self._address), lambda _, owner=self: None)

    def __copy__(self) -> Result:
        return self

    @classmethod
    def read(cls, path: Any) -> Result:
        """Reads a result file (HDF5)."""
        place, error, name = ffi.new("cavum_result **"), new_error(), encode_path(path)
        raise_of_file(lib.cavum_store_read_result(place, ffi.NULL, name, error), error, name, lib.CAVUM_STORED_RESULT)
        return cls(place[0], None, None)

    @property
    def title(self) -> str:
        """Title of the cell."""
        return text_of(self._result.title)

    @property
    def beta(self) -> float:
        """Particle speed over c."""
        return self._result.beta

    @property
    def accelerating_length_m(self) -> float:
        """Length that E_acc is of."""
        return self._result.accelerating_length.value_m

    @property
    def accuracy_reached(self) -> bool:
        """All figures of all modes are within the accuracy that was asked for."""
        return bool(self._result.accuracy_reached)

    @property
    def degree(self) -> int:
        """Polynomial degree of the solution."""
        return self._result.degree

    @property
    def num_unknowns(self) -> int:
        """Unknowns of the solution."""
        return self._result.num_unknowns

    @property
    def complete_below_Hz(self) -> float:
        """No mode was missed below this frequency."""
        return self._result.complete_below_hz

    @property
    def warnings(self) -> List[str]:
        """What makes the result less than it seems, one line each."""
        return [text_of(self._result.warnings[i]) for i in range(self._result.num_warnings)]

    @property
    def k_cc(self) -> Optional[Figure]:
        """Cell-to-cell coupling; None unless coupling=True."""
        figure = self._result.coupling
        if figure.state != _PRESENT:
            return None
        return Figure(figure.value, figure.uncertainty, "1")

    @property
    def seconds(self) -> Dict[str, float]:
        """Time of each stage."""
        timings = self._result.timings
        return {name: getattr(timings, name + "_s") for name in
                ("contour", "mesh", "assembly", "eigen", "figures", "total")}

    def to_json(self) -> dict:
        """What `cavum solve --json` writes."""
        text, error = ffi.new("char **"), new_error()
        raise_error(lib.cavum_store_result_to_json(text, self._result, error), error)
        return json.loads(take_text(text[0]))

    def write(self, path: Any, overwrite: bool = False) -> None:
        """Writes a result file (HDF5), over an earlier one too; any other file is replaced with overwrite=True only, a file
        that the cell was read from never.

        The cell must be as it was when it was solved: results that are kept while a cell changes are those of copies,
        `solver.solve(cell.copy())`.
        """
        if self._cell is None:
            raise ValueError("a result that was read from a file is not written again")
        if lib.cavum_cell_digest(self._cell._cell) != self._result.cell_digest:
            raise CavumError("the cell has changed since it was solved: write a result before, or solve a copy of the cell, "
                             "solver.solve(cell.copy())", "ERR_USAGE")
        name, error = encode_path(path), new_error()
        keep_inputs(name, self._cell._inputs())
        keep_others(name, overwrite, "result")
        raise_error(lib.cavum_store_write_result(name, self._result, self._cell._cell, self._options,
                                                 error), error)

    def picture(self, format: str = "svg", view: str = "sheet", mode: int = 0, width_px: int = 1600) -> bytes:
        """A picture as a file: "svg", "pdf" or "png"; "sheet", "section", "axis", "wall" or "mesh".

        Where the solve kept no fields, the cell is solved again with them.
        """
        count = len(self.modes)
        if isinstance(mode, int) and not 0 <= mode < count:
            raise ValueError(f"mode {mode}: the result has {count}, counted from 0")
        options = ffi.new("cavum_picture_options *", lib.cavum_picture_options_default())
        if format not in _FORMATS or view not in _VIEWS:
            raise ValueError(f"{format!r}, {view!r}: expected one of {', '.join(_FORMATS)} and one of {', '.join(_VIEWS)}")
        options.format = getattr(lib, "CAVUM_PICTURE_" + format.upper())
        options.view = getattr(lib, "CAVUM_VIEW_" + view.upper())
        put(options, "mode", mode, "mode")
        put(options, "width_px", width_px, "width_px")
        data, size, error = ffi.new("char **"), ffi.new("size_t *"), new_error()
        status = lib.cavum_picture_draw_result(data, size, self._with_fields()._result, options, error)
        raise_error(status, error)
        try:
            return bytes(ffi.buffer(data[0], size[0]))
        finally:
            lib.cavum_free(data[0])

    def _with_fields(self) -> Result:
        mode = self._result.modes[0]
        if mode.field.num_points > 0 and mode.axis.num_points > 0:
            return self
        if self._cell is None or lib.cavum_cell_digest(self._cell._cell) != self._result.cell_digest:
            why = "is not known" if self._cell is None else "has changed"
            raise ValueError(f"no fields are kept, and the cell {why}: solve with fields=True, profiles=True")
        from .solving import solve  # which needs this module
        return solve(self._cell, fields=True, profiles=True)

    def _repr_svg_(self) -> Optional[str]:
        try:
            return self.picture("svg", "section").decode()
        except (ValueError, RuntimeError):
            return None

    def __repr__(self) -> str:
        rows = [["mode", *_TABLE.values()]]
        for number, mode in enumerate(self.modes):
            figures = (str(mode[key]) if key in mode else "absent" for key in _TABLE)
            rows.append([f"{number + 1}  {mode.label}", *figures])
        widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
        lines = [row[0].ljust(widths[0]) + "".join("  " + text.rjust(width) for text, width in zip(row[1:], widths[1:]))
                 for row in rows]
        return "\n".join([self.title or "cell", *lines, *(f"warning: {text}" for text in self.warnings)])


_core.use(Result, Mode, Figure, _found, _find_key)
