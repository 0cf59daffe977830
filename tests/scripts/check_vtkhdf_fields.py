#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Opens result files with VTK and compares fields between the stored points with our own.

VTK interpolates on the lattice that a file holds by default; the reference is a second file of the
same cell whose lattice has another order, so that its points lie between those of the first: they
were evaluated by cavum from the finite elements. The solver is deterministic: both files hold the
same solution.

Usage: check_vtkhdf_fields.py PROGRAM CELLS_FOLDER
"""
import os
import subprocess
import sys
import tempfile

from checking import check, exit_status

import h5py
import numpy
from vtkmodules.util.numpy_support import vtk_to_numpy
from vtkmodules.vtkIOHDF import vtkHDFReader

# Of the largest value in the cell: what a person reads off a picture or a probe is far coarser, and
# the default lattice of a file is chosen for this.
TOLERANCE = 1e-6
# No divisor of an order that a file has by default, so that no inner point is one of its points.
OTHER_ORDER = 7
MU0 = 1.25663706212e-6  # H/m, CODATA 2018
CELLS = ("injector-cell", "mid-cell", "nose-cone-cell", "coaxial-resonator", "measured-cell")


def solve(program, cell_path, path, *options):
    """Writes a result file."""
    command = [program, "solve", cell_path, "--quiet", "-o", path, *options]
    subprocess.run(command, check=True)


def read_with_vtk(path):
    """The grid as VTK reads it."""
    reader = vtkHDFReader()
    reader.SetFileName(path)
    reader.Update()
    return reader.GetOutput()


def interpolation_weights(cell, order):
    """Weights of a cell's points at the lattice points of another order, as VTK computes them."""
    rows = []
    for j in range(order + 1):
        for i in range(order + 1):
            weights = [0.0] * cell.GetNumberOfPoints()
            cell.InterpolateFunctions([i / order, j / order, 0.0], weights)
            rows.append(weights)
    return numpy.array(rows)


def check_cell(path, other_path):
    """All fields of all modes in all quadrilaterals."""
    grid = read_with_vtk(path)
    with h5py.File(other_path, "r") as other:
        elements = other["mesh/element_vertices"].shape[0]
        half = bool(other["mesh/half_model"][()])
        modes = [name for name in other["modes"] if name.isdigit()]
        check(grid.GetNumberOfCells() == elements * (2 if half else 1), "number of cells")
        check(grid.GetCell(0).GetClassName() == "vtkLagrangeQuadrilateral", "kind of the cells")
        weights = interpolation_weights(grid.GetCell(0), OTHER_ORDER)
        ids = numpy.array(
            [[grid.GetCell(e).GetPointId(k) for k in range(weights.shape[1])] for e in range(elements)]
        )
        points = vtk_to_numpy(grid.GetPoints().GetData())
        for column, name in ((0, "z"), (1, "r")):
            compare(name, points[:, column][ids] @ weights.T, other[f"modes/1/field/{name}"][()], 1.0)
        for mode in modes:
            label = other[f"modes/{mode}"].attrs["label"].decode()
            field = other[f"modes/{mode}/field"]
            largest_e = numpy.abs(numpy.hypot(field["E_z"][()], field["E_r"][()])).max()
            largest_h = numpy.abs(field["H_phi"][()]).max()
            for name, largest in (("H_phi", largest_h), ("E_z", largest_e), ("E_r", largest_e)):
                full_name = "_".join(part for part in (f"mode{mode}", label, name) if part)
                array = grid.GetPointData().GetArray(full_name)
                check(array is not None, f"{full_name} is not there")
                if array is None:
                    continue
                values = vtk_to_numpy(array)
                compare(full_name, values[ids] @ weights.T, field[name][()], largest)
                if half:
                    check_image(name, values, other[f"modes/{mode}"].attrs["parity"].decode())
            check_derived(grid.GetPointData(), "_".join(part for part in (f"mode{mode}", label) if part))


def check_derived(data, stem):
    """E as a vector and the magnitudes say the same as the three components, at every point of both
    halves; no permeability differs from that of vacuum here. Sums of squares round differently."""
    def read(name):
        array = data.GetArray(f"{stem}_{name}")
        return array if array is None else vtk_to_numpy(array)

    e, e_z, e_r, h = read("E"), read("E_z"), read("E_r"), read("H_phi")
    abs_e, abs_b = read("abs_E"), read("abs_B")
    check(all(array is not None for array in (e, abs_e, abs_b)), f"{stem}: E, abs_E, abs_B are there")
    if e is None or abs_e is None or abs_b is None:
        return
    check(e.shape == (e_z.size, 3) and not e[:, 2].any(), f"{stem}: E is a vector in the plane")
    check(numpy.array_equal(e[:, 0], e_z) and numpy.array_equal(e[:, 1], e_r), f"{stem}: E")
    check(numpy.allclose(abs_e, numpy.hypot(e_z, e_r), rtol=1e-14, atol=0.0), f"{stem}: abs_E")
    check(numpy.allclose(abs_b, MU0 * numpy.abs(h), rtol=1e-14, atol=0.0), f"{stem}: abs_B")


def compare(name, observed, expected, largest):
    """Largest difference over the largest value."""
    difference = numpy.abs(observed.ravel() - expected).max() / largest
    print(f"  {name}: largest difference {difference:.2e}, tolerance {TOLERANCE:.0e}")
    check(difference <= TOLERANCE, name)


def check_image(name, values, parity):
    """The second half is the mirror image of the first: E_r turns around where E_z does not."""
    sign = -1.0 if (parity == "odd") != (name == "E_r") else 1.0
    first, second = numpy.split(values, 2)
    check(numpy.array_equal(second, sign * first), f"mirror image of {name}")


def check_orientation(path):
    """Corners run counterclockwise in every cell, mirror images included."""
    grid = read_with_vtk(path)
    for e in range(grid.GetNumberOfCells()):
        z, r, _ = zip(*(grid.GetPoint(grid.GetCell(e).GetPointId(k)) for k in range(4)))
        area = sum(z[k] * r[(k + 1) % 4] - z[(k + 1) % 4] * r[k] for k in range(4))
        check(area > 0.0, f"element {e} is turned over")


def main():
    program, cells_folder = sys.argv[1:3]
    with tempfile.TemporaryDirectory() as folder:
        path, other_path = os.path.join(folder, "a.hdf"), os.path.join(folder, "b.hdf")
        for cell in CELLS:
            print(cell)
            cell_path = os.path.join(cells_folder, cell + ".yaml")
            solve(program, cell_path, path)
            solve(program, cell_path, other_path, "--field-order", str(OTHER_ORDER))
            check_cell(path, other_path)
            check_orientation(path)
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
