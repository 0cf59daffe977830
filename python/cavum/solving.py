# SPDX-License-Identifier: GPL-3.0-or-later
"""Solving: once, or for many neighbouring cells."""
from __future__ import annotations

from typing import Any, Optional

from . import _core
from ._library import Log, Stop, Watch, address_of, ffi, lib, new_error, put, raise_error, raise_status
from .cell import Cell, cell_of
from .result import Result

# What solve() says of each, and the members of the options of the library that they are.
_CHOICES = ("degree", "refinement", "use_symmetry", "coupling", "coupling_of_inner_cell", "profiles", "fields", "field_order",
            "derivatives", "work_limit_s", "memory_limit_bytes")


def make_options(**choices: Any) -> Any:
    """The options of the library; solve() says what they are."""
    options = ffi.new("cavum_solve_options *", lib.cavum_solve_options_default())
    for name in choices:
        if name not in _CHOICES:
            raise TypeError(f"there is no choice {name!r}; there are {', '.join(_CHOICES)}")
    if choices.pop("fields", False) and choices.get("field_order") is None:
        choices["field_order"] = lib.CAVUM_FIELD_ORDER_CHOSEN
    for name, value in choices.items():
        if value is not None or name != "field_order":
            put(options, name, value, name)
    options.coupling = options.coupling or options.coupling_of_inner_cell
    return options


class Solver(_core.Solver):
    """Solves many neighbouring cells, each faster than by itself; one thread at a time.

    Several solvers work at once in several threads: the lock of Python is free while they do.
    Also a context manager. solve(), forget() and close() are in C: core/solver.c.
    """

    __slots__ = ("_watch", "__weakref__")

    def __init__(self, stop: Optional[Stop] = None, log: Optional[Log] = None, **choices: Any):
        """Takes the choices of solve()."""
        watch, options = Watch(stop, log), make_options(**choices)
        watch.put_into(options)
        place, error = ffi.new("cavum_solver **"), new_error()
        raise_error(lib.cavum_solver_create(place, options, error), error)
        self._hold(address_of(place[0]), address_of(watch.watch), options)
        self._watch = watch

    def _refuse(self, cell: Any) -> None:
        """Says of what is no cell what it should be."""
        cell_of(cell)

    def _give_up(self, status: int, message: str, best: Optional[Result]) -> Any:
        """Raises what a function of the user raised, or what the library said."""
        self._watch.end()
        if status != lib.CAVUM_OK:
            raise_status(status, message, best)
        return best

    def __enter__(self) -> Solver:
        if not self._address:
            raise ValueError("the solver is closed")
        return self

    def __exit__(self, *_: Any) -> None:
        self.close()


def solve(cell: Cell, **choices: Any) -> Result:
    """Solves a cell.

    cell          a Cell.
    degree        polynomial degree, 3 to 16; 0: chosen from the accuracy that the cell asks for.
    refinement    all element sizes are divided by this; 0: chosen.
    use_symmetry  use the mirror plane of cells that have one.
    coupling      also k_cc, from both pairs of ends; coupling_of_inner_cell: without the tubes.
    profiles      fields along axis and wall, R/Q over beta.
    fields        the field everywhere, for Mode.field_at() and pictures; field_order: of its lattice.
    derivatives   of all figures by every dimension.
    work_limit_s  what the solve may do, in seconds of one core; 0: 60.
    memory_limit_bytes  what is estimated to need more is refused; 0: four fifths of the machine's memory.
    stop          function without arguments that says whether to stop, asked at the beginning and every 50 ms; Stopped is
                  raised then.
    log           function of (severity, where, message) that hears of progress, notes, warnings.

    Raises CavumError; NotConverged has the best result as `result`.
    """
    with Solver(**choices) as solver:
        return solver.solve(cell)
