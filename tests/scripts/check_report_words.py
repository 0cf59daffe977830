#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""What reports say: one value has one uncertainty on a page, words of the trade stand where files have keys,
sentences are true of the numbers beside them, and what the screen has, the page has as well.

Usage: check_report_words.py PROGRAM CELLS_FOLDER
"""
import json
import math
import os
import re
import subprocess
import sys
import tempfile

from checking import check, exit_status
from pages import Report, number

# An invented end cell, which takes two meshes; the same, wider.
END = """title: End cell
beta: 0.43
contour:
  kind: two-ellipse
  half_length_mm: 46.0
  iris_radius_mm: 41.0
  equator_radius_mm: %s
  equator_ellipse: {axial_mm: 24.0, radial_mm: 31.0}
  iris_ellipse: {axial_mm: 11.0, radial_mm: 19.0}
  right: {iris_radius_mm: 52.0, half_length_mm: 49.0}
ends:
  left: {kind: magnetic}
  right: {kind: tube, length_mm: 160.0, close: electric}
modes: {count: 1}
wall: {kind: niobium, temperature_K: 4.2, residual_nohm: 8.0}
requirements: {epk_over_eacc: {most: 3.6}, wall_angle_deg: {least: 6}}
"""

CUP = """title: Cup
contour:
  kind: two-ellipse
  half_length_mm: 88.0
  iris_radius_mm: 48.0
  equator_radius_mm: 164.0
  equator_ellipse: {axial_mm: 70.0, radial_mm: 56.0}
  iris_ellipse: {axial_mm: 19.0, radial_mm: 26.0}
ends: {left: {kind: magnetic}, right: {kind: magnetic}}
modes: {count: 1}
wall: {kind: niobium, temperature_K: 1.8, residual_nohm: 2.5}
"""

GOAL = """title: Lowest electric peak of the cup
cell: cup.yaml
vary:
  equator_ellipse.axial_mm: {from: 55, to: 71}
  iris_ellipse.radial_mm: {from: 14, to: 40}
hold: {frequency_MHz: 780, by: equator_radius_mm, from: 150, to: 180}
minimise: epk_over_eacc
limits: {bpk_over_eacc_mT_per_MV_per_m: {most: 3.9}, wall_angle_deg: {least: -4}}
starts: 2
"""

SMOOTH = """title: Smooth
contour:
  kind: path
  start: {z_mm: 0, r_mm: 0}
  path:
    - {line_to: {z_mm: 160, r_mm: 0}, boundary: axis}
    - {line_to: {z_mm: 160, r_mm: 22}, boundary: magnetic}
    - {spline_through: [{z_mm: 150, r_mm: 24}, {z_mm: 100, r_mm: 84}, {z_mm: 50, r_mm: 80}, {z_mm: 0, r_mm: 22}],
       boundary: metal}
    - {line_to: {z_mm: 0, r_mm: 0}, boundary: magnetic}
"""


class Work:
    """A folder in which the program runs."""

    def __init__(self, program, folder):
        self.program, self.folder = program, folder

    def path(self, name):
        """Of a file in it."""
        return os.path.join(self.folder, name)

    def write(self, name, text):
        """A file with this text."""
        with open(self.path(name), "w", encoding="utf-8") as file:
            file.write(text)

    def run(self, *arguments):
        """The program's standard output; it must succeed."""
        done = subprocess.run([self.program, *arguments], cwd=self.folder, capture_output=True, text=True, check=False)
        check(done.returncode == 0, f"{' '.join(arguments)}: {done.stderr.strip()[:300]}")
        return done.stdout

    def report(self, name):
        """The report of NAME.hdf."""
        self.run("report", f"{name}.hdf", "-o", f"{name}.html")
        return Report(self.path(f"{name}.html"))


def check_convergence(work):
    """The sentence about the meshes is true of the table below it."""
    for name in ("end", "smooth"):
        page = Report(work.path(f"{name}.html"))
        elements = {row[1] for row in page.table("Steps of the solution")[1]}
        same = "The same mesh was solved" in page.text
        check(same == (len(elements) == 1), f"{name}: {elements} elements, 'the same mesh' {same}")
        check(("Each mesh was solved" in page.text) != same, f"{name}: or each of several")


def check_walls(work):
    """The printed picture of the wall is both fields, and a dotted line is told of where there is one."""
    for name in ("end", "smooth"):
        page = Report(work.path(f"{name}.html"))
        captions = [c for c in page.captions if "field on the wall" in c]
        dotted = [plot for plot in page.plots if plot.get("uprights")]
        check(len(captions) == 2, f"{name}: captions of the wall {captions}")
        check("Above the electric field on the wall, below it the magnetic one" in captions[0],
              f"{name}: the picture of both says so: {captions[0]}")
        check("Above" not in captions[1], f"{name}: the other is of the magnetic field alone")
        check(all(("dotted line" in c) == bool(dotted) for c in captions),
              f"{name}: {len(dotted)} plots with junctions, {captions}")


def read_json(work, name):
    """A JSON file of the program."""
    with open(work.path(name), encoding="utf-8") as file:
        return json.load(file)


# A shown uncertainty is rounded up, and covers the rounding of the value: by one step and a half of the last digit,
# which is a third of it at most, as 1 and 2 have two digits.
ROUNDING = 1.5


def check_fits(work):
    """What is made with R_s of a fit is shown no more certain than that, and its difference neither."""
    figures = {name: read_json(work, f"{name}.json")["modes"][0] for name in ("end", "wide")}
    page = Report(work.path("end.html"))
    both = Report(work.path("both.html"))
    screen = work.run("solve", "end.yaml", "--all")
    values = page.column("Figures of merit", "value")
    summary = page.table("Modes by rising frequency")[1][0]
    for key, name in (("q0", "unloaded quality factor Q0"), ("shunt_impedance_linac_ohm", "shunt impedance, linac"),
                      ("wall_power_at_1_MV_per_m_W", "dissipated power at E_acc = 1 MV/m")):
        own, fit = figures["end"][key], figures["end"]["surface_resistance_ohm"]
        part = math.hypot(own["uncertainty"] / own["value"], fit["uncertainty"] / fit["value"])
        check(fit["basis"] == "fit" and part > 0.1, f"{key}: the fit is good to {part:.2g}")
        check(own["uncertainty"] / own["value"] < 1e-4, f"{key}: files have the numerical part alone")
        found = [text for row, text in values.items() if row.startswith(name[:12])]
        check(len(found) == 1, f"{name}: one row {found}")
        value, uncertainty = number(found[0])
        check(part <= uncertainty / value < ROUNDING * part,
              f"{name}: {found[0]} has {uncertainty / value:.3g} of itself, expected {part:.3g}")
        check(found[0].split("(")[0] in screen, f"{name}: the screen has it as well")
        cells = [row for row in both.table("With uncertainties")[1] if row[0].startswith(name[:12])][0]
        check(cells[1] == found[0], f"{name}: {cells[1]} in the comparison")
        change = [row for row in both.table("Each result less A")[1] if row[0].startswith(name[:12])][0]
        value, uncertainty = number(change[1])
        fits = [figures[k]["surface_resistance_ohm"] for k in ("end", "wide")]
        share = max(one["uncertainty"] / one["value"] for one in fits)
        expected = abs(figures["wide"][key]["value"] / own["value"] - 1)
        shown = abs(value / number(cells[1])[0])
        check(0.9 * expected < shown < 1.1 * expected, f"{name}: changes by {shown:.4g} of itself, expected {expected:.4g}")
        check(0.95 * share <= uncertainty / abs(value) < ROUNDING * share,
              f"{name}: difference {change[1]}, the part of the fit is {share:.3g}")
    check(summary[-1] in values.values(), f"Q0 of the summary is that of the mode: {summary[-1]}")
    check("off by the same factor" in both.text, "the comparison says what a fit does to differences")
    check("G\u03a9, with" in both.text and "<mi>G</mi></math>\u03a9" not in both.source and
          "</math>\u03a9" not in both.source, "the G of a gigaohm is no geometry factor")


def check_search(work):
    """Figures of a search are those of the mode, digit by digit; names are words; one start is the best."""
    page = work.report("best")
    mode = page.column("Figures of merit", "value")
    best = page.table("Objective")[1]
    limits = page.column("Limits", "value")
    check(best[0][0] == "E_pk / E_acc", f"the objective in words: {best[0][0]}")
    check(best[0][4] == mode["E_pk / E_acc"], f"E_pk of the search {best[0][4]}, of the mode {mode['E_pk / E_acc']}")
    check("(" in best[0][3], f"before has its uncertainty: {best[0][3]}")
    solved = read_json(work, "cup.json")["modes"][0]["epk_over_eacc"]
    value, uncertainty = number(best[0][3])
    check(abs(value - solved["value"]) <= uncertainty, f"and is that of the cell: {best[0][3]}")
    check(limits["B_pk / E_acc in mT/(MV/m)"] == mode["B_pk / E_acc"], f"B_pk {limits}")
    check(limits["frequency in MHz"] == mode["frequency"], f"f {limits['frequency in MHz']}, {mode['frequency']}")
    names = [row[0] for row in page.table("Dimensions, and")[1]]
    check(names == ["equator ellipse, axial", "iris ellipse, radial", "equator radius"], f"dimensions {names}")
    remarks = list(page.column("Starts", "remark").values())
    check(remarks.count("led to the best") == 1, f"one start led to the best: {remarks}")
    keys = re.findall(r"contour\.[a-z]\w*|\w+_mm\b", page.text.split("The cell file")[0])
    check(not keys, f"no key of a file in the words of the page {keys}")
    screen = work.run("optimise", "goal.yaml")
    check(screen.count(", the best") == 1, "and one on the screen")


STEPS = """title: Cup to cold
cell: cup.yaml
target: {frequency_MHz: 780, tolerance_kHz: 60}
steps:
  - {name: "Bänk, 20 °C, with a name beyond the column of the table", air: {temperature_C: 20, humidity_percent: 40}}
  - {name: etch, remove: {depth_um: 150, uncertainty_um: 15}}
  - {name: cold, cool: {material: niobium, from_K: 293, to_K: 4.2}}
"""


def check_steps(work):
    """Names do not push numbers off; zeros at the end are digits; signs and units have their true letters."""
    screen = work.run("steps", "steps.yaml", "-o", "steps.hdf")
    rows = screen.split("\n\n")[2].splitlines()
    check(len({len(row) for row in rows}) == 1, f"rows of the bench are alike in length: {[len(row) for row in rows]}")
    page = work.report("steps")
    heads, rows = page.table("In vacuum, of each shape")
    check(heads[1:3] == ["R/Q in Ω", "G in Ω"], f"units {heads}")
    digits = [len(cell.replace(".", "").lstrip("0").split("(")[0]) for row in rows for cell in row[1:]]
    check(min(digits) >= 6, f"six digits of each figure {digits}")
    words = " ".join(row[-1] for row in page.table("From the drawing")[1])
    check("µm off all metal" in words and "20 °C" in words, f"true letters of units: {words}")
    check("Low-Temperature" in words, "a hyphen is no minus sign")
    check(not re.search(r"(^|\s)-\d", words), f"signs of numbers are minus signs: {words}")


def check_spread(work):
    """Values have the digits that matter beside their spread; dimensions are words."""
    work.run("tolerances", "tolerated.yaml", "-o", "spread.hdf", "--quiet")
    page = work.report("spread")
    values = page.column("Standard deviations", "value")
    spreads = page.column("Standard deviations", "standard deviation, linear")
    frequency, deviation = values["frequency"], float(spreads["frequency"])
    decimals = len(frequency.partition(".")[2])
    check(0.0001 < 10.0 ** -decimals / deviation <= 0.01, f"f = {frequency} beside {deviation}")
    names = [row[0] for row in page.table("As they were stated")[1]]
    check(names == ["equator radius", "iris radius"], f"dimensions in words {names}")


def check_front(work):
    """A front is called one, and the study is none that the user wrote."""
    work.run("optimise", "front.yaml", "-o", "front.hdf", "--quiet")
    page = work.report("front")
    check("Front of best shapes" in page.text and "Scan of" not in page.text, "a front is called one")
    check("The study file" not in page.text, "its study is no file of the user")
    heads = [head for head in page.table("Non-dominated shapes")[0]] + [
        row[0] for row in page.table("Non-dominated shapes")[1]]
    check(any("equator ellipse, axial in mm" == head for head in heads), f"dimensions in words {heads}")


def make(work):
    """What is looked at."""
    work.write("end.yaml", END % "189.0")
    work.write("wide.yaml", END % "193.0")
    work.write("cup.yaml", CUP)
    work.write("goal.yaml", GOAL)
    work.write("smooth.yaml", SMOOTH)
    work.write("steps.yaml", STEPS)
    work.write("tolerated.yaml", CUP + "tolerances: {equator_radius_mm: {normal: 0.1}, iris_radius_mm: {normal: 0.1}}\n")
    work.write("front.yaml", GOAL.replace(
        "limits: {bpk_over_eacc_mT_per_MV_per_m: {most: 3.9}, wall_angle_deg: {least: -4}}",
        "front: {bpk_over_eacc_mT_per_MV_per_m: {from: 3.8, to: 4.0, points: 3}}").replace("starts: 2", "starts: 1"))
    for name in ("end", "wide", "cup", "smooth"):
        work.run("solve", f"{name}.yaml", "-o", f"{name}.hdf", "--json", f"{name}.json", "--quiet")
    work.run("compare", "end.hdf", "wide.hdf", "-o", "both.html")
    work.run("optimise", "goal.yaml", "-o", "best.hdf", "--quiet")
    for name in ("end", "smooth"):
        work.report(name)


def main():
    """Makes files, then looks at their pages."""
    with tempfile.TemporaryDirectory(prefix="cavum-words-") as folder:
        work = Work(os.path.abspath(sys.argv[1]), folder)
        make(work)
        for look in (check_convergence, check_walls, check_fits, check_search, check_steps, check_spread,
                     check_front):
            look(work)
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
