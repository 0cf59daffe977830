# SPDX-License-Identifier: GPL-3.0-or-later
"""Tuning, the best shape, and what tolerances make of figures."""
from __future__ import annotations

import json
import os
from typing import Any, Dict, Iterable, Mapping, NamedTuple, Optional, Sequence, Tuple, Union

from ._library import (CavumError, Log, Stop, Watch, encode_path, ffi, json_of, lib, name_of, new_error, number_of, put,
                       raise_error, refuse_type, take_text, text_of)
from .cell import Cell, cell_of
from .outputs import names_of
from .result import Result, find_figure
from .solving import make_options

Bounds = Tuple[float, float]


class Tuned(NamedTuple):
    """What a tuning came to."""

    cell: Cell
    before: Result
    after: Result
    values: Dict[str, float]  # the dimensions, in the units of their keys
    num_solves: int
    met: bool


def tune(cell: Cell, figures: Mapping[str, float], by: Union[str, Sequence[str], Mapping[str, Optional[Bounds]]],
         mode: int = 0, most_solves: int = 30, stop: Optional[Stop] = None, log: Optional[Log] = None, **choices: Any) -> Tuned:
    """Changes dimensions until figures are what is asked for; the cell itself is not changed.

        tune(cell, {"frequency_MHz": 1300}, by="equator_radius_mm")
        tune(cell, {"frequency_MHz": 1300, "epk_over_eacc": 2}, by={"equator_radius_mm": None,
                                                                    "iris_ellipse.axial_mm": (8, 14)})

    figures: by key, in the unit of the key, also of the shape ("wall_angle_deg"). by: one key, keys, or keys with bounds (None:
    chosen). With more dimensions than figures the change is the smallest. mode: counted from 0. stop, log and choices are those
    of solve().
    Raises NotConverged, with what came nearest as `result`, when the figures are not reached.
    """
    place, error, base = ffi.new("cavum_tune_outcome **"), new_error(), cell_of(cell)
    if not isinstance(figures, Mapping):
        refuse_type('figures by their keys, {"frequency_MHz": 1300}', figures)
    bounds = _bounds_of(by)
    keys = [ffi.new("char[]", name_of(key, "the key of a dimension")) for key in bounds]
    shapes = _shape_figures()
    of_mode = {key: value for key, value in figures.items() if key not in shapes}
    of_shape = {key: value for key, value in figures.items() if key in shapes}
    aims, shape_aims = ffi.new("cavum_tune_aim[]", len(of_mode)), ffi.new("cavum_tune_shape_aim[]", len(of_shape))
    for aim, (key, value) in zip(aims, of_mode.items()):
        aim.figure, unit_si, _ = find_figure(key)
        aim.value = number_of(value, key) * unit_si
    for aim, (key, value) in zip(shape_aims, of_shape.items()):
        aim.figure, unit_si = shapes[key]
        aim.value = number_of(value, key) * unit_si
    dimensions = ffi.new("cavum_tune_dimension[]", len(keys))
    for dimension, key, (name, bound) in zip(dimensions, keys, bounds.items()):
        dimension.key = key
        dimension.low, dimension.high = _pair_of(bound, name)
    plan = ffi.new("cavum_tune_plan *", lib.cavum_tune_plan_default())
    put(plan, "mode", mode, "mode")
    put(plan, "most_solves", most_solves, "most_solves")
    plan.num_aims, plan.aims = len(of_mode), aims
    plan.num_shape_aims, plan.shape_aims = len(of_shape), shape_aims
    plan.num_dimensions, plan.dimensions = len(keys), dimensions
    watch, options = Watch(stop, log), make_options(**choices)
    watch.put_into(options)
    watch.begin()
    status = lib.cavum_tune_figures(place, base, plan, options, error)
    tuned: Any = _take_outcome(place, list(bounds), cell) if place[0] != ffi.NULL else None
    watch.end()
    raise_error(status, error, tuned)
    return tuned


def _shape_figures() -> Dict[str, Tuple[int, float]]:
    """Figures of the shape by their keys: number and unit."""
    found = {}
    for number in range(lib.CAVUM_NUM_GEOMETRY_FIGURES):
        info = lib.cavum_geometry_describe(number)
        found[text_of(info.key)] = number, info.unit_si
    return found


def _bounds_of(by: Any) -> Dict[str, Optional[Bounds]]:
    if isinstance(by, str):
        return {by: None}
    if not isinstance(by, (Mapping, Iterable)):
        refuse_type("a key, keys, or keys with their bounds", by)
    return dict(by) if isinstance(by, Mapping) else {key: None for key in by}


def _pair_of(bound: Any, key: str) -> Tuple[float, float]:
    if bound is None:
        return 0.0, 0.0
    try:
        low, high = bound
    except (TypeError, ValueError):
        refuse_type(f"(least, largest) or None for {key}", bound)
    return number_of(low, key), number_of(high, key)


def _take_outcome(place: Any, keys: Sequence[str], base: Cell) -> Tuned:
    outcome = place[0]
    tuned = Cell(text_of(outcome.cell_text))._made_from(base._inputs())
    after = Result(outcome.after, tuned, None)
    # One and the same where nothing was nearer than the cell as given.
    before = after if outcome.before == outcome.after else Result(outcome.before, None, None)
    outcome.before = outcome.after = ffi.NULL  # they go on as results of their own
    values = {key: outcome.values_after[i] for i, key in enumerate(keys)}
    made = Tuned(tuned, before, after, values, outcome.num_solves, bool(outcome.met))
    lib.cavum_tune_outcome_destroy(place)
    return made


class Optimum(NamedTuple):
    """What a search for the best shape came to."""

    cell: Cell
    before: Optional[Result]     # of the base cell; None where it is no shape
    result: Result               # of the best one
    values: Dict[str, float]     # the dimensions, in the units of their keys
    met: bool                    # the first-order conditions hold, and so do the limits
    num_solves: int
    num_optima: int              # different values that starts converged to
    within_limits: bool          # every limit holds; where `met` is False, not proven to be the best
    details: Dict[str, Any]      # what `cavum optimise --json` writes: limits, multipliers, starts, path


def optimise(goal: Any, cell: Optional[Cell] = None, stop: Optional[Stop] = None, log: Optional[Log] = None,
             **choices: Any) -> Optimum:
    """The best shape for a goal: the path of a goal file, or its keys as a dictionary.

        optimise({"vary": {"iris_radius_mm": {"from": 34, "to": 40}}, "minimise": "epk_over_eacc",
                  "hold": {"frequency_MHz": 1300, "by": "equator_radius_mm"}}, cell)

    cell: the base cell; None: the file that the goal names (from the present folder for a dictionary). stop, log and choices
    are those of solve(). Raises NotConverged,
    with the best that was found as `result`, where no start meets the first-order conditions or no way to round keeps the limits.
    """
    place, optimum, error = ffi.new("cavum_goal **"), ffi.new("cavum_optimum **"), new_error()
    base = cell_of(cell) if cell is not None else ffi.NULL
    if isinstance(goal, Mapping):
        text, name = json_of(goal), ffi.NULL
    else:
        name = encode_path(goal, "the path of a goal file, or its keys as a dictionary")
        try:
            with open(goal, "rb") as file:
                text = file.read()
        except OSError as problem:
            raise CavumError(f"{os.fspath(goal)}: cannot be opened: {problem.strerror}", "ERR_FILE") from None
    watch, options = Watch(stop, log), make_options(**choices)
    watch.put_into(options)
    raise_error(lib.cavum_goal_open_text(place, text, len(text), name, base, error), error)
    inputs = names_of(lib.cavum_goal_files(place[0])) + (cell._inputs() if cell is not None else ())
    watch.begin()
    try:
        status = lib.cavum_optimise(optimum, place[0], options, error)
    finally:
        lib.cavum_goal_close(place)
    found: Any = _take_optimum(optimum, inputs) if optimum[0] != ffi.NULL else None
    watch.end()
    raise_error(status, error, found)
    return found


def _take_optimum(place: Any, inputs: Tuple[str, ...]) -> Optimum:
    optimum, text = place[0], ffi.new("char **")
    error = new_error()
    raise_error(lib.cavum_store_optimum_to_json(text, optimum, error), error)
    best = Cell(text_of(optimum.cell_text))._made_from(inputs)
    result = Result(optimum.result, best, None)
    before = None
    if optimum.before == optimum.result:
        before = result
    elif optimum.before != ffi.NULL:
        before = Result(optimum.before, None, None)
    optimum.before = optimum.result = ffi.NULL  # they go on as results of their own
    variables = [optimum.variables[i] for i in range(optimum.num_variables)]
    values = {text_of(variable.key): variable.value for variable in variables}
    made = Optimum(best, before, result, values, bool(optimum.met), optimum.num_solves, optimum.num_optima,
                   bool(optimum.within_limits), json.loads(take_text(text[0])))
    lib.cavum_optimum_destroy(place)
    return made


class Spread(dict):
    """Spread of every figure: what `cavum tolerances --json` writes, by its keys."""


def tolerances(cell: Cell, source: Optional[Mapping[str, Any]] = None, mode: int = 0, samples: int = -1, seed: int = 0,
               stop: Optional[Stop] = None, log: Optional[Log] = None, **choices: Any) -> Spread:
    """What tolerances of the dimensions make of the figures.

    source: the section `tolerances` of a cell file as a dictionary, {"iris_radius_mm": {"normal":
    0.05}, ...}; None: that of the cell's own file. samples: shapes to draw; -1: where the linear
    spread does not hold; 0: none. mode: counted from 0. stop, log and choices are those of solve().
    """
    base = cell_of(cell)
    if source is not None and not isinstance(source, Mapping):
        refuse_type("the section `tolerances` of a cell file as a dictionary", source)
    text = json_of({"tolerances": source}) if source is not None else cell.text().encode()
    found, error = ffi.new("cavum_tolerances **"), new_error()
    wanted = ffi.new("cavum_spread_options *", lib.cavum_spread_options_default())
    put(wanted, "mode", mode, "mode")
    put(wanted, "num_samples", samples, "samples")
    put(wanted, "seed", seed, "seed")
    watch, options = Watch(stop, log), make_options(**choices)
    watch.put_into(options)
    spread = ffi.new("cavum_spread **")
    name = b"cell" if source is None else b"tolerances"  # for messages
    raise_error(lib.cavum_tolerances_read_text(found, base, text, len(text), name, error), error)
    watch.begin()
    try:
        status = lib.cavum_spread_make(spread, base, found[0], wanted, options, error)
    finally:
        lib.cavum_tolerances_destroy(found)
    watch.end()
    raise_error(status, error)
    json_text = ffi.new("char **")
    status = lib.cavum_store_spread_to_json(json_text, spread[0], error)
    lib.cavum_spread_destroy(spread)
    raise_error(status, error)
    return Spread(json.loads(take_text(json_text[0])))
