#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The Python module, built by pip from a copy of the tree against the library of this build: what it
gives is what the program gives, arrays are the library's own, and whatever stops a solve stops it.

Usage: check_module.py PROGRAM CELLS_FOLDER SOURCE_FOLDER
"""
import copy
import gc
import json
import os
import pathlib
import pickle
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import types
import weakref
import xml.etree.ElementTree

import numpy
from scipy.special import j0, j1, jn_zeros

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "scripts"))
from checking import check, exit_status

PROGRAM, CELLS, SOURCE = sys.argv[1:4]
SPEED_OF_LIGHT = 299792458.0


def build(folder):
    """Installs the module into a folder, as README says."""
    copy = os.path.join(folder, "source")
    for name in ("python", "include"):
        shutil.copytree(os.path.join(SOURCE, name), os.path.join(copy, name))
    shutil.copy(os.path.join(SOURCE, "CMakeLists.txt"), copy)
    # As a shell has it: named from where it stands.
    there = os.path.relpath(os.path.dirname(PROGRAM), folder)
    environment = dict(os.environ, CAVUM_BUILD=there, PWD=folder, PIP_ROOT_USER_ACTION="ignore")
    subprocess.run([sys.executable, "-m", "pip", "install", "--quiet", "--no-build-isolation", "--no-deps",
                    "--no-index", "--no-cache-dir", "--disable-pip-version-check", "--target",
                    os.path.join(folder, "site"), os.path.join(copy, "python")], check=True, env=environment, cwd=folder)
    return os.path.join(folder, "site")


def run(*words, cwd=None):
    return subprocess.run([PROGRAM, *words], capture_output=True, text=True, cwd=cwd, check=False)


def cell_file(name):
    return os.path.join(CELLS, name + ".yaml")


def read_pillbox(cavum):
    return cavum.Cell.read(cell_file("pillbox"))


def check_figures(cavum):
    done = json.loads(run("solve", cell_file("injector-cell"), "--json", "-").stdout)
    result = cavum.solve(cavum.Cell.read(cell_file("injector-cell")))
    check(result.to_json()["modes"] == done["modes"], "figures are those of the program, to the bit")
    check(len(result.modes) == len(done["modes"]) == 3, "all modes are there")
    mode = result.modes[0]
    f = mode["frequency_MHz"]
    check(f.unit == "MHz" and f.value == mode["frequency_Hz"].value / 1e6, "keys in other units")
    for key, unit in {"loss_factor_V_per_pC": "V/pC", "eacc_at_1_J_MV_per_m": "MV/m", "r_over_q_linac_kohm": "kohm",
                      "loss_factor_V_per_C": "V/C", "bpk_over_eacc_mT_per_MV_per_m": "mT/(MV/m)", "q0": "1"}.items():
        check(key not in mode or mode[key].unit == unit, f"unit of {key}: {key in mode and mode[key].unit}")
    check("loss_factor_V_per_pC" in mode and "eacc_at_1_J_MV_per_m" in mode, "keys with units over others")
    check(mode.label == "TM010" and "TM010" in repr(result) and str(f) in repr(result), "the table has the figures")
    check(abs(mode["bpk_over_eacc_mT_per_MV_per_m"].value - 4.075) < 1e-3, "B_pk/E_acc is in mT/(MV/m)")
    check("q0" in mode and "no_such" not in mode, "which figures a mode has")
    z, r = mode.peak_position_m("epk_over_eacc")
    check(0 < r < 0.2 and abs(z) < 0.2, "a peak has a position in metres")


def check_closed_forms(cavum):
    """TM010 of a pillbox: f = x01 c / (2 pi R), E_z ~ J0, H_phi ~ J1, df/dR = -f / R."""
    cell = read_pillbox(cavum)
    radius, x01 = 0.1, jn_zeros(0, 1)[0]
    result = cavum.solve(cell, fields=True, profiles=True, derivatives=True)
    mode = result.modes[0]
    f = x01 * SPEED_OF_LIGHT / (2 * numpy.pi * radius)
    check(abs(mode["frequency_Hz"].value - f) <= mode["frequency_Hz"].uncertainty + 1e-12 * f, "f of a pillbox")
    r = numpy.linspace(0, 0.099, 7)
    z = mode.axis.z_m.mean()
    fields = mode.field_at(z, r)
    check(numpy.allclose(fields.e_z_V_per_m / fields.e_z_V_per_m[0], j0(x01 * r / radius), atol=1e-5),
          "E_z of a pillbox at points")
    h = fields.h_phi_A_per_m * 376.730313 / fields.e_z_V_per_m[0]
    check(numpy.allclose(numpy.abs(h), j1(x01 * r / radius), atol=1e-5), "H_phi of a pillbox at points")
    off = mode.field_uncertainty_at(z, r)
    exact = abs(fields.e_z_V_per_m[0]) * j0(x01 * r / radius)
    check(off.e_V_per_m.shape == r.shape and (abs(abs(fields.e_z_V_per_m) - exact) <= 2 * off.e_V_per_m).all(),
          "uncertainty of E at points")
    check((off.h_phi_A_per_m > 0).all() and off.h_phi_A_per_m.max() < 1e-4 * abs(fields.h_phi_A_per_m).max(), "and of H")
    outside = mode.field_at(z, [[0.2, 0.05]])
    check(numpy.isnan(mode.field_uncertainty_at(z, 0.2).e_V_per_m), "no uncertainty outside")
    check(outside.e_z_V_per_m.shape == (1, 2) and numpy.isnan(outside.e_z_V_per_m[0, 0]), "NaN outside, shapes kept")
    by_radius = sum(d["frequency_Hz"].value for key, d in mode.derivatives.items() if key.endswith("r_mm"))
    check(abs(by_radius / (-f / 100) - 1) < 1e-8, "df/dR of a pillbox, both points of its wall")


def check_arrays(cavum):
    """Arrays have no copies and outlive what they are of."""
    result = cavum.solve(read_pillbox(cavum), profiles=True)
    axis = result.modes[0].axis
    check(axis.e_uncertainty_V_per_m.size == axis.z_m.size, "uncertainties along the axis")
    check(0.0 < axis.e_uncertainty_V_per_m.max() < 1e-4 * abs(axis.e_V_per_m).max(), "those of E")
    check(axis.h_uncertainty_A_per_m.size == 0, "there is no H on the axis")
    check(result.modes[0].wall.h_uncertainty_A_per_m.max() > 0.0, "those of H along the wall")
    wall = result.modes[0].wall.e_V_per_m
    again = result.modes[0].wall.e_V_per_m
    check(not wall.flags.owndata and not wall.flags.writeable and numpy.shares_memory(wall, again),
          "arrays are the library's memory")
    kept = wall.copy()
    del result, again
    gc.collect()
    check(numpy.array_equal(wall, kept), "and live as long as they are looked at")
    gc.disable()
    result = cavum.solve(read_pillbox(cavum))
    gone, f = weakref.ref(result), result.modes[0]["frequency_Hz"]
    del result
    check(gone() is None and f.value > 0, "a result is freed when nobody looks at it, not at the next collection")
    gc.enable()


def caught(kind, call):
    try:
        call()
    except kind as exception:
        return exception
    return None


def check_errors(cavum, folder):
    bad = os.path.join(folder, "bad.yaml")
    with open(bad, "w", encoding="utf-8") as file:
        file.write("contour: {kind: two-ellipse, iris_radius_mm: -3}\n")
    line = run("solve", bad).stderr.strip()
    error = caught(cavum.CavumError, lambda: cavum.Cell.read(bad))
    check(error and line.endswith(str(error)) and error.status == "ERR_INPUT", "the message is that of the program")
    cell = cavum.Cell.read(cell_file("mid-cell"))
    old = cell["iris_radius_mm"]
    error = caught(cavum.CavumError, lambda: cell.__setitem__("iris_radius_mm", -1))
    check(error and cell["iris_radius_mm"] == old, "a refused number changes nothing")
    mode = cavum.solve(cell).modes[0]
    check(caught(KeyError, lambda: mode["tube_cut_frequency_change_Hz"]), "a figure that is not there is a KeyError")
    tight = cavum.Cell(cell.text() + "accuracy: {frequency: 1.0e-13, other_figures: 1.0e-12}\n")
    error = caught(cavum.NotConverged, lambda: cavum.solve(tight))
    check(error and not error.result.accuracy_reached, "what was not reached has the best result")
    check(caught(ValueError, lambda: cavum.solve(cell).modes[0].wall), "profiles that were not asked for")
    error = caught(ValueError, lambda: cavum.solve(cell).picture("gif"))
    check(error and "svg" in str(error), f"a form of pictures that there is not: {error}")


def check_arguments(cavum):
    """What is no cell and no path is refused with what to give, before anything is done."""
    cell, solver = cavum.Cell.read(cell_file("mid-cell")), cavum.Solver()
    aim = {"frequency_MHz": 1300}
    takes = {
        "solve": (cavum.solve, "cavum.Cell.read(path)"), "Solver.solve": (solver.solve, "cavum.Cell.read(path)"),
        "tune": (lambda it: cavum.tune(it, aim, by="iris_radius_mm"), "cavum.Cell.read(path)"),
        "tolerances": (cavum.tolerances, "cavum.Cell.read(path)"),
        "tune, figures": (lambda it: cavum.tune(cell, it, by="iris_radius_mm"), "figures by their keys"),
        "tolerances, source": (lambda it: cavum.tolerances(cell, it or 0), "as a dictionary"),
        "optimise": (cavum.optimise, "the path of a goal file, or its keys"),
        "optimise, cell": (lambda it: cavum.optimise({}, it or 0), "cavum.Cell.read(path)"),
        "steps": (cavum.steps, "the path of a step file, or its keys"),
        "Cell": (cavum.Cell, "cavum.Cell.read(path)"), "Cell.read": (cavum.Cell.read, "the path of a file"),
        "Result.read": (cavum.Result.read, "the path of a file"), "read_study": (cavum.read_study, "the path of a file"),
        "as_built": (cavum.as_built, "the path of a file"),
        "evaluate_coldtest": (cavum.evaluate_coldtest, "the path of a file")}
    texts = ("the path of a file", "the path of a goal file, or its keys", "the path of a step file, or its keys")
    mappings = texts[1:] + ("figures by their keys", "as a dictionary")
    result = cavum.solve(cell)
    for name, (call, says) in takes.items():
        for it in ("cell.yaml", None, 5, {}, result):
            if isinstance(it, str) and says in texts or it == {} and says in mappings or name == "Cell" and it == {}:
                continue
            kind = cavum.CavumError if name == "Cell" and isinstance(it, str) else TypeError
            error = caught(Exception, lambda: call(it))
            check(isinstance(error, kind) and says in str(error), f"{name} of {it!r:.20}: {error!r}")
    check(caught(cavum.CavumError, lambda: cavum.Cell("")), "an empty text is no cell")
    check(caught(TypeError, lambda: cavum.tune(cell, aim, by=5)), "a dimension that is no key")


def check_kept_files(cavum, folder):
    """No file that something was read from is written over, and no other without being told."""
    folder = os.path.join(folder, "kept")
    os.mkdir(folder)
    path, link, other = (os.path.join(folder, name) for name in ("cell.yaml", "link.yaml", "other.yaml"))
    shutil.copy(cell_file("mid-cell"), path)
    os.symlink(path, link)
    cell = cavum.Cell.read(path)
    with open(path, encoding="utf-8") as file:
        before = file.read()
    tuned = cavum.tune(cell, {"frequency_MHz": 1310}, by={"equator_radius_mm": (100, 106)}).cell
    chain = cavum.steps({"cell": path, "steps": [{"name": "bulk", "remove": {"depth_um": 120}}]})
    keys = {"vary": {"equator_ellipse.axial_mm": {"from": 40, "to": 44}}, "starts": 1, "minimise": "epk_over_eacc"}
    best = cavum.optimise(keys, cell).cell
    result = cavum.solve(cell)
    writes = {"a cell": cell.write, "a copy": cell.copy().write, "a tuned cell": tuned.write, "the best cell": best.write,
              "a cell behind a step": chain.cell("bulk").write}
    for name, write in writes.items():
        for there in (path, link, os.path.join(folder, ".", "cell.yaml")):
            error = caught(cavum.CavumError, lambda: write(there, overwrite=True))
            check(error and error.status == "ERR_USAGE" and "would replace" in str(error), f"{name} over its file: {error}")
    for name, write in {"a result": result.write, "a chain": chain.write}.items():
        check(caught(cavum.CavumError, lambda: write(link)), f"{name} over the cell")
    with open(path, encoding="utf-8") as file:
        check(file.read() == before, "the file is as it was")
    os.remove(path)
    check(caught(cavum.CavumError, lambda: cell.write(path)), "nor where it was")
    with open(other, "w", encoding="utf-8") as file:
        file.write("mine\n")
    error = caught(cavum.CavumError, lambda: cell.write(other))
    with open(other, encoding="utf-8") as file:
        check(error and "overwrite=True" in str(error) and file.read() == "mine\n", f"a file of somebody: {error}")
    cell.write(other, overwrite=True)
    check(cavum.Cell.read(other)["iris_radius_mm"] == cell["iris_radius_mm"], "is replaced when told")
    with open(other, "w", encoding="utf-8"):
        pass
    cell.write(other)
    check(os.path.getsize(other) > 0, "an empty file is nobody's")
    check_results_keep_others(cavum, folder)


def check_results_keep_others(cavum, folder):
    """Results replace results of their kind, and nothing else without being told."""
    shutil.copy(cell_file("mid-cell"), os.path.join(folder, "drawn.yaml"))
    cell = cavum.Cell.read(os.path.join(folder, "drawn.yaml"))
    result = cavum.solve(cell)
    chain = cavum.steps({"cell": os.path.join(folder, "drawn.yaml"),
                         "steps": [{"name": "bulk", "remove": {"depth_um": 120}}]})
    path = os.path.join(folder, "notes.hdf")
    for name, it, other in (("result", result, chain), ("chain", chain, result)):
        with open(path, "w", encoding="utf-8") as file:
            file.write("notes of a day\n" * 20)
        error = caught(cavum.CavumError, lambda: it.write(path))
        with open(path, encoding="utf-8") as file:
            check(error and error.status == "ERR_USAGE" and file.read(5) == "notes", f"a {name} over notes: {error}")
        it.write(path, overwrite=True)
        it.write(path)
        check(caught(cavum.CavumError, lambda: other.write(path)), f"over a {name}")
    cell["iris_radius_mm"] += 1
    error = caught(cavum.CavumError, lambda: result.write(path, overwrite=True))
    check(error and "cell.copy()" in str(error), f"a result of a cell that has changed: {error}")


def check_static_only(folder):
    """A folder without the shared libraries is refused: the linker would take the static ones."""
    folder = os.path.join(folder, "static")
    os.mkdir(folder)
    for name in ("libcavum.so", "libcavum_pictures.a"):
        with open(os.path.join(folder, name), "w", encoding="utf-8"):
            pass
    done = subprocess.run([sys.executable, os.path.join(SOURCE, "python", "make_interface.py")], capture_output=True,
                          text=True, check=False, cwd=folder, env=dict(os.environ, CAVUM_BUILD=folder))
    check(done.returncode == 1 and "libcavum_pictures.so is not there" in done.stderr and "Traceback" not in done.stderr,
          f"a build without its shared libraries: {done.stderr}")


def check_first_error(site):
    """A file that is not there, by a process in which nothing has needed HDF5 yet."""
    for call in ("cavum.read_study('none.hdf')", "cavum.Result.read('none.hdf')"):
        code = f"import sys; sys.path.insert(0, {site!r}); import cavum; {call}"
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
        check(done.returncode == 1 and "none.hdf: cannot be opened" in done.stderr, f"{call}: {done.stderr[-200:]}")


def fails(kind, says, name, call):
    """A call is refused so, with these words."""
    error = caught(Exception, call)
    check(isinstance(error, kind) and says in str(error), f"{name}: {error!r:.200}")


def check_calls(cavum):
    """A solve is called by place or by name; what is none of these is refused, and what is looked at stays."""
    cell, solver = cavum.Cell.read(cell_file("mid-cell")), cavum.Solver()
    f = solver.solve(cell=cell).modes[0]["frequency_Hz"]
    check(abs(f.value - solver.solve(cell).modes[0]["frequency_Hz"].value) <= 2 * f.uncertainty, "the cell by its name")
    for words, named in ((), {}), ((cell, cell), {}), ((cell,), {"cell": cell}), ((), {"shape": cell}):
        fails(TypeError, "one argument, a cell", f"{len(words)} cells and {list(named)}", lambda: solver.solve(*words, **named))
    fails(ValueError, "not read", "a cell that was not read", lambda: solver.solve(cavum.Cell.__new__(cavum.Cell)))
    fails(TypeError, "not deleted", "a number without which a cell is none", lambda: cell.__delitem__("iris_radius_mm"))
    fails(OverflowError, "too large", "a radius that no number is", lambda: cell.__setitem__("iris_radius_mm", 10**400))
    keys = iter(solver.solve(cell).modes[0])  # of a mode that nobody keeps
    gc.collect()
    check(list(keys) == list(solver.solve(cell).modes[0]), "keys of a mode that is gone")
    result = solver.solve(cell)
    check(copy.copy(result) is result and dict(result.modes[0]) == dict(copy.copy(result.modes[0])), "a copy is the same")
    counts = [sys.getrefcount(it) for it in (cell, solver, cavum.Result, cavum.Mode, cavum.Figure)]
    for _ in range(50):
        solver.solve(cell).modes[0]["frequency_MHz"].text
        caught(TypeError, lambda: solver.solve(3))
        caught(KeyError, lambda: result.modes[0]["no_such"])
    after = [sys.getrefcount(it) for it in (cell, solver, cavum.Result, cavum.Mode, cavum.Figure)]
    check(counts == after, f"nothing is kept of what is gone: {counts}, {after}")
    gone = weakref.ref(solver)
    asked = cavum.Solver(stop=lambda: bool(asked) and False)
    gone_too = weakref.ref(asked)
    del solver, asked
    gc.collect()
    check(gone() is None and gone_too() is None, "solvers are freed, also one whose function knows it")


def check_figure_type(cavum):
    """A figure is a number with a unit, no list of numbers and texts."""
    result = cavum.solve(cavum.Cell.read(cell_file("mid-cell")))
    mode = result.modes[0]
    f, again = mode["frequency_MHz"], mode["frequency_MHz"]
    for name in ("value", "uncertainty", "unit", "text", "note"):
        fails(AttributeError, "", f"{name} of a figure is not set", lambda name=name: setattr(f, name, 1.0))
    check(f"{f:.3f}" == f"{f.value:.3f}" and f"{f}" == str(f) == f.text and "MHz" in str(f), "formats of numbers, and its text")
    check(numpy.array_equal(numpy.array([f, again], float), [f.value] * 2) and float(f) == f.value, "numbers for NumPy")
    check(caught(TypeError, lambda: f * 2) and caught(TypeError, lambda: f > 1000), "no arithmetic that would forget the uncertainty")
    back = pickle.loads(pickle.dumps(f))
    check(f == again == back and len({f, again, back}) == 1 and back.text == f.text and f != f.value, "equal, and there and back")
    text, kept = str(f), mode["geometry_factor_ohm"]
    shown = str(kept)
    for key, unit in (("frequency_Hz", "Hz"), ("frequency_kHz", "kHz"), ("frequency_MHz", "MHz"), ("frequency_GHz", "GHz"),
                      ("loss_factor_V_per_pC", "V/pC"), ("r_over_q_linac_ohm", "ohm"), ("shunt_impedance_linac_ohm", "ohm"),
                      ("bpk_over_eacc_mT_per_MV_per_m", "mT/(MV/m)")):
        it = mode[key]
        number, exponent, shown_unit = re.match(r"([-0-9.]+)(?:\(\d+\))?(e-?\d+)? (\S+)", it.text).groups("")
        found = float(number + exponent)
        check(shown_unit == it.unit == unit, f"{key} is shown in its unit: {it}")
        check(abs(found - it.value) <= it.uncertainty + 1e-6 * abs(it.value), f"{key} is shown as the number of that unit: {it}")
    check(mode["epk_over_eacc"].text.endswith(")") and " " not in mode["epk_over_eacc"].text, "a pure number has no unit")
    del result, mode
    gc.collect()
    check(str(f) == text and str(kept) == shown, "and has its text when its result is gone")


def check_wrong_values(cavum):
    """What is no such number, key or function is refused with its name, before anything is done."""
    cell, aim, by = cavum.Cell.read(cell_file("mid-cell")), {"frequency_MHz": 1300}, "equator_radius_mm"
    mode, spread = cavum.solve(cell).modes[0], {by: {"normal": 0.05}}
    fails(TypeError, "the key of a figure", "a figure by its number", lambda: mode[5])
    fails(KeyError, "did you mean", "a misspelt figure", lambda: mode["frequncy_MHz"])
    fails(KeyError, "nokey", "the place of a peak that there is not", lambda: mode.peak_position_m("nokey"))
    fails(ValueError, "zero byte", "a key with more behind its end", lambda: cell["iris_radius_mm\0"])
    fails(ValueError, "zero byte", "a path with more behind its end", lambda: cell.write("a\0b"))
    for value in (None, "abc", "35", [3], numpy.array([1, 2])):
        fails(TypeError, "a number for iris_radius_mm", f"a radius {value}", lambda: cell.__setitem__("iris_radius_mm", value))
        fails(TypeError, "a number for frequency_MHz", f"f {value}", lambda: cavum.tune(cell, {"frequency_MHz": value}, by=by))
    for value in (None, "a", 1.5):
        fails(TypeError, "a whole number for num_modes", f"{value} modes", lambda: setattr(cell, "num_modes", value))
        fails(TypeError, "a whole number for degree", f"degree {value}", lambda: cavum.solve(cell, degree=value))
        fails(TypeError, "a whole number for samples", f"{value} samples", lambda: cavum.tolerances(cell, spread, samples=value))
    fails(ValueError, "num_modes", "10^30 modes", lambda: setattr(cell, "num_modes", 10**30))
    fails(ValueError, "samples", "10^12 samples", lambda: cavum.tolerances(cell, spread, samples=10**12))
    fails(TypeError, "a number for near_Hz", "no frequency", lambda: setattr(cell, "near_Hz", None))
    fails(TypeError, "True or False for use_symmetry", "a word for a choice", lambda: cavum.solve(cell, use_symmetry="no"))
    for name, call in {"solve": cavum.solve, "Solver": lambda _, **choices: cavum.Solver(**choices),
                       "tolerances": lambda it, **choices: cavum.tolerances(it, spread, **choices),
                       "tune": lambda it, **choices: cavum.tune(it, aim, by, **choices)}.items():
        fails(TypeError, "no choice 'degre'", f"{name}, a misspelt choice", lambda: call(cell, degre=7))
        fails(TypeError, "a function for stop", f"{name}, what cannot be asked", lambda: call(cell, stop=5))
        fails(TypeError, "a function for log", f"{name}, what cannot hear", lambda: call(cell, log=5))
    for bound in (5, (1,), (1, 2, 3)):
        fails(TypeError, "for equator_radius_mm", f"bounds {bound}", lambda: cavum.tune(cell, aim, by={by: bound}))
    fails(AttributeError, "iris_radius_mm", "a number that is set as a member", lambda: setattr(cell, "iris_radius_mm", 36.0))


def check_missing_parts(cavum):
    """What was not asked for when a cell was solved says what to ask for."""
    cell = cavum.Cell.read(cell_file("mid-cell"))
    mode, full = cavum.solve(cell).modes[0], cavum.solve(cell, fields=True).modes[0]
    fails(ValueError, "profiles=True", "profiles", lambda: mode.axis)
    fails(ValueError, "profiles=True", "R/Q over beta", lambda: mode.beta_curve)
    fails(ValueError, "derivatives=True", "derivatives", lambda: mode.derivatives)
    for number in -1, 1:
        fails(ValueError, f"mode {number}: the result has 1, counted from 0", "a picture of no mode",
              lambda number=number: cavum.solve(cell).picture("svg", "axis", mode=number))
    check("iris_radius_mm" in cell and "iris_ellipse.axial_mm" in cell and "iris_mm" not in cell and 0 not in cell, "keys of a cell")
    fails(TypeError, "not iterable", "a list of a cell", lambda: list(cell))
    fails(ValueError, "fields=True", "fields", lambda: mode.field_at(0, 0))
    fails(ValueError, "fields=True", "uncertainties of fields", lambda: mode.field_uncertainty_at(0, 0))
    for value in (None, "a", 1j):
        fails(TypeError, "numbers for z_m", f"the field at {value}", lambda: full.field_at(value, 0.01))
    check(full.field_at(0, [[0], [1]]).e_z_V_per_m.shape == (2, 1), "whole numbers are coordinates")


def check_dictionaries(cavum):
    """Numbers of NumPy, paths and any letters in a dictionary; copies are cells of their own."""
    cell = cavum.Cell.read(cell_file("mid-cell"))
    keys = {"title": "Zelle \u00e9 \U0001f600", "ends": {"left": {"kind": "magnetic"}, "right": {"kind": "magnetic"}},
            "contour": {"kind": "two-ellipse", "half_length_mm": numpy.float32(57.5), "iris_radius_mm": numpy.int64(35),
                        "equator_radius_mm": numpy.array(103.25), "equator_ellipse": {"axial_mm": 42, "radial_mm": 42},
                        "iris_ellipse": {"axial_mm": 12, "radial_mm": 19}}}
    made = cavum.Cell(keys)
    check(made.title == keys["title"] and made["half_length_mm"] == 57.5 and made["equator_radius_mm"] == 103.25,
          f"a cell from a dictionary, {made!r}")
    fails(TypeError, "found a set", "a set in a dictionary", lambda: cavum.Cell({"contour": {1, 2}}))
    chain = cavum.steps({"cell": pathlib.Path(cell_file("mid-cell")), "steps": [{"name": "bulk", "remove": {"depth_um": numpy.int64(120)}}]})
    check(len(chain["behind_each_step"]) == 2, "a path and a number in a chain")
    for name, other in {"copy": copy.copy(cell), "deepcopy": copy.deepcopy([cell])[0], "pickle": pickle.loads(pickle.dumps(cell))}.items():
        other["iris_radius_mm"] += 1
        check(other["iris_radius_mm"] == cell["iris_radius_mm"] + 1, f"{name}: a cell of its own")
        check(caught(cavum.CavumError, lambda: other.write(cell_file("mid-cell"), overwrite=True)), f"{name}: keeps its file")


def check_busy_solver(cavum):
    """A solver that works is not used by another thread, nor by what it calls."""
    cell = cavum.Cell.read(cell_file("mid-cell"))
    inner = cavum.Solver(log=lambda *_: inner.solve(cell))
    fails(RuntimeError, "solving a cell already", "a solve within a solve", lambda: inner.solve(cell))
    inner = cavum.Solver(log=lambda *_: inner.forget())
    fails(RuntimeError, "solving a cell", "forgetting within a solve", lambda: inner.solve(cell))
    shared = cavum.Solver(log=lambda *_: (begun.set(), done.wait(60)))
    begun, done = threading.Event(), threading.Event()
    thread = threading.Thread(target=lambda: shared.solve(cell))
    thread.start()
    begun.wait(60)
    fails(RuntimeError, "each thread has a solver", "another thread", lambda: shared.solve(cell))
    done.set()
    thread.join()
    check(shared.solve(cell).modes[0]["frequency_Hz"].value > 0, "and is free when the thread is done")
    closing = cavum.Solver(log=lambda *_: closing.close())
    check(closing.solve(cell).modes[0]["frequency_Hz"].value > 0, "a solver that is closed as it works ends its solve")
    fails(ValueError, "closed", "and is closed then", lambda: closing.solve(cell))
    anew = cavum.Cell.read(cell_file("mid-cell"))
    reading = cavum.Solver(log=lambda *_: anew.__init__(cell.text()))
    check(reading.solve(anew).modes[0]["frequency_Hz"] == cavum.solve(cell).modes[0]["frequency_Hz"],
          "a cell that is read anew as it is solved")
    closed = cavum.Solver()
    closed.close()
    closed.close()
    fails(ValueError, "closed", "a closed solver in a with-block", closed.__enter__)


def check_memory(cavum):
    """Solves, refusals and what is looked at leave nothing behind."""
    cell, solver = cavum.Cell.read(cell_file("mid-cell")), cavum.Solver()

    def resident_kb():
        with open("/proc/self/statm", encoding="ascii") as file:
            return int(file.read().split()[1]) * os.sysconf("SC_PAGESIZE") // 1024

    def work(count):
        for i in range(count):
            cell["equator_radius_mm"] = 103.3 * (1 + 1e-5 * (i % 50))
            str(solver.solve(cell).modes[0]["frequency_Hz"])
            caught(cavum.CavumError, lambda: cell.__setitem__("iris_radius_mm", -1))
        cell.num_modes, kept = -1, cell.num_modes
        caught(cavum.CavumError, lambda: solver.solve(cell))
        cell.num_modes = kept
        gc.collect()

    work(300)
    before = resident_kb()
    work(1000)
    # A result is some 100 KB.
    check(resident_kb() < before + 4096, f"a thousand solves: from {before} to {resident_kb()} KB")


def check_import(site):
    """What an import loads: no NumPy before it is needed, which is most of the time."""
    code = f"import sys; sys.path.insert(0, {site!r}); import cavum; print('numpy' in sys.modules, 'pandas' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    check(done.stdout.split() == ["False", "False"], f"an import loads neither NumPy nor pandas: {done.stdout} {done.stderr}")


def long_solve(cavum, **choices):
    """A solve of some seconds."""
    cell = read_pillbox(cavum)
    cavum.solve(cell, degree=10, refinement=48, work_limit_s=600, **choices)


def check_stopping(cavum):
    class Mine(Exception):
        pass

    def fail(*_):
        raise Mine()

    check(caught(cavum.Stopped, lambda: long_solve(cavum, stop=lambda: True)), "a stop function stops")
    check(caught(Mine, lambda: long_solve(cavum, stop=fail)), "an exception in it comes through")
    # A solve of a millisecond asks it as well.
    check(caught(cavum.Stopped, lambda: cavum.solve(read_pillbox(cavum), stop=lambda: True)), "also before a short solve")
    check(caught(Mine, lambda: cavum.solve(read_pillbox(cavum), stop=fail)), "where its exception comes through")
    check(caught(Mine, lambda: cavum.solve(read_pillbox(cavum), log=fail)), "and one in a log function")
    heard = []
    cavum.solve(read_pillbox(cavum), log=lambda *words: heard.append(words))
    check(heard and heard[0][0] == "progress" and heard[0][1] == "solve", "a log function hears of progress")
    cell, spread = cavum.Cell.read(cell_file("mid-cell")), {"iris_radius_mm": {"normal": 0.05}}
    goal = {"vary": {"equator_ellipse.axial_mm": {"from": 40, "to": 44}, "iris_radius_mm": {"from": 33, "to": 37}}, "starts": 1000,
            "hold": {"frequency_MHz": 1300, "by": "equator_radius_mm", "from": 95, "to": 115},
            "minimise": "bpk_over_eacc_mT_per_MV_per_m"}
    for name, call in {"a solve": lambda: long_solve(cavum), "a search": lambda: cavum.optimise(goal, cell),
                       "a spread": lambda: cavum.tolerances(cell, spread, samples=1000000)}.items():
        timer = threading.Timer(0.3, os.kill, (os.getpid(), signal.SIGINT))
        timer.start()
        check(caught(KeyboardInterrupt, call), f"Ctrl-C ends {name}")
        timer.join()
    check(caught(cavum.Stopped, lambda: cavum.tolerances(cell, spread, samples=1000000, stop=lambda: True)), "a spread is stopped")


def check_threads(cavum):
    cell = cavum.Cell.read(cell_file("mid-cell"))
    radii = numpy.linspace(101, 104, 5)

    def frequencies():
        mine, found = cell.copy(), []
        with cavum.Solver() as solver:
            for radius in radii:
                mine["equator_radius_mm"] = radius
                found.append(solver.solve(mine).modes[0]["frequency_Hz"].value)
        return found

    alone, together = frequencies(), [None] * 4
    threads = [threading.Thread(target=lambda i=i: together.__setitem__(i, frequencies())) for i in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    check(all(found == alone for found in together), "four solvers in four threads give the same bits")


def check_warm_solver(cavum):
    """What a solver keeps between solves: no error of one comes out of the next, and results stay as they are."""
    class Mine(Exception):
        pass

    answers = [True]
    cell = cavum.Cell.read(cell_file("mid-cell"))
    cavum._library.WATCH_INTERVAL_S, interval_s = 0.0, cavum._library.WATCH_INTERVAL_S
    solver = cavum.Solver(stop=lambda: answers[0])
    cavum._library.WATCH_INTERVAL_S = interval_s
    check(caught(cavum.Stopped, lambda: solver.solve(cell)), "a warm solver is stopped")
    answers[0] = False
    first = solver.solve(cell)
    f = first.modes[0]["frequency_Hz"]
    cell["equator_radius_mm"] += 1
    second = solver.solve(cell)
    check(first.modes[0]["frequency_Hz"] == f != second.modes[0]["frequency_Hz"], "and goes on; results stay")
    cell.accuracy_frequency, kept = 1e-15, cell.accuracy_frequency
    error = caught(cavum.CavumError, lambda: solver.solve(cell))
    check(error and "accuracy" in str(error), f"what a cell asks for is refused: {error}")
    cell.accuracy_frequency = kept
    third = solver.solve(cell).modes[0]["frequency_Hz"]
    there = second.modes[0]["frequency_Hz"]
    check(abs(third.value - there.value) <= third.uncertainty + there.uncertainty, "and the next cell is solved")

    def fail(*_):
        raise Mine()
    heard = cavum.Solver(log=fail)
    check(caught(Mine, lambda: heard.solve(cell)) and caught(Mine, lambda: heard.solve(cell)), "exceptions at each solve")
    solver.close()
    check(caught(ValueError, lambda: solver.solve(cell)), "a closed solver says so")


def check_design(cavum):
    cell = cavum.Cell.read(cell_file("mid-cell"))
    tuned = cavum.tune(cell, {"frequency_MHz": 1310}, by={"equator_radius_mm": (100, 106)})
    f = tuned.after.modes[0]["frequency_MHz"]
    check(tuned.met and tuned.num_solves <= 4 and abs(f.value - 1310) <= 1310e-6, "tuning")
    check(tuned.cell["equator_radius_mm"] == tuned.values["equator_radius_mm"] != cell["equator_radius_mm"],
          "the tuned cell has the dimension, the given one is as it was")
    for low, high, says in (106, 100, "low < high"), (103.3, 103.3, "low < high"), (-1, 106, "within"), (104, 106, "it is 103.3 now"):
        fails(cavum.CavumError, says, f"bounds from {low} to {high}",
              lambda low=low, high=high: cavum.tune(cell, {"frequency_MHz": 1310}, by={"equator_radius_mm": (low, high)}))
    error = caught(cavum.NotConverged,
                   lambda: cavum.tune(cell, {"frequency_MHz": 2000}, by={"equator_radius_mm": (100, 106)}))
    check(error and error.result.after.modes[0]["frequency_MHz"].value < 1400, "what came nearest")
    spread = cavum.tolerances(cell, {"equator_radius_mm": {"normal": 0.05}}, samples=0)
    derivatives = cavum.solve(cell, derivatives=True).modes[0].derivatives
    slope = derivatives["equator_radius_mm"]["frequency_Hz"].value
    in_mhz, peak = derivatives["equator_radius_mm"]["frequency_MHz"], derivatives["equator_radius_mm"]["bpk_over_eacc_mT_per_MV_per_m"]
    check(abs(in_mhz.value * 1e6 / slope - 1) < 1e-15 and in_mhz.unit == "MHz / mm" and peak.unit == "mT/(MV/m) / mm",
          f"derivatives in other units: {in_mhz}, {peak}")
    fails(KeyError, "did you mean", "a derivative of a misspelt figure", lambda: derivatives["equator_radius_mm"]["frequncy_MHz"])
    fails(KeyError, "iris_ellipse.axial_mm", "a derivative by no dimension", lambda: derivatives["axial_mm"])
    # A cylinder has its magnetic peak on both end walls: moving one end's corner changes the two differently.
    cylinder = cavum.Cell({"contour": {"kind": "path", "start": {"z_mm": -40, "r_mm": 0}, "path": [
        {"line_to": {"z_mm": 40, "r_mm": 0}, "boundary": "axis"}, {"line_to": {"z_mm": 40, "r_mm": 90}, "boundary": "metal"},
        {"line_to": {"z_mm": -40, "r_mm": 90}, "boundary": "metal"}, {"line_to": {"z_mm": -40, "r_mm": 0}, "boundary": "metal"}]}})
    corner, key = cavum.solve(cylinder, derivatives=True).modes[0].derivatives["path[2].line_to.r_mm"], "bpk_over_eacc_mT_per_MV_per_m"
    check(key not in corner and corner.grows[key].value > corner.shrinks[key].value and "frequency_Hz" not in corner.grows,
          f"one-sided derivatives: {dict(corner)}, {dict(corner.grows)}, {dict(corner.shrinks)}")
    fails(KeyError, corner.reasons[key], "a derivative of a peak at two places", lambda: corner[key])
    check("two places" in corner.reasons[key], f"the reason is {corner.reasons}")
    k_cc = cavum.solve(cell, coupling=True).k_cc
    check(str(k_cc).endswith(f"+- {k_cc.uncertainty:.2g}"), f"a number without a unit: {k_cc}")
    deviation = spread["figures"]["frequency_Hz"]["deviation"]
    check(abs(deviation / abs(0.05 * slope) - 1) < 1e-6, "spread of f is slope times tolerance")


GOAL = """cell: %s
vary: {equator_ellipse.axial_mm: {from: 40.0, to: 44.0}}
hold: {frequency_MHz: 1300.0, by: equator_radius_mm, from: 95.0, to: 115.0}
minimise: bpk_over_eacc_mT_per_MV_per_m
starts: 1
"""
CHAIN = """cell: %s
target: {frequency_MHz: 1300, tolerance_kHz: 50}
steps:
  - {name: bulk, remove: {depth_um: 120, uncertainty_um: 10}}
  - {name: cold, cool: {material: niobium, from_K: 293, to_K: 2}}
"""


def check_optimise(cavum, folder):
    """The best shape is that of the program, from a file and from a dictionary with a cell in memory."""
    path, cell = os.path.join(folder, "goal.yaml"), cavum.Cell.read(cell_file("mid-cell"))
    with open(path, "w", encoding="utf-8") as file:
        file.write(GOAL % cell_file("mid-cell"))
    done = json.loads(run("optimise", path, "--json", "-").stdout)
    best = cavum.optimise(path)
    check(best.details == done and best.met, "the best shape is that of the program")
    check(best.result.modes[0]["bpk_over_eacc_mT_per_MV_per_m"].value < best.before.modes[0][
        "bpk_over_eacc_mT_per_MV_per_m"].value and best.num_solves > 2, "the best is better")
    keys = {"vary": {"equator_ellipse.axial_mm": {"from": 40, "to": 44}}, "starts": 1,
            "hold": {"frequency_MHz": 1300, "by": "equator_radius_mm", "from": 95, "to": 115},
            "minimise": "bpk_over_eacc_mT_per_MV_per_m"}
    again = cavum.optimise(keys, cell)
    check(again.values == best.values and again.cell["equator_radius_mm"] == best.cell["equator_radius_mm"],
          "by a dictionary as well, and the values are those of the cell")
    line = run("optimise", "none.yaml", cwd=folder).stderr.strip()
    error = caught(cavum.CavumError, lambda: cavum.optimise("none.yaml"))
    check(error and line.endswith(str(error)), f"a goal that is not there: {error}; {line}")
    error = caught(cavum.CavumError, lambda: cavum.optimise({**keys, "minimize": "f"}, cell))
    check(error and "minimize" in str(error), f"an unknown key: {error}")
    check(caught(cavum.Stopped, lambda: cavum.optimise({**keys, "starts": 20}, cell, stop=lambda: True)), "it is stopped")


def check_steps(cavum, folder):
    """A chain is that of the program; the shape behind a step gives its frequency."""
    path = os.path.join(folder, "steps.yaml")
    with open(path, "w", encoding="utf-8") as file:
        file.write(CHAIN % cell_file("mid-cell"))
    done = json.loads(run("steps", path, "--json", "-").stdout)
    chain = cavum.steps(path)
    check(chain == done and len(chain["behind_each_step"]) == 3, "a chain is that of the program")
    keys = {"cell": cell_file("mid-cell"), "target": {"frequency_MHz": 1300, "tolerance_kHz": 50},
            "steps": [{"name": "bulk", "remove": {"depth_um": 120, "uncertainty_um": 10}},
                      {"name": "cold", "cool": {"material": "niobium", "from_K": 293, "to_K": 2}}]}
    check(cavum.steps(keys) == done, "by a dictionary as well")
    f = cavum.solve(chain.cell("bulk")).modes[0]["frequency_Hz"]
    there = chain["behind_each_step"][1]["frequency_Hz"]
    # The chain solves to what the cell asks for, 1e-6 of f.
    check(abs(f.value - there) <= f.uncertainty + 1e-6 * there, f"the shape behind a step has its frequency, {f.value - there} Hz")
    check(caught(KeyError, lambda: chain.cell("none")), "no such step")
    chain.write(os.path.join(folder, "steps.hdf"))
    check(run("draw", "steps.hdf", "-o", "steps.svg", cwd=folder).returncode == 0, "a chain is written and drawn")


def check_as_built(cavum, folder):
    """A measured wall is that of the program."""
    side = ("accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n  path:\n"
            "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n    - {line_to: {z_mm: 50, r_mm: 88}, boundary: electric}\n"
            "    - {line_to: {z_mm: -50, r_mm: 88}, boundary: metal}\n    - {line_to: {z_mm: -50, r_mm: 0}, boundary: electric}\n")
    texts = {"side.yaml": side, "points.csv": "z_mm,r_mm\n" + "".join(f"{0.5 * i - 49.75},88.02\n" for i in range(200)),
             "built.yaml": "accelerating_length_mm: 100\ncontour: {kind: measured, file: points.csv, drawing: side.yaml, "
                           "scatter_um: 2, probe_uncertainty_um: 3, best_fit: none}\n"}
    for name, text in texts.items():
        with open(os.path.join(folder, name), "w", encoding="utf-8") as file:
            file.write(text)
    path = os.path.join(folder, "built.yaml")
    built = cavum.as_built(path, section_mm=10)
    done = json.loads(run("as-built", path, "--section", "10", "--json", "-").stdout)
    # Library and program may run other kernels, which round differently.
    there, here = done["figures"]["frequency_Hz"], built["figures"]["frequency_Hz"]
    check(built.keys() == done.keys() and len(built["sections"]) == len(done["sections"]) == 10
          and all(abs(here[key] - there[key]) <= 1e-9 * there["value"] for key in ("value", "drawing", "by_probe")),
          f"a measured wall is that of the program, {here} {there}")
    built.write(os.path.join(folder, "built.hdf"))
    check(run("draw", "built.hdf", "-o", "built.svg", cwd=folder).returncode == 0, "it is written and drawn")
    check(caught(cavum.CavumError, lambda: cavum.as_built(os.path.join(folder, "side.yaml"))), "a drawing is none")
    check(cavum.as_built(path, mode=0, section_mm=10) == built, "modes count from 0")
    fails(cavum.CavumError, "mode 2", "a mode that the cell does not ask for", lambda: cavum.as_built(path, mode=1))
    with open(path, "a", encoding="utf-8") as file:
        file.write("accuracy: {frequency: 1.0e-13}\n")
    try:
        cavum.as_built(path)
        check(False, "an accuracy that rounding does not allow is not reached")
    except cavum.NotConverged as error:
        best = error.result
        check(not best["accuracy_reached"] and abs(best["figures"]["frequency_Hz"]["value"] - here["value"]) < 1.0,
              "the best of what did not converge comes along")


def check_files(cavum, folder):
    import h5py
    cell = cavum.Cell.read(cell_file("mid-cell"))
    result = cavum.solve(cell, fields=True, profiles=True)
    path = os.path.join(folder, "mid.hdf")
    result.write(path)
    back = cavum.Result.read(path)
    check(back.modes[0]["frequency_Hz"] == result.modes[0]["frequency_Hz"], "a result file goes there and back")
    cell.write(os.path.join(folder, "again.yaml"))
    check(cavum.Cell.read(os.path.join(folder, "again.yaml"))["iris_radius_mm"] == cell["iris_radius_mm"], "a cell too")
    svg = xml.etree.ElementTree.fromstring(result._repr_svg_())
    check(svg.tag.endswith("svg"), "a notebook shows the section")
    check(cavum.solve(cell).picture("png", "axis").startswith(b"\x89PNG"), "also without fields in the result")
    for read, what in ((cavum.read_study, "a study"), (cavum.Cell.read, "a cell")):
        fails(cavum.CavumError, "mid.hdf: is a result of `cavum solve`; cavum.Result.read() reads it", f"a result as {what}",
              lambda read=read: read(path))
    damaged = os.path.join(folder, "damaged.hdf")
    with h5py.File(damaged, "w") as file:
        file.attrs["format"] = "cavum result 1"
    error = caught(cavum.CavumError, lambda: cavum.Result.read(damaged))
    check(error and "reads it" not in str(error), f"a damaged result is none of another kind: {error}")
    fails(cavum.CavumError, "HDF5", "a cell as a result", lambda: cavum.Result.read(cell_file("mid-cell")))
    fails(cavum.CavumError, "none.hdf", "a result that is not there", lambda: cavum.Result.read(os.path.join(folder, "none.hdf")))
    names = [name for name in cavum._library.ffi.typeof("cavum_stored_kind").relements.values()]
    check(sorted(names) == sorted(cavum.kinds._KINDS), "each kind of files is explained")
    cell["iris_radius_mm"] += 1
    check(result.picture("svg", "axis") and caught(cavum.CavumError, lambda: result.write(path)),
          "a cell that changed is not written beside a result of the former")


def check_coldtest(cavum):
    path = os.path.join(CELLS, "coldtest", "injector-test.yaml")
    with tempfile.TemporaryDirectory() as folder:
        for name in os.listdir(os.path.join(CELLS, "coldtest")):
            shutil.copy(os.path.join(CELLS, "coldtest", name), folder)
        with open(path, encoding="utf-8") as file:
            text = file.read()
        if "result:" in text:
            name = text.split("result:")[1].split("}")[0].split("\n")[0].split(",")[0].strip()
            run("solve", cell_file("injector-cell"), "-o", os.path.join(folder, name))
        path = os.path.join(folder, "injector-test.yaml")
        done = json.loads(run("coldtest", path, "--json", "-").stdout)
        test = cavum.evaluate_coldtest(path)
    check(test == done, "a cold test is that of the program")
    q0 = test.columns()["q0"]
    check(len(q0) == len(done["points"]) and numpy.nanmin(q0) > 1e8, "its points are columns")


def check_study(cavum, folder):
    import h5py
    with open(os.path.join(CELLS, "iris-study.yaml"), encoding="utf-8") as file:
        text = file.read().replace("cell: mid-cell.yaml", "cell: " + cell_file("mid-cell"))
    with open(os.path.join(folder, "iris-study.yaml"), "w", encoding="utf-8") as file:
        file.write(text.replace("points: 512", "points: 32"))
    done = run("scan", "iris-study.yaml", "-o", "study.hdf", "-q", cwd=folder)
    check(done.returncode == 0, f"a scan to read {done.stderr}")
    path = os.path.join(folder, "study.hdf")
    study = cavum.read_study(path)
    fails(cavum.CavumError, "study.hdf: is a result of `cavum scan`; cavum.read_study() reads it", "a study as a result",
          lambda: cavum.Result.read(path))
    with h5py.File(path) as file:
        same = all(numpy.array_equal(study[key], file["columns"][key][()].astype(float), equal_nan=True)
                   for key in file["columns"])
        check(same and len(study) == len(file["columns"]), "columns are those of the file")
    check(len(study["status"]) == 32, "a row a shape")
    row = int(numpy.flatnonzero(study["status"] == 0)[-1])
    again = cavum.solve(study.cell(row)).modes[0]["frequency_Hz"]
    there = study["frequency_Hz"][row], study["frequency_Hz_uncertainty"][row]
    check(abs(again.value - there[0]) <= again.uncertainty + there[1], "a row is a cell again")
    sys.modules["pandas"] = types.SimpleNamespace(DataFrame=dict)
    check(list(study.data_frame()) == list(study), "a data frame has all columns")
    del sys.modules["pandas"]


def check_beside_h5py(site, folder):
    """Two copies of HDF5 in one process."""
    for first, second in (("h5py", "cavum"), ("cavum", "h5py")):
        path = os.path.join(folder, first + ".hdf")
        program = (f"import sys; sys.path.insert(0, {site!r}); import {first}, {second}\n"
                   f"cell = cavum.Cell.read({cell_file('mid-cell')!r})\n"
                   f"cavum.solve(cell).write({path!r})\n"
                   f"with h5py.File({path!r}) as file: f = file['modes/1/figures/frequency_Hz'][()]\n"
                   f"assert f == cavum.Result.read({path!r}).modes[0]['frequency_Hz'].value\n")
        done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
        check(done.returncode == 0, f"{first} before {second} {done.stderr}")


def check_page(site, folder):
    """The examples of python/README.md, one after the other."""
    with open(os.path.join(SOURCE, "README.md"), encoding="utf-8") as file:
        text = file.read()
    cell, study = (re.search(rf"```yaml\n(# {name}\n.*?)```", text, re.S).group(1)
                   for name in ("cell.yaml", "study.yaml"))
    # Fewer shapes: the examples of README.md are run by a test of their own.
    for name, text in (("cell.yaml", cell), ("study.yaml", study.replace("points: 32", "points: 8"))):
        with open(os.path.join(folder, name), "w", encoding="utf-8") as file:
            file.write(text)
    os.symlink(os.path.join(SOURCE, "geometries-demo"), os.path.join(folder, "geometries-demo"))
    check(run("scan", "study.yaml", "-o", "study.hdf", "-q", "--overwrite", cwd=folder).returncode == 0, "its study")
    with open(os.path.join(SOURCE, "python", "README.md"), encoding="utf-8") as file:
        blocks = re.findall(r"```python\n(.*?)```", file.read(), re.S)
    program = "".join([f"import sys; sys.path.insert(0, {site!r})\n", *blocks])
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, cwd=folder, check=False)
    print(done.stdout)
    check(len(blocks) == 5 and done.returncode == 0, f"the examples of its page {done.stderr}")


def main():
    """Builds and checks."""
    with tempfile.TemporaryDirectory() as folder:
        site = build(folder)
        sys.path.insert(0, site)
        import cavum
        check(cavum.version() == run("--version").stdout.split()[1], "the version is the library's")
        check_figures(cavum)
        check_closed_forms(cavum)
        check_arrays(cavum)
        check_first_error(site)
        check_errors(cavum, folder)
        check_arguments(cavum)
        check_figure_type(cavum)
        check_wrong_values(cavum)
        check_missing_parts(cavum)
        check_dictionaries(cavum)
        check_calls(cavum)
        check_busy_solver(cavum)
        check_memory(cavum)
        check_import(site)
        check_kept_files(cavum, folder)
        check_static_only(folder)
        check_stopping(cavum)
        check_threads(cavum)
        check_warm_solver(cavum)
        check_design(cavum)
        check_optimise(cavum, folder)
        check_steps(cavum, folder)
        check_as_built(cavum, folder)
        check_files(cavum, folder)
        check_coldtest(cavum)
        check_study(cavum, folder)
        check_beside_h5py(site, folder)
        check_page(site, folder)
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
