#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Plots the axial field and the surface fields of one mode of a result file.

Usage: scripts/plot-result.py RESULT.hdf PICTURE.png [MODE]
"""
import sys

import h5py
import matplotlib
import numpy

matplotlib.use("Agg")
from matplotlib import pyplot  # noqa: E402

MU0 = 1.25663706212e-6  # N/A^2


def main():
    if len(sys.argv) not in (3, 4):
        sys.exit(__doc__)
    number = sys.argv[3] if len(sys.argv) == 4 else "1"
    with h5py.File(sys.argv[1], "r") as file:
        mode = file[f"modes/{number}"]
        title = f"{file['input/title'].asstr()[()]}, {mode.attrs['label'].decode()}"
        gradient = mode["figures/eacc_at_1_J_V_per_m"][()]  # fields in the file are at 1 J
        z, e_z = mode["axis/z"][()], mode["axis/E_z"][()]
        s, e, h = mode["wall/arc_length"][()], mode["wall/E"][()], mode["wall/H"][()]
    figure, (axis, wall) = pyplot.subplots(2, 1, figsize=(8, 7), layout="constrained")
    axis.plot(1e3 * z, e_z / gradient)
    axis.set(title=title, xlabel="z / mm", ylabel="$E_z / E_{acc}$")
    wall.plot(1e3 * s, numpy.abs(e) / gradient, label="|E| / $E_{acc}$")
    wall.plot(1e3 * s, 1e9 * MU0 * numpy.abs(h) / gradient,
              label=r"$\mu_0$|H| / $E_{acc}$ in mT/(MV/m)")
    wall.set(xlabel="arc length along the meshed wall / mm")
    wall.legend()
    figure.savefig(sys.argv[2], dpi=150)


if __name__ == "__main__":
    main()
