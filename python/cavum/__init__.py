# SPDX-License-Identifier: GPL-3.0-or-later
"""Figures of merit of axisymmetric accelerating cells, from Python.

    import cavum
    cell = cavum.Cell.read("cell.yaml")
    result = cavum.solve(cell)
    result.modes[0]["frequency_MHz"]        # 1288.12567(31) MHz

Numbers of a cell and figures are named by their keys, as in cell files and result files, and are in
the unit that the key names. Everything else is in SI units and says so in its name.
"""
from ._library import CavumError, Stopped, NotConverged, version
from .built import AsBuilt, as_built
from .cell import Cell
from .chain import Steps, steps
from .coldtest import ColdTest, evaluate_coldtest
from .design import Optimum, Spread, Tuned, optimise, tolerances, tune
from .result import Figure, Mode, Profile, Result
from .solving import Solver, solve
from .study import Study, read_study

__version__ = version()
__all__ = ["AsBuilt", "Cell", "CavumError", "ColdTest", "Figure", "Mode", "NotConverged", "Optimum", "Profile", "Result",
           "Solver", "Spread", "Steps", "Stopped", "Study", "Tuned", "as_built", "evaluate_coldtest", "optimise", "read_study", "solve",
           "steps", "tolerances", "tune", "version"]
