#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""What `draw`, `report`, `mesh`, `optimise`, `steps`, `as-built` and `scan` write as JSON is as its schema says, key by key in both
directions; sizes of pictures and pages are those of the files.

Usage: check_written_schemas.py LIBRARY SOURCE_FOLDER
"""
import json
import math
import struct
import sys

from check_output_schemas import REQUIREMENT, STUDY, TOLERANCES, compare_with_schemas

GOAL = """cell: mid-cell.yaml
vary:
  iris_ellipse.axial_mm: {from: 10, to: 14}
hold: {frequency_MHz: 1300, by: equator_radius_mm}
minimise: bpk_over_eacc_mT_per_MV_per_m
limits: {wall_angle_deg: {least: 5}}
starts: 1
steps: {iris_ellipse.axial_mm: 0.1}
"""
FREE = """cell: mid-cell.yaml
vary:
  iris_ellipse.axial_mm: {from: 10, to: 14}
hold: {frequency_MHz: 1300, by: equator_radius_mm}
maximise: r_over_q_linac_ohm
limits: {aperture_radius_mm: {least: 34}}
starts: 1
free_wall: {points: 6, within_mm: 3, iris_side_radius_mm: 6, equator_side_radius_mm: 20}
"""
# The line between two fillets gets as short as it may be: half a re-entrant cell.
NOSE = """contour:
  kind: path
  start: {z_mm: 0, r_mm: 0}
  path:
    - {line_to: {z_mm: 130, r_mm: 0}, boundary: axis}
    - {line_to: {z_mm: 130, r_mm: 15}, boundary: metal}
    - {line_to: {z_mm: 24, r_mm: 15}, boundary: metal}
    - {arc_to: {z_mm: 18, r_mm: 21}, centre: {z_mm: 24, r_mm: 21}, turn: right, boundary: metal}
    - {line_to: {z_mm: 18, r_mm: 27}, boundary: metal}
    - {arc_to: {z_mm: 28, r_mm: 37}, centre: {z_mm: 28, r_mm: 27}, turn: right, boundary: metal}
    - {line_to: {z_mm: 75, r_mm: 44}, boundary: metal}
    - {line_to: {z_mm: 75, r_mm: 270}, boundary: metal}
    - {line_to: {z_mm: 0, r_mm: 270}, boundary: metal}
    - {line_to: {z_mm: 0, r_mm: 0}, boundary: electric}
beta: 0.15
accelerating_length_mm: 64
wall: {kind: metal, conductivity_S_per_m: 5.7e+7}
"""
NOSE_GOAL = """cell: nose.yaml
vary: {"path[6].arc_to.r_mm": {from: 30, to: 45}}
linked:
  - path[6].centre.r_mm = path[6].arc_to.r_mm - 10
  - path[5].line_to.r_mm = path[6].arc_to.r_mm - 10
maximise: shunt_impedance_linac_ohm
starts: 1
solves: 9
"""
ROBUST = "robust: {deviations: 1, tolerances: shop.yaml}\n"
# The last step has a reason and is not solved.
STEPS = """cell: mid-cell.yaml
dumb_bell: {half: left}
target: {frequency_MHz: 1301.8, tolerance_kHz: 50}
steps:
  - {name: bench, air: {temperature_C: 21, humidity_percent: 45}, measured_MHz: 1119.3, measured_uncertainty_kHz: 20}
  - {name: bulk, remove: {depth_um: 120, uncertainty_um: 10}}
  - {name: pumped, air: {gas: vacuum}}
  - {name: cold, cool: {material: niobium, from_K: 293, to_K: 2}}
"""

BUILT = """contour: {kind: measured, file: points.csv, drawing: side.yaml, scatter_um: 2, best_fit: none}
accelerating_length_mm: 100
"""
SIDE = """accelerating_length_mm: 100
contour:
  kind: path
  start: {z_mm: -50, r_mm: 0}
  path:
    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}
    - {line_to: {z_mm: 50, r_mm: 88}, boundary: electric}
    - {line_to: {z_mm: -50, r_mm: 88}, boundary: metal}
    - {line_to: {z_mm: -50, r_mm: 0}, boundary: electric}
"""

# Half an inner cell between its equator and its iris, which bends beside both planes.
HALF = """accelerating_length_mm: 70
contour:
  kind: path
  start: {z_mm: 0, r_mm: 0}
  path:
    - {line_to: {z_mm: 70, r_mm: 0}, boundary: axis}
    - {line_to: {z_mm: 70, r_mm: 30}, boundary: magnetic}
    - {arc_to: {z_mm: 50, r_mm: 50}, centre: {z_mm: 70, r_mm: 50}, turn: right, boundary: metal}
    - {arc_to: {z_mm: 0, r_mm: 100}, centre: {z_mm: 0, r_mm: 50}, turn: left, boundary: metal}
    - {line_to: {z_mm: 0, r_mm: 0}, boundary: electric}
"""


def half_points(count):
    """Exact points of HALF, and one that is 0.3 mm off."""
    rows = ["z_mm,r_mm", "35.6,85.6"]
    for i in range(count):
        angle = 0.5 * math.pi * (i + 0.5) / count
        rows.append(f"{70 - 20 * math.sin(angle):.9f},{50 - 20 * math.cos(angle):.9f}")
        rows.append(f"{50 * math.cos(angle):.9f},{50 + 50 * math.sin(angle):.9f}")
    return "\n".join(rows) + "\n"


def check(right, name, *values):
    if not right:
        raise SystemExit(f"FAILED {name}: {values}")


def pictures(maker):
    """Each form and kind; pixels and lengths against the files themselves."""
    maker.run("solve", "mid-cell.yaml", "-q", "-o", "mid.hdf")
    png = maker.json("draw", "mid.hdf", "-o", "a.png", "--size", "column", "--json", "-")
    data = (maker.folder / "a.png").read_bytes()
    check((png["width_px"], png["height_px"]) == struct.unpack(">2I", data[16:24]), "pixels", png)
    check(png["bytes"] == len(data), "bytes", png)
    yield png
    svg = maker.json("draw", "mid.hdf", "-o", "a.svg", "--along-wall", "frequency", "--view", "section", "--json", "-")
    check("field_lines" in svg and svg["along_wall"] == "frequency", "of the section", svg)
    yield svg
    pdf = maker.json("draw", "mid.hdf", "-o", "a.pdf", "--size", "column", "--json", "-")
    # One column of a journal; PDF rounds to whole points of 0.35 mm.
    check(abs(pdf["width_mm"] - 86.0) < 0.4, "width of a column", pdf)
    yield pdf
    yield maker.json("draw", "mid.hdf", "mid.hdf", "-o", "b.svg", "--json", "-")
    maker.change("injector-test.yaml", "few.yaml", (r"monte_carlo_points: 100", "monte_carlo_points: 0"))
    maker.run("coldtest", "few.yaml", "-q", "-o", "test.hdf")
    yield maker.json("draw", "test.hdf", "-o", "c.svg", "--view", "budget", "--reading", "3", "--json", "-")


def scans(maker):
    """Estimate, progress, summary and sources; the picture with columns of one's own."""
    (maker.folder / "required.yaml").write_text((maker.folder / "mid-cell.yaml").read_text() + REQUIREMENT)
    (maker.folder / "study.yaml").write_text(STUDY.format(34.0))
    yield "scan-estimate", maker.json("scan", "study.yaml", "--estimate")
    for line in maker.run("scan", "study.yaml", "-o", "study.hdf", "--json", "-", "--watch", "epk_over_eacc").splitlines():
        progress = json.loads(line)
        yield "scan-progress", progress
    check(progress["shapes_done"] == 2 and progress["best"]["shape"] == 0, "the last line", progress)
    summary = maker.json("scan", "--summary", "study.hdf", "--json", "-")
    check(summary["by_status"]["done"] == 1 and summary["reasons"][0]["first_shape"] == 1, "statuses", summary)
    yield "scan-summary", summary
    yield "scan-sources", json.loads((maker.folder / "study.hdf.sources.json").read_text())
    yield "picture", maker.json("draw", "study.hdf", "-o", "study.svg", "--x", "iris_radius_mm", "--y", "frequency_Hz",
                                "--colour", "epk_over_eacc", "--json", "-")


def outputs(maker):
    for drawn in pictures(maker):
        yield "picture", drawn
    page = maker.json("report", "mid.hdf", "-o", "mid.html", "--json", "-")
    text = (maker.folder / "mid.html").read_bytes()
    check(page["bytes"] == len(text), "bytes", page)
    check(all(f'id="{anchor}"'.encode() in text for anchor in page["sections"]), "anchors", page)
    check(page["sections"][0] == "summary" and "mode-1" in page["sections"], "sections", page)
    yield "report", page
    mesh = maker.json("mesh", "mid-cell.yaml", "-o", "mid.msh", "--order", "2", "--json", "-")
    elements = (maker.folder / "mid.msh").read_text().split("$Elements\n")[1].splitlines()[0].split()
    check(mesh["elements"] < int(elements[1]), "elements, without those of the boundaries", mesh)
    yield "mesh", mesh
    (maker.folder / "goal.yaml").write_text(GOAL)
    yield "optimum", maker.json("optimise", "goal.yaml", "--json", "-")
    (maker.folder / "free.yaml").write_text(FREE)
    yield "optimum", maker.json("optimise", "free.yaml", "--json", "-")
    (maker.folder / "shop.yaml").write_text(TOLERANCES)
    (maker.folder / "goal.yaml").write_text(GOAL.replace("limits: {wall_angle_deg: {least: 5}}\n", "") + ROBUST)
    yield "optimum", maker.json("optimise", "goal.yaml", "--json", "-")
    # Out of solves before the tolerances count.
    (maker.folder / "goal.yaml").write_text(GOAL + ROBUST + "solves: 1\n")
    yield "optimum", maker.json("optimise", "goal.yaml", "--json", "-")
    (maker.folder / "nose.yaml").write_text(NOSE)
    (maker.folder / "goal.yaml").write_text(NOSE_GOAL)
    yield "optimum", maker.json("optimise", "goal.yaml", "--json", "-")
    (maker.folder / "steps.yaml").write_text(STEPS)
    yield "steps-result", maker.json("steps", "steps.yaml", "--json", "-")
    (maker.folder / "built.yaml").write_text(BUILT)
    (maker.folder / "side.yaml").write_text(SIDE)
    points = "".join(f"{0.5 * i - 49.75},88.02\n" for i in range(200))
    (maker.folder / "points.csv").write_text("z_mm,r_mm\n" + points)
    yield "as-built", maker.json("as-built", "built.yaml", "--draws", "2", "--json", "-")
    (maker.folder / "side.yaml").write_text(HALF)
    (maker.folder / "points.csv").write_text(half_points(150))
    half = maker.json("as-built", "built.yaml", "--json", "-")
    check(set(half["planes"]) == {"left", "right"} and len(half["points"]["outlier_places"]) == 1, "half", half)
    yield "as-built", half
    yield from scans(maker)


if __name__ == "__main__":
    sys.exit(compare_with_schemas(sys.argv[1], sys.argv[2], outputs, {}))
