#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Reads the /VTKHDF group with VTK, as ParaView does, and integrates over the curved cells.

A cell with points in the wrong order folds over: its area, summed over many small pieces of the
reference element, then differs from the area inside the outline, which VTK knows nothing of.

Usage: check_vtkhdf.py PROGRAM CELLS_FOLDER
"""
import math
import os
import subprocess
import sys
import tempfile

from checking import check, exit_status

from vtkmodules.vtkCommonCore import mutable
from vtkmodules.vtkIOHDF import vtkHDFReader


def corner_parameters(num_corners, steps):
    """Small triangles that tile the reference element."""
    for j in range(steps):
        for i in range(steps if num_corners == 4 else steps - j):
            a, b = (i / steps, j / steps), ((i + 1) / steps, j / steps)
            c, d = ((i + 1) / steps, (j + 1) / steps), (i / steps, (j + 1) / steps)
            yield a, b, d
            if num_corners == 4 or i + j + 1 < steps:
                yield b, c, d


def position(cell, parameters):
    """Point of a curved cell at reference coordinates."""
    point, weights = [0.0] * 3, [0.0] * cell.GetNumberOfPoints()
    cell.EvaluateLocation(mutable(0), [*parameters, 0.0], point, weights)
    return point


def area_and_fold(cell, steps):
    """Area of a cell and its smallest small triangle, which is negative where the cell folds."""
    area, smallest = 0.0, math.inf
    num_corners = 4 if cell.GetCellType() == 70 else 3
    for triangle in corner_parameters(num_corners, steps):
        (ax, ay, _), (bx, by, _), (cx, cy, _) = (position(cell, p) for p in triangle)
        piece = ((bx - ax) * (cy - ay) - (cx - ax) * (by - ay)) / 2
        area += piece
        smallest = min(smallest, piece)
    return area, smallest


def read_grid(program, cell_path, options, folder):
    """Solves a cell and gives VTK's view of the result file."""
    result_path = os.path.join(folder, "result.hdf")
    run = subprocess.run([program, "solve", "-q", cell_path, "-o", result_path, *options],
                         check=False)
    # 1: the accuracy was not reached with the degree that is set here, which does not matter.
    if run.returncode not in (0, 1):
        run.check_returncode()
    reader = vtkHDFReader()
    reader.SetFileName(result_path)
    reader.Update()
    return reader.GetOutputDataObject(0)


def check_grid(grid, area, tolerance, name, bounds):
    """The cells tile the domain and end where it does; the fields are there."""
    total, smallest = 0.0, math.inf
    for i in range(grid.GetNumberOfCells()):
        piece, fold = area_and_fold(grid.GetCell(i), 16)
        total += piece
        smallest = min(smallest, fold)
    check(grid.GetNumberOfCells() > 0, f"{name}: {grid.GetNumberOfCells()} cells")
    check(smallest > 0, f"{name}: no cell folds over, smallest piece {smallest:.3g} m2")
    check(abs(total - area) < tolerance * area,
          f"{name}: area {total:.9g} m2, expected {area:.9g} within {tolerance:g}")
    # Corners are points of every lattice: they differ by rounding alone.
    ends = [grid.GetBounds()[i] for i in range(4)]
    check(all(abs(end - bound) < 1e-12 for end, bound in zip(ends, bounds)),
          f"{name}: z and r from {ends[0]:g} to {ends[1]:g} m and {ends[2]:g} to {ends[3]:g} m")
    data = grid.GetPointData()
    names = [data.GetArrayName(i) for i in range(data.GetNumberOfArrays())]
    for part in ("H_phi", "E_z", "E_r"):
        check(any(array.startswith("mode1_") and array.endswith(part) for array in names),
              f"{name}: field {part} among {names}")


# A square of 0.1 m, as two triangles; edges on r = 0 are the axis and all others metal.
TRIANGLES = """$MeshFormat
2.2 0 8
$EndMeshFormat
$Nodes
4
1 0 0 0
2 0.1 0 0
3 0.1 0.1 0
4 0 0.1 0
$EndNodes
$Elements
2
1 2 2 0 1 1 2 3
2 2 2 0 1 1 3 4
$EndElements
"""
TRIANGLE_CELL = """title: Two triangles
contour: {kind: mesh, file: two.msh, unit: m, axis: x}
"""
FILLED_CELL = """title: A square and a ferrite, side by side
contour: {kind: mesh, file: filled.msh, unit: m, axis: x, regions: {1: {eps_r: 1.0}, 2: {eps_r: 3.7, mu_r: 1.9}}}
"""


def check_filled(program, folder):
    """B is mu_r times larger where a region says so: both triangles are one material each."""
    with open(os.path.join(folder, "filled.msh"), "w", encoding="ascii") as mesh:
        mesh.write(TRIANGLES.replace("1 2 2 0 1 ", "1 2 2 1 1 ").replace("2 2 2 0 1 ", "2 2 2 2 1 "))
    path = os.path.join(folder, "filled.yaml")
    with open(path, "w", encoding="ascii") as cell:
        cell.write(FILLED_CELL)
    grid = read_grid(program, path, ["--field-order", "2", "--degree", "8"], folder)
    data = grid.GetPointData()
    names = [data.GetArrayName(i) for i in range(data.GetNumberOfArrays())]
    h, b = (data.GetArray(next(n for n in names if n.startswith("mode1_") and n.endswith(part)))
            for part in ("H_phi", "abs_B"))
    for cell, mu_r in ((0, 1.0), (1, 1.9)):
        ids = grid.GetCell(cell).GetPointIds()
        points = [ids.GetId(k) for k in range(ids.GetNumberOfIds())]
        largest = max(abs(h.GetValue(k)) for k in points)
        off = max(abs(b.GetValue(k) - 1.25663706212e-6 * mu_r * abs(h.GetValue(k))) for k in points)
        check(largest > 0 and off <= 1e-14 * 1.25663706212e-6 * mu_r * largest,
              f"filled: abs_B with mu_r {mu_r:g}")


def write_triangle_cell(folder):
    """A mesh file of triangles and the cell file that names it."""
    with open(os.path.join(folder, "two.msh"), "w", encoding="ascii") as mesh:
        mesh.write(TRIANGLES)
    path = os.path.join(folder, "two.yaml")
    with open(path, "w", encoding="ascii") as cell:
        cell.write(TRIANGLE_CELL)
    return path


# Symmetric about z = 863 mm: solved as a half, stored whole.
ELSEWHERE = """accelerating_length_mm: 100
contour:
  kind: path
  start: {z_mm: 813, r_mm: 0}
  path:
    - {line_to: {z_mm: 913, r_mm: 0}, boundary: axis}
    - {line_to: {z_mm: 913, r_mm: 100}, boundary: metal}
    - {line_to: {z_mm: 813, r_mm: 100}, boundary: metal}
    - {line_to: {z_mm: 813, r_mm: 0}, boundary: metal}
"""


def write_cell_elsewhere(folder):
    """The pillbox far from z = 0."""
    path = os.path.join(folder, "elsewhere.yaml")
    with open(path, "w", encoding="ascii") as cell:
        cell.write(ELSEWHERE)
    return path


def main():
    program, cells_folder = sys.argv[1:3]
    with tempfile.TemporaryDirectory() as folder:
        square = {"pillbox": (os.path.join(cells_folder, "pillbox.yaml"), -0.05),
                  "elsewhere": (write_cell_elsewhere(folder), 0.813),
                  "triangles": (write_triangle_cell(folder), 0.0)}
        # Orders 4 to 7 have a second ring of points inside a triangle, 6 and 7 also a third.
        for name, (path, start) in square.items():
            for order in ("1", "2", "3", "4", "5", "7"):
                options = ["--field-order", order, "--degree", "8"]
                grid = read_grid(program, path, options, folder)
                # 0.1 m by 0.1 m with straight sides: exact but for rounding.
                check_grid(grid, 0.1 * 0.1, 1e-12, f"{name}, order {order}",
                           (start, start + 0.1, 0.0, 0.1))
        check_filled(program, folder)
        # capsule.yaml: a rectangle of 60 mm by 60 mm and two quarter circles of 60 mm radius. A quarter
        # circle in n chords lacks (pi / 2)^2 / (6 n^2) of its area; 32 pieces or more give 4e-4.
        grid = read_grid(program, os.path.join(cells_folder, "capsule.yaml"),
                         ["--field-order", "8"], folder)
        check_grid(grid, 0.06 * 0.06 * (1 + math.pi / 2), 4e-4, "capsule", (-0.09, 0.09, 0.0, 0.06))
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
