#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of every kind, judged by other programs: SVG by xmllint and rsvg-convert, PDF by qpdf and
pdftoppm, PNG by its own checksums. None may be blank.

Usage: check_pictures.py PROGRAM CELLS_FOLDER
"""
import math
import os
import re
import shutil
import struct
import subprocess
import sys
import tempfile
import zlib

from checking import check, exit_status

import h5py

NEEDED = ("xmllint", "rsvg-convert", "qpdf", "pdftoppm")
missing = [name for name in NEEDED if not shutil.which(name)]
if missing:
    sys.exit(f"not installed: {', '.join(missing)}; scripts/install-packages installs them")


def run(*command):
    """True when a program finds nothing wrong; its words are shown otherwise."""
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False)
    if done.returncode != 0:
        print(done.stdout.decode(errors="replace"))
    return done.returncode == 0


def read_png(path):
    """Width, height and rows of an 8-bit RGB or RGBA PNG; every chunk's checksum is compared."""
    with open(path, "rb") as file:
        data = file.read()
    assert data[:8] == b"\x89PNG\r\n\x1a\n", path
    at, pixels, header = 8, b"", None
    while at < len(data):
        (length,) = struct.unpack(">I", data[at:at + 4])
        kind, body = data[at + 4:at + 8], data[at + 8:at + 8 + length]
        (checksum,) = struct.unpack(">I", data[at + 8 + length:at + 12 + length])
        assert zlib.crc32(kind + body) == checksum, f"{path}: checksum of {kind}"
        if kind == b"IHDR":
            header = struct.unpack(">IIBBBBB", body)
        if kind == b"IDAT":
            pixels += body
        at += 12 + length
    width, height, _, colour = header[:4]
    return width, height, {2: 3, 6: 4}[colour], zlib.decompress(pixels)


def looks_drawn(path):
    """Rows of a picture differ among each other: something is on it, top and bottom."""
    width, height, channels, pixels = read_png(path)
    stride = 1 + width * channels
    rows = {pixels[i * stride:(i + 1) * stride] for i in range(height)}
    return width, height, len(rows) > height // 4


def check_picture(program, source, name, folder, *options):
    """One picture in its three forms."""
    stem = os.path.join(folder, name)
    for ending in ("png", "svg", "pdf"):
        made = run(program, "draw", source, "-o", f"{stem}.{ending}", *options)
        check(made, f"{name}.{ending} is made")
    width, _, drawn = looks_drawn(f"{stem}.png")
    check(width == 1600, f"{name}.png is 1600 pixels wide")
    check(drawn, f"{name}.png is not blank")
    check(run("xmllint", "--noout", "--nonet", f"{stem}.svg"), f"{name}.svg is well-formed")
    check(run("rsvg-convert", "-w", "800", "-o", f"{stem}.svg.png", f"{stem}.svg"),
          f"{name}.svg is drawn by rsvg-convert")
    check(looks_drawn(f"{stem}.svg.png")[2], f"{name}.svg is not blank")
    check(run("qpdf", "--check", f"{stem}.pdf"), f"{name}.pdf is good for qpdf")
    check(run("pdftoppm", "-png", "-singlefile", "-scale-to", "800", f"{stem}.pdf", f"{stem}.pdf"),
          f"{name}.pdf is drawn by pdftoppm")
    check(looks_drawn(f"{stem}.pdf.png")[2], f"{name}.pdf is not blank")
    with open(f"{stem}.svg", encoding="utf-8") as svg:
        text = svg.read()
    check("<title" in text and "<desc" in text, f"{name}.svg has a title and a description")


def read_axis(svg, upright):
    """What the frame of a plot begins and ends at by the numbers at its ticks, and a function that
    gives the value of a place on the page."""
    left, top, right, bottom = (float(n) for n in re.search(
        r'd="M([\d.]+),([\d.]+)L([\d.]+),\2L\3,([\d.]+)L\1,\4Z"', svg).groups())
    anchor = "end" if upright else "middle"
    labels = [(float(x), float(y), float(text.replace("\u2212", "-"))) for x, y, text in re.findall(
        rf'<text class="f1" font-size="9.5" text-anchor="{anchor}" x="([\d.]+)" y="([\d.]+)">'
        r"(\u2212?[\d.]+)</text>", svg)]
    if upright:
        labels = [(y, value) for x, y, value in labels if left - 10 < x < left]
        ticks = [float(y) for x, y in re.findall(r"M([\d.]+),([\d.]+)L[\d.]+,\2(?=[M\"])", svg)
                 if float(x) == left]
    else:
        labels = [(x, value) for x, y, value in labels if bottom < y < bottom + 20]
        ticks = [float(x) for x, y in re.findall(r"M([\d.]+),([\d.]+)L\1,[\d.]+(?=[M\"])", svg)
                 if float(y) == bottom]
    assert len(labels) == len(ticks) >= 2, (labels, ticks)
    step = (labels[-1][1] - labels[0][1]) / (ticks[-1] - ticks[0])

    def value_at(place):
        return labels[0][1] + step * (place - ticks[0])

    return (value_at(bottom), value_at(top), value_at) if upright else (
        value_at(left), value_at(right), value_at)


def read_text(path):
    """A file of text."""
    with open(path, encoding="utf-8") as file:
        return file.read()


def check_section(program, source, field, folder, radius_mm):
    """The whole cell is within the frame, its equator where the axis says that it is."""
    path = os.path.join(folder, f"section-{field}.svg")
    check(run(program, "draw", source, "-o", path, "--view", "section", "--field", field),
          f"section of {field}")
    svg = read_text(path)
    low, high, value_at = read_axis(svg, True)
    outline = re.search(r'<clipPath id="[^"]*"><path d="([^"]*)"', svg).group(1)
    equator = value_at(min(float(y) for y in re.findall(r",([\d.]+)", outline)))
    # Places are written to 0.01 points, of which there are 1.8 in a millimetre or so.
    check(abs(equator - radius_mm) < 0.02, f"{field}: the equator is at {equator:.3f} mm")
    check(high > radius_mm and low < 0.0, f"{field}: the frame is from {low:.1f} to {high:.1f} mm")


def check_scan_axis(program, source, folder):
    """The axis of a scan's figure has the range of the file's values in the unit that it names."""
    path = os.path.join(folder, "scan-frequency.svg")
    check(run(program, "draw", source, "-o", path, "--x", "frequency_Hz"), "scan over frequency")
    svg = read_text(path)
    with h5py.File(source, "r") as file:
        values = 1e-6 * file["columns/frequency_Hz"][()]
    low, high, _ = read_axis(svg, False)
    check(">frequency in MHz<" in svg, "the axis is in megahertz")
    check(low <= values.min() and values.max() <= high and
          high - low < 1.5 * (values.max() - values.min()),
          f"{values.min():g} to {values.max():g} MHz on an axis of {low:g} to {high:g}")


def luminance(colour):
    """Relative luminance of "#rrggbb", by the Web Content Accessibility Guidelines 2.2."""
    parts = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def check_scan_points(program, source, folder):
    """Points of a scan stand out from white: 3 to 1, criterion 1.4.11 of the same."""
    path = os.path.join(folder, "points.svg")
    check(run(program, "draw", source, "-o", path), "points of a scan")
    colours = set(re.findall(r'fill="(#[0-9a-f]{6})"', read_text(path)))
    contrast = min(1.05 / (luminance(colour) + 0.05) for colour in colours if colour != "#ffffff")
    check(len(colours) > 5 and contrast >= 3.0, f"{len(colours)} colours, the palest {contrast:.2f} to 1")


def bessel_j1(x):
    """Bessel's integral by the trapezoidal rule, which is exact for periodic functions."""
    steps = 64
    return sum(math.cos(t - x * math.sin(t)) for t in
               (2 * math.pi * k / steps for k in range(steps))) / steps


def check_field_lines(program, cells_folder, folder):
    """Electric field lines of TM010 of a pillbox: along the axis, with equal steps of the flux
    2 pi r H_phi, which is r J1(x01 r / R), from one to the next."""
    result, path = os.path.join(folder, "pillbox.hdf"), os.path.join(folder, "pillbox.svg")
    subprocess.run((program, "solve", os.path.join(cells_folder, "pillbox.yaml"), "-q", "-o", result),
                   check=True, stdout=subprocess.DEVNULL)
    check(run(program, "draw", result, "-o", path, "--view", "section", "--field", "E"), "lines")
    svg = read_text(path)
    _, _, value_at = read_axis(svg, True)
    # The lines are those under the outline's clip; the legend has one of the same width.
    lines = max(re.findall(r'stroke-width="0.65" d="([^"]*)"', svg), key=len)
    pieces = [[float(y) for y in re.findall(r",([\d.]+)", piece)] for piece in lines.split("M")[1:]]
    radii = sorted({round(value_at(y), 2) for piece in pieces for y in piece}, reverse=True)
    # Places are written to 0.01 points and rounded to 0.01 mm here, of some 5 mm between two lines.
    straight = max(max(piece) - min(piece) for piece in pieces)
    check(straight <= 0.02, f"{len(pieces)} field lines rise or fall by {straight:.2f} points")
    flux = sorted(0.01 * r * bessel_j1(2.404825557695773 * 0.01 * r) for r in radii)
    step = flux[-1] / (len(flux) - 0.5)
    off = max(abs(f / step - (k + 0.5)) for k, f in enumerate(flux))
    check(len(flux) > 5 and off < 0.005, f"{len(flux)} lines are off equal flux by {off:.4f} steps")


STEPPED = """title: Stepped cell
accelerating_length_mm: 50
modes: {{count: 1}}
contour:
  kind: path
  start: {{z_mm: -60, r_mm: 0}}
  path:
    - {{line_to: {{z_mm: 60, r_mm: 0}}, boundary: axis}}
    - {{line_to: {{z_mm: 60, r_mm: 22}}, boundary: electric}}
    - {{line_to: {{z_mm: 25, r_mm: 22}}, boundary: metal}}
    - {{line_to: {{z_mm: 25, r_mm: {radius}}}, boundary: metal}}
    - {{line_to: {{z_mm: -25, r_mm: {radius}}}, boundary: metal}}
    - {{line_to: {{z_mm: -25, r_mm: 22}}, boundary: metal}}
    - {{line_to: {{z_mm: -60, r_mm: 22}}, boundary: metal}}
    - {{line_to: {{z_mm: -60, r_mm: 0}}, boundary: electric}}
"""


def is_inside(x, y, corners):
    """Whether a place is in a polygon: a ray to the right crosses it an odd number of times."""
    odd = False
    for (x0, y0), (x1, y1) in zip(corners, corners[1:] + corners[:1]):
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) / (y1 - y0) * (x1 - x0):
            odd = not odd
    return odd


def check_hatch(program, folder):
    """Strokes of the hatch are in the metal, also next to sharp corners; where they fall there depends on the length of
    the wall before."""
    cell, result, path = (os.path.join(folder, "stepped." + ending) for ending in ("yaml", "hdf", "svg"))
    wrong, count = [], 0
    for radius in (82, 83, 85):
        with open(cell, "w", encoding="utf-8") as file:
            file.write(STEPPED.format(radius=radius))
        subprocess.run((program, "solve", cell, "-q", "-o", result), check=True)
        subprocess.run((program, "draw", result, "-o", path, "--view", "mesh"), check=True)
        svg = read_text(path)
        outline = re.search(r'<path class="f16" d="M([^Z"]*)', svg).group(1)
        corners = [tuple(map(float, place.split(","))) for place in outline.split("L")]
        hatch = max(re.findall(r'stroke-width="0.6" d="([^"]*)"', svg), key=len)
        for stroke in hatch.split("M")[1:]:
            (x0, y0), (x1, y1) = (tuple(map(float, place.split(","))) for place in stroke.split("L"))
            count += 1
            if is_inside(0.3 * x0 + 0.7 * x1, 0.3 * y0 + 0.7 * y1, corners):
                wrong.append((radius, stroke))
    check(count > 300 and not wrong, f"{count} strokes of the hatch are in the metal {wrong}")


STUDY = """title: A small study of the mid-cell
cell: {cell}
vary:
  iris_ellipse.axial_mm: {{from: 10.0, to: 13.0}}
  iris_ellipse.radial_mm: {{from: 15.0, to: 20.0}}
sampling: {{kind: sobol, points: 16}}
"""


def make_files(program, cells_folder, folder):
    """A result, a cold test and a scan."""
    paths = {name: os.path.join(folder, name + ".hdf") for name in ("cell", "test", "scan")}
    study = os.path.join(folder, "study.yaml")
    with open(study, "w", encoding="utf-8") as file:
        file.write(STUDY.format(cell=os.path.join(cells_folder, "mid-cell.yaml")))
    commands = (
        ("solve", os.path.join(cells_folder, "end-cell.yaml"), "-q", "-o", paths["cell"]),
        ("coldtest", os.path.join(cells_folder, "coldtest", "injector-test.yaml"), "-o",
         paths["test"]),
        ("scan", study, "-q", "-o", paths["scan"]),
    )
    for command in commands:
        subprocess.run((program,) + command, check=True, stdout=subprocess.DEVNULL)
    return paths


def main():
    program, cells_folder = (os.path.abspath(path) for path in sys.argv[1:3])
    with tempfile.TemporaryDirectory() as folder:
        paths = make_files(program, cells_folder, folder)
        for view in ("sheet", "section", "axis", "wall", "mesh"):
            check_picture(program, paths["cell"], f"cell-{view}", folder, "--view", view)
        for field in ("E", "H"):
            check_picture(program, paths["cell"], f"cell-{field}", folder, "--view", "section",
                          "--field", field)
            check_section(program, paths["cell"], field, folder, 103.3)
        check_field_lines(program, cells_folder, folder)
        check_hatch(program, folder)
        for view in ("sheet", "quality", "resistance", "budget"):
            check_picture(program, paths["test"], f"test-{view}", folder, "--view", view)
        check_picture(program, paths["scan"], "scan", folder)
        check_scan_axis(program, paths["scan"], folder)
        check_scan_points(program, paths["scan"], folder)
        check(run(program, "compare", paths["cell"], paths["cell"], "--mode-b", "2", "-o",
                  os.path.join(folder, "compare.pdf")), "two modes are compared")
        check(run("qpdf", "--check", os.path.join(folder, "compare.pdf")), "compare.pdf is good")
        refused = subprocess.run([program, "draw", paths["test"], "--view", "mesh", "-o",
                                  os.path.join(folder, "no.png")], stderr=subprocess.PIPE, check=False)
        check(refused.returncode == 2, f"a view of another kind is refused: {refused.stderr}")
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
