#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Several results drawn over each other: outlines, E_z on the axis and fields along the wall are read
back from the vector file, by the numbers at its axes, and compared with cells and result files.

Usage: check_drawn_over.py PROGRAM CELLS_FOLDER
"""
import os
import re
import subprocess
import sys
import tempfile

from checking import check, exit_status

import h5py
import numpy

# Away from z = 0, its equator in the middle of the flat wall at z = 863 mm.
FAR_PILLBOX = """title: Pillbox far away
accelerating_length_mm: 100
contour:
  kind: path
  start: {z_mm: 813, r_mm: 0}
  path:
    - {line_to: {z_mm: 913, r_mm: 0}, boundary: axis}
    - {line_to: {z_mm: 913, r_mm: 95}, boundary: metal}
    - {line_to: {z_mm: 813, r_mm: 95}, boundary: metal}
    - {line_to: {z_mm: 813, r_mm: 0}, boundary: metal}
"""
# Unlike halves: the equator is at z = 0, the ends are not equally far away.
UNLIKE_HALVES = """title: Unlike halves
contour:
  kind: two-ellipse
  half_length_mm: 57.7
  iris_radius_mm: 35.0
  equator_radius_mm: 103.3
  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}
  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}
  right: {half_length_mm: 62.0, iris_radius_mm: 40.0}
ends:
  left: {kind: magnetic}
  right: {kind: tube, length_mm: 80.0, close: electric}
"""
# Where the ends of the outlines are, z from the equator, and the largest radius, in mm.
OUTLINES = {"far": (-50.0, 50.0, 95.0), "unlike": (-57.7, 142.0, 103.3)}
EQUATORS = {"far": 863.0, "unlike": 0.0}
# Places are written to 0.01 points, a point is at least 0.2 mm here and 1/170 of the height of a plot.
PLACE_MM = 0.02


def read_number(text):
    """A number at a tick."""
    return float(text.replace("\u2212", "-"))


def axis_of(ticks, labels):
    """Slope and offset that turn places on the page into numbers of an axis."""
    check(len(ticks) == len(labels) >= 2, f"{len(labels)} numbers at {len(ticks)} ticks")
    slope = (labels[-1] - labels[0]) / (ticks[-1] - ticks[0])
    return slope, labels[0] - slope * ticks[0]


def plain(text):
    """The words of a text, without its tags."""
    return re.sub(r"<[^>]*>", "", text).replace("\u202f", " ").replace("\xa0", " ")


def read_plots(svg):
    """Each plot: its two labels, and its curves by class, in the numbers of its axes."""
    key, plots = {}, []
    for line, words in re.findall(r'<path class="(s\d+)" stroke-width="1.8"[^>]*/>\n'
                                  r'<text[^>]*>(.*?)</text>', svg):
        key[line] = plain(words)
    for part in svg.split('stroke-width="0.8" d="M')[1:]:
        x_ticks, y_ticks = re.findall(r'<path class="s4" stroke-width="0.7" d="([^"]*)"', part)[:2]
        x_ticks = [float(x) for x in re.findall(r"M([\d.]+),", x_ticks)]
        y_ticks = [float(y) for y in re.findall(r"M[\d.]+,([\d.]+)", y_ticks)]
        x_numbers = re.findall(r'font-size="9.5" text-anchor="middle"[^>]*>([^<]*)<', part)
        y_numbers = re.findall(r'font-size="9.5" text-anchor="end"[^>]*>([^<]*)<', part)
        labels = re.findall(r'<text class="f1" font-size="10.5"[^>]*>(.*?)</text>', part)
        (a, b), (c, d) = (axis_of(x_ticks, [read_number(n) for n in x_numbers]),
                          axis_of(y_ticks, [read_number(n) for n in y_numbers]))
        group = re.search(r'<g clip-path="[^"]*">\n(.*?)</g>', part, re.S).group(1)
        curves = {}
        for line, path in re.findall(r'<path class="(s\d+)"[^>]* d="([^"]*)"', group):
            places = numpy.array(re.findall(r"[ML]([-\d.]+),([-\d.]+)", path), dtype=float)
            curves[line] = numpy.column_stack((a * places[:, 0] + b, c * places[:, 1] + d))
        plots.append((plain(labels[0]), plain(labels[1]), curves, abs(c)))
    return key, plots


def read_figures(path):
    """What curves of the first mode must agree with."""
    with h5py.File(path, "r") as file:
        figures, axis = file["modes/1/figures"], file["modes/1/axis"]
        return {"e_pk": figures["epk_over_eacc"][()],
                "b_pk": figures["bpk_over_eacc_mT_per_MV_per_m"][()],
                "z_mm": 1e3 * axis["z"][()], "e_z": axis["E_z"][()],
                "half": bool(file["mesh/half_model"][()])}


def check_outline(name, curve, shift):
    """The cell is as long and as wide as it is, and stands where the axis says."""
    low, high, top = OUTLINES[name]
    found = (curve[:, 0].min() - shift, curve[:, 0].max() - shift, curve[:, 1].max())
    off = max(abs(a - b) for a, b in zip(found, (low, high, top)))
    check(off < 2 * PLACE_MM, f"{name}: outline of {found}, off by {off:.3f} mm")
    widest = curve[curve[:, 1] > top - PLACE_MM, 0] - shift
    middle = 0.5 * (widest.min() + widest.max())
    # The top of an ellipse is flat to PLACE_MM over sqrt(2 PLACE_MM 42 mm) to either side.
    check(abs(middle) < 1.3, f"{name}: equator at {middle:.2f} mm")


def check_axis_field(name, curve, figures, shift, step):
    """The shape of E_z along the axis: that of the file, up to one factor; the plot takes a line's
    points where it bends, and the straight piece between two is within the thickness of the line."""
    z, e_z = figures["z_mm"] - EQUATORS[name], figures["e_z"]
    if figures["half"]:  # the file holds one half, the mode is even
        z, e_z = numpy.append(z, -z), numpy.append(e_z, e_z)
    z = z + shift
    drawn = numpy.interp(z, curve[:, 0], curve[:, 1])
    factor = drawn[numpy.abs(e_z).argmax()] / e_z[numpy.abs(e_z).argmax()]
    off = numpy.abs(drawn - factor * e_z).max()
    check(off < 1.6 * step, f"{name}: E_z on the axis off by {off:.2g}, 1.6 points are {1.6 * step:.2g}")


def check_wall(name, curve, peak, step, what):
    """The largest value is the figure; a sample every 1/23 of an edge may miss it by 1e-3 of it."""
    found = curve[:, 1].max()
    check(abs(found - peak) < 2e-3 * peak + 0.02 * step, f"{name}: {what} up to {found:.5g}, {peak:.5g}")


def check_picture(program, paths, align, folder):
    """All four plots of one picture."""
    svg_path = os.path.join(folder, align + ".svg")
    command = [program, "draw", *paths.values(), "-o", svg_path]
    subprocess.run(command + (["--align", align] if align != "equator" else []), check=True)
    with open(svg_path, encoding="utf-8") as file:
        key, plots = read_plots(file.read())
    lines = list(key)
    check(len(lines) == len(paths) == len(set(lines)), f"{align}: one line of its own for each result")
    for (name, path), line in zip(paths.items(), lines):
        for words in (os.path.basename(path), {"far": "Pillbox far away"}.get(name, "Unlike halves"),
                      "TM010", "MHz"):
            check(words in key[line], f"{align}: '{words}' in the key: {key[line]}")
    at_equator = align == "equator"
    # One of them is a pillbox, which is widest along a cylinder: it has no equator.
    z_label = "z from the largest radius in mm" if at_equator else "z in mm"
    s_label = "along the wall from " + ("the largest radius" if at_equator else "its left end") + " in mm"
    wanted = ((z_label, "r in mm"), (z_label, "Ez / Eacc"), (s_label, "|E| / Eacc"),
              (s_label, "mT/(MV/m)"))
    check(len(plots) == 4, f"{align}: {len(plots)} plots")
    for (x, y, curves, _), (of_x, of_y) in zip(plots, wanted):
        check(of_x in x and of_y in y, f"{align}: a plot of {y!a} over {x!a}")
        check(sorted(curves) == sorted(lines), f"{align}: both lines are in it")
    for (name, path), line in zip(paths.items(), lines):
        figures, shift = read_figures(path), 0.0 if at_equator else EQUATORS[name]
        check_outline(name, plots[0][2][line], shift)
        check_axis_field(name, plots[1][2][line], figures, shift, plots[1][3])
        check_wall(name, plots[2][2][line], figures["e_pk"], plots[2][3], "|E|")
        check_wall(name, plots[3][2][line], figures["b_pk"], plots[3][3], "B")
    # Along the wall of the pillbox: two plates of 95 mm and 100 mm of wall between them.
    along = plots[2][2][lines[0]][:, 0]
    start = -145.0 if at_equator else 0.0
    off = max(abs(along.min() - start), abs(along.max() - start - 290.0))
    check(off < 0.1, f"{align}: the pillbox' wall from {along.min():.2f} to {along.max():.2f} mm")
    # |E| of a TM010 pillbox is zero on the round wall, and largest where the plates meet the axis.
    curve = plots[2][2][lines[0]]
    on_wall = numpy.interp(start + numpy.linspace(97.0, 193.0, 50), curve[:, 0], curve[:, 1]).max()
    check(on_wall < plots[2][3], f"{align}: E on the round wall is {on_wall:.3f}")


def main():
    program, _ = (os.path.abspath(path) for path in sys.argv[1:3])
    with tempfile.TemporaryDirectory() as folder:
        paths = {}
        for name, text in (("far", FAR_PILLBOX), ("unlike", UNLIKE_HALVES)):
            cell = os.path.join(folder, name + ".yaml")
            with open(cell, "w", encoding="ascii") as file:
                file.write(text)
            paths[name] = os.path.join(folder, name + ".hdf")
            subprocess.run([program, "solve", cell, "-q", "-o", paths[name]], check=True)
        for align in ("equator", "z"):
            check_picture(program, paths, align, folder)
        paths = {"far": paths["far"], "unlike": paths["unlike"], "again": paths["far"]}
        svg = os.path.join(folder, "three.svg")
        subprocess.run([program, "draw", *paths.values(), "-o", svg], check=True)
        with open(svg, encoding="utf-8") as file:
            key, plots = read_plots(file.read())
        check(len(key) == 3 and all(len(curves) == 3 for _, _, curves, _ in plots), "three results")
        first, _, third = (plots[0][2][line] for line in key)
        check(numpy.array_equal(first, third), "the same cell is drawn at the same place")
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
