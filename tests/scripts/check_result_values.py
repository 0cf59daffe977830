#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The arrays of a result file against closed forms, read with h5py: TM010 of the pillbox of the tests.

With k = x01 / R and a stored energy of 1 J, E_z = E_0 J0(k r) and H_phi = E_0 J1(k r) / Z_0, where
1 J = eps_0 / 2 E_0^2 pi R^2 L J1(x01)^2 (any textbook, for example Harrington, Time-Harmonic Electromagnetic Fields).

Usage: check_result_values.py PROGRAM CELLS_FOLDER
"""
import math
import os
import subprocess
import sys
import tempfile

from checking import check, exit_status

import h5py
import numpy

C = 299792458.0
MU0 = 1.25663706212e-6
EPS0 = 1.0 / (MU0 * C * C)
RADIUS, LENGTH, X01 = 0.1, 0.1, 2.404825557695773


def bessel(order, x):
    """J_0 or J_1 by their power series, which is exact to rounding for the small arguments here."""
    x = numpy.asarray(x, dtype=float)
    term = (0.5 * x)**order
    total = term.copy()
    for m in range(1, 30):
        term = -term * (0.5 * x)**2 / (m * (m + order))
        total += term
    return total


E0 = math.sqrt(2.0 / (EPS0 * math.pi * RADIUS**2 * LENGTH * float(bessel(1, X01))**2))
H0 = E0 / (MU0 * C)


def fields(r):
    """E_z and H_phi at distances from the axis."""
    return E0 * bessel(0, X01 * r / RADIUS), H0 * bessel(1, X01 * r / RADIUS)


def close(name, found, expected, tolerance):
    """All of an array within a tolerance, which may be an array too."""
    off = numpy.abs(numpy.asarray(found) - expected)
    check(bool((off <= tolerance).all()), f"{name}: off by up to {off.max():.3g}")


def check_profiles(mode):
    """The axis and the wall, each value inside its own uncertainty and the constants' rounding."""
    axis, wall = mode["axis"], mode["wall"]
    sign = math.copysign(1.0, axis["E_z"][0])
    rounding = 1e-9 * E0
    close("E_z on the axis", sign * axis["E_z"][()], E0, axis["E_z_uncertainty"][()] + rounding)
    e, h = fields(wall["r"][()])
    on_plates = numpy.abs(numpy.abs(wall["z"][()]) - 0.05) < 1e-12
    e = numpy.where(on_plates & (wall["r"][()] < RADIUS * (1 - 1e-12)), e, 0.0)
    close("|E| on the wall", numpy.abs(wall["E"][()]), e, wall["E_uncertainty"][()] + rounding)
    close("H on the wall", sign * wall["H"][()], h, wall["H_uncertainty"][()] + 1e-9 * H0)
    for name, scale in (("E", E0), ("H", H0)):
        check(wall[f"{name}_uncertainty"][()].max() < 1e-4 * scale, f"uncertainty of {name}: not too cautious")
    check(abs(wall["arc_length"][-1] - 0.3) < 1e-12, "length of the wall")
    check(set(numpy.unique(wall["curve"][()])) <= set(range(4)), "curves of the wall")


def check_density(mode, frequency):
    """The radiation pressure point by point; the removal of metal everywhere scales the cell: f' = -f / R ..."""
    density = mode["wall_density"]
    e, h = fields(density["r"][()])
    on_side = numpy.abs(density["r"][()] - RADIUS) < 1e-9
    e = numpy.where(on_side, 0.0, e)
    pressure = 0.25 * (MU0 * h**2 - EPS0 * e**2)
    close("radiation pressure", density["radiation_pressure"][()], pressure, 1e-6 * numpy.abs(pressure).max())
    # The side moved outwards: df/dR = -f / R. An end plate does not move f of TM010.
    depth = numpy.where(on_side, 1.0, 0.0)
    slope = numpy.sum(density["frequency"][()] * density["area"][()] * depth)
    check(abs(slope + frequency / RADIUS) < 1e-7 * frequency / RADIUS, "the side's df/dn is -f / R")
    plates = numpy.sum(density["frequency"][()] * density["area"][()] * (1.0 - depth))
    check(abs(plates) < 1e-7 * frequency / RADIUS, "the plates move nothing")
    area = math.pi * RADIUS * 2.0 * (RADIUS + LENGTH)
    check(abs(density["area"][()].sum() - area) < 1e-9 * area, "area of the wall")
    normal = numpy.hypot(density["normal_z"][()], density["normal_r"][()])
    close("normals", normal, 1.0, 1e-12)


def check_beta_curve(mode, frequency):
    """V = E_0 L |sin x / x| with x = w L / (2 beta c)."""
    curve = mode["beta_curve"]
    x = math.pi * frequency * LENGTH / (curve["beta"][()] * C)
    r_over_q = (E0 * LENGTH * numpy.sin(x) / x)**2 / (2.0 * math.pi * frequency)
    margin = curve["r_over_q_linac_uncertainty"][()] + 1e-8 * r_over_q.max()
    close("R/Q over beta", curve["r_over_q_linac"][()], r_over_q, margin)
    voltage = numpy.sqrt(curve["r_over_q_linac"][()] * 2.0 * math.pi * frequency)
    close("voltage over beta", curve["voltage"][()], voltage, 1e-9 * voltage.max())
    check(curve["r_over_q_linac_uncertainty"][()].max() < 1e-4 * r_over_q.max(), "R/Q over beta: not too cautious")


def check_points(name, z, r, values, tolerance):
    """H_phi, E_z and E_r at points of the cell."""
    h_phi, e_z, e_r = values
    check(abs(z).max() < 0.05 + 1e-12 and r.max() < RADIUS + 1e-12, f"{name}: points of the cell")
    e, h = fields(r)
    sign = math.copysign(1.0, e_z[numpy.argmin(r)])
    close(f"{name}: E_z", sign * e_z, e, tolerance * E0)
    close(f"{name}: E_r", e_r, 0.0, tolerance * E0)
    close(f"{name}: H_phi", sign * h_phi, h, tolerance * H0)


def check_paraview(group):
    """Both halves, cells of valid points, vectors and magnitudes that belong to the components."""
    points, data = group["Points"][()], group["PointData"]
    e_z, e_r = data["mode1_TM010_E_z"][()], data["mode1_TM010_E_r"][()]
    h_phi = data["mode1_TM010_H_phi"][()]
    check(points[:, 0].min() < -0.0499 and points[:, 0].max() > 0.0499, "ParaView: both halves")
    check_points("ParaView", points[:, 0], points[:, 1], (h_phi, e_z, e_r), 1e-5)
    vector = data["mode1_TM010_E"][()]
    close("ParaView: vector E", vector, numpy.stack([e_z, e_r, 0.0 * e_z], axis=1), 1e-9 * E0)
    close("ParaView: |E|", data["mode1_TM010_abs_E"][()], numpy.hypot(e_z, e_r), 1e-9 * E0)
    close("ParaView: |B|", data["mode1_TM010_abs_B"][()], MU0 * numpy.abs(h_phi), 1e-9 * MU0 * H0)
    cells, count = group["NumberOfCells"][0], group["NumberOfPoints"][0]
    check(count == len(points) and len(group["Types"]) == cells, "ParaView: numbers of points and cells")
    check(len(group["Offsets"]) == cells + 1, "ParaView: offsets")
    check(group["Offsets"][-1] == group["NumberOfConnectivityIds"][0] == len(group["Connectivity"]), "ParaView: ids")
    check(group["Connectivity"][()].min() >= 0 and group["Connectivity"][()].max() < count, "ParaView: points of cells")
    check(group.attrs["Type"] == b"UnstructuredGrid", "ParaView: kind of grid")


def check_mesh(mesh):
    """Edges join corners; those of the boundary lie where their condition is."""
    vertices, ends = mesh["vertices"][()], mesh["edge_vertices"][()]
    kind, curve = mesh["edge_boundary"][()], mesh["edge_curve"][()]
    z, r = vertices[ends][:, :, 0], vertices[ends][:, :, 1]
    check(bool((r[kind == 4] < 1e-12).all()), "mesh: edges of the axis")
    check(bool((numpy.abs(z[kind == 5]) < 1e-12).all()), "mesh: edges of the mirror plane")
    wall = (numpy.abs(r - RADIUS) < 1e-9).all(axis=1) | (numpy.abs(numpy.abs(z) - 0.05) < 1e-9).all(axis=1)
    check(bool(wall[kind == 1].all()) and (kind == 1).sum() > 0, "mesh: edges of metal")
    check(bool((curve[kind == 0] == -1).all()) and bool((curve[kind == 1] >= 0).all()), "mesh: curves of edges")
    check(bool((mesh["element_region"][()] == 0).all()), "mesh: one region")
    check(list(mesh["region_eps_r"][()]) == [1.0] and list(mesh["region_mu_r"][()]) == [1.0], "mesh: vacuum")


def check_input(group, changed):
    """What was asked for, once by the defaults and once otherwise."""
    expected = {"near_frequency": 0.0, "number_of_modes": 5, "option_coupling": 0, "option_coupling_of_inner_cell": 0,
                "option_degree": 0, "option_derivatives": 0, "option_refinement": 0.0, "option_use_symmetry": 1}
    expected.update(changed)
    for key, value in expected.items():
        check(group[key][()] == value, f"input/{key} is {group[key][()]}, expected {value}")
    for key in ("version_cavum", "version_hdf5"):
        check(group[key].asstr()[()].count(".") >= 2, f"input/{key}")


def check_complete(modes, lowest, highest):
    """No mode is missed between two frequencies; all modes lie there."""
    low, high = modes["complete_between"][()]
    found = sorted(modes[name]["figures/frequency_Hz"][()] for name in modes if name.isdigit())
    check(low <= found[0] and found[-1] <= high, f"no mode missed from {low} to {high} Hz")
    check(low <= lowest and high >= highest, f"complete from {lowest} to {highest} Hz")


def main():
    program, cells_folder = sys.argv[1:3]
    cell = os.path.join(cells_folder, "pillbox.yaml")
    with tempfile.TemporaryDirectory() as folder:
        path, other = os.path.join(folder, "pillbox.hdf"), os.path.join(folder, "other.hdf")
        subprocess.run([program, "solve", "-q", cell, "-o", path], check=True)
        near = os.path.join(folder, "near.yaml")
        with open(cell, encoding="utf-8") as source, open(near, "w", encoding="utf-8") as made:
            made.write(source.read().replace("{count: 5}", "{count: 3, near_MHz: 1800}"))
        subprocess.run([program, "solve", "-q", near, "--derivatives", "--no-symmetry", "--degree", "9", "--refine",
                        "2", "-o", other], check=False)  # 1: the degree was given, the accuracy may not be reached
        with h5py.File(path, "r") as result:
            mode = result["modes/1"]
            frequency = mode["figures/frequency_Hz"][()]
            check_profiles(mode)
            check_density(mode, frequency)
            check_beta_curve(mode, frequency)
            field = mode["field"]
            check_points("lattice", field["z"][()], field["r"][()],
                         (field["H_phi"][()], field["E_z"][()], field["E_r"][()]), 1e-5)
            check_paraview(result["VTKHDF"])
            check_mesh(result["mesh"])
            check_input(result["input"], {})
            # TM012 is the highest of the five lowest.
            check_complete(result["modes"], 0.0, C / (2 * math.pi) * math.hypot(X01 / RADIUS, 2 * math.pi / LENGTH))
        with h5py.File(other, "r") as result:
            check_complete(result["modes"], 1.8e9, 1.8e9)
            check_input(result["input"], {
                "near_frequency": 1.8e9, "number_of_modes": 3, "option_degree": 9, "option_derivatives": 1,
                "option_refinement": 2.0, "option_use_symmetry": 0})
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
