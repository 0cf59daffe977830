# SPDX-License-Identifier: GPL-3.0-or-later
"""Solving: once, or for many neighbouring cells."""
from __future__ import annotations

from typing import Any, Optional

from ._library import Log, Stop, Watch, ffi, lib, new_error, put, raise_error
from .cell import Cell, cell_of
from .result import Result

_solve = lib.python_solve


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


class Solver:
    """Solves many neighbouring cells, each faster than by itself; one thread at a time.

    Several solvers work at once in several threads: the lock of Python is free while they do.
    Also a context manager.
    """

    def __init__(self, stop: Optional[Stop] = None, log: Optional[Log] = None, **choices: Any):
        """Takes the choices of solve()."""
        self._watch = Watch(stop, log)
        self._options = make_options(**choices)
        self._watch.put_into(self._options)
        place, error = ffi.new("cavum_solver **"), new_error()
        raise_error(lib.cavum_solver_create(place, self._options, error), error)
        self._solver = solver = ffi.gc(place[0], _destroy_solver)
        with_solver = ffi.new("python_solving *", {"solver": solver, "watch": self._watch.watch})
        # Keeps what it points at while a call has it, also when the solver is closed meanwhile.
        self._with = ffi.gc(with_solver, lambda _, kept=(solver, self._watch): None)

    def solve(self, cell: Cell) -> Result:
        """Solves a cell. Raises NotConverged with the best result when the accuracy is not reached."""
        try:
            pointer = _solve(self._with, cell._cell)
        except (AttributeError, TypeError):
            self._check_open()
            cell_of(cell)  # says what it should be
            raise
        return Result(pointer, cell, self._options) if pointer else self._give_up(cell)

    def _check_open(self) -> None:
        if self._solver is None:
            raise ValueError("the solver is closed") from None

    def _give_up(self, cell: Cell) -> Any:
        """Raises what a function of the user raised, or what the library said."""
        came = lib.python_last_failure()
        if came.was_busy:
            raise RuntimeError("the solver is solving a cell already: each thread has a solver of its own")
        best = Result(came.result, cell, self._options) if came.result != ffi.NULL else None
        came.result = ffi.NULL
        self._watch.end()
        raise_error(came.status, came.error, best)
        return best

    def forget(self) -> None:
        """The next solve gives the bits of a fresh solver."""
        self._check_open()
        if not lib.python_forget(self._with):
            raise RuntimeError("the solver is solving a cell")

    def close(self) -> None:
        """Frees the solver; results stay."""
        self._solver = self._with = None

    def __enter__(self) -> Solver:
        self._check_open()
        return self

    def __exit__(self, *_: Any) -> None:
        self.close()


def _destroy_solver(solver: Any) -> None:
    lib.cavum_solver_destroy(ffi.new("cavum_solver **", solver))


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
    stop          function without arguments that says whether to stop; Stopped is raised then.
    log           function of (severity, where, message) that hears of progress, notes, warnings.

    Raises CavumError; NotConverged has the best result as `result`.
    """
    with Solver(**choices) as solver:
        return solver.solve(cell)
