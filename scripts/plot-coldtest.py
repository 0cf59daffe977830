#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Plots the quality factor of a cold test against the gradient, with standard uncertainties.

Usage: scripts/plot-coldtest.py TEST.hdf PICTURE.png
"""
import sys

import h5py
import matplotlib

matplotlib.use("Agg")
from matplotlib import pyplot  # noqa: E402


def main():
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    with h5py.File(sys.argv[1], "r") as file:
        points = {name: values[()] for name, values in file["points"].items()}
        title = file["input/title"].asstr()[()]
    figure, plot = pyplot.subplots(figsize=(8, 5), layout="constrained")
    plot.errorbar(1e-6 * points["gradient_V_per_m"], points["q0"], fmt="o", markersize=4,
                  xerr=1e-6 * points["gradient_V_per_m_uncertainty"], yerr=points["q0_uncertainty"])
    plot.set(title=title, xlabel="$E_{acc}$ / (MV/m)", ylabel="$Q_0$", yscale="log")
    plot.grid(True, which="both", alpha=0.3)
    figure.savefig(sys.argv[2], dpi=150)


if __name__ == "__main__":
    main()
