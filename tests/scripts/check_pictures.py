#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of every kind, judged by other programs: SVG by xmllint and rsvg-convert, PDF by qpdf and
pdftoppm, PNG by its own checksums. None may be blank.

Usage: check_pictures.py PROGRAM DEMO_FOLDER
"""
import os
import shutil
import struct
import subprocess
import sys
import tempfile
import zlib

from checking import check, exit_status

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


STUDY = """title: A small study of the mid-cell
cell: {cell}
vary:
  iris_ellipse.axial_mm: {{from: 10.0, to: 13.0}}
  iris_ellipse.radial_mm: {{from: 15.0, to: 20.0}}
sampling: {{kind: sobol, points: 16}}
"""


def make_files(program, demo_folder, folder):
    """A result, a cold test and a scan."""
    paths = {name: os.path.join(folder, name + ".hdf") for name in ("cell", "test", "scan")}
    study = os.path.join(folder, "study.yaml")
    with open(study, "w", encoding="utf-8") as file:
        file.write(STUDY.format(cell=os.path.join(demo_folder, "mid-cell.yaml")))
    commands = (
        ("solve", os.path.join(demo_folder, "end-cell.yaml"), "-q", "-o", paths["cell"]),
        ("coldtest", os.path.join(demo_folder, "coldtest", "injector-test.yaml"), "-o",
         paths["test"]),
        ("scan", study, "-q", "-o", paths["scan"]),
    )
    for command in commands:
        subprocess.run((program,) + command, check=True, stdout=subprocess.DEVNULL)
    return paths


def main():
    program, demo_folder = (os.path.abspath(path) for path in sys.argv[1:3])
    with tempfile.TemporaryDirectory() as folder:
        paths = make_files(program, demo_folder, folder)
        for view in ("sheet", "section", "axis", "wall", "mesh"):
            check_picture(program, paths["cell"], f"cell-{view}", folder, "--view", view)
        for field in ("E", "H"):
            check_picture(program, paths["cell"], f"cell-{field}", folder, "--view", "section",
                          "--field", field)
        for view in ("sheet", "quality", "resistance", "budget"):
            check_picture(program, paths["test"], f"test-{view}", folder, "--view", view)
        check_picture(program, paths["scan"], "scan", folder)
        check(run(program, "compare", paths["cell"], paths["cell"], "--mode-b", "2", "-o",
                  os.path.join(folder, "compare.pdf")), "two modes are compared")
        check(run("qpdf", "--check", os.path.join(folder, "compare.pdf")), "compare.pdf is good")
        refused = subprocess.run([program, "draw", paths["test"], "--view", "mesh", "-o",
                                  os.path.join(folder, "no.png")], stderr=subprocess.PIPE, check=False)
        check(refused.returncode == 2, f"a view of another kind is refused: {refused.stderr}")
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
