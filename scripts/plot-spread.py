#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Plots what each dimension adds to the variance of f, R/Q and G, from a file of cavum tolerances.

Usage: scripts/plot-spread.py SPREAD.hdf PICTURE.png
"""
import sys

import h5py
import matplotlib
import numpy

matplotlib.use("Agg")
from matplotlib import pyplot  # noqa: E402

FIGURES = ("frequency_Hz", "r_over_q_linac_ohm", "geometry_factor_ohm")


def main():
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    with h5py.File(sys.argv[1], "r") as file:
        title = file["input/title"].asstr()[()]
        dimensions = list(file["tolerances/key"].asstr()[()])
        keys = list(file["figures/key"].asstr()[()])
        share, deviation = file["figures/share"][()], file["figures/deviation"][()]
        slope, covariance = file["figures/slope"][()], file["tolerances/covariance"][()]
    # The linear spread is the root of J C J^T, with the derivatives J and the covariance C.
    numpy.testing.assert_allclose(numpy.sqrt(numpy.einsum("fi,ij,fj->f", slope, covariance, slope)),
                                  deviation, rtol=1e-9)
    shown = [keys.index(key) for key in FIGURES if key in keys]
    order = numpy.argsort(numpy.abs(share[shown[0]]))
    figure, panels = pyplot.subplots(1, len(shown), figsize=(10, 1.5 + 0.3 * len(order)), sharey=True,
                                     squeeze=False, layout="constrained")
    for panel, row in zip(panels[0], shown):
        panel.barh([dimensions[j] for j in order], 100 * share[row][order])
        panel.set(title=f"{keys[row]}: $\\pm${deviation[row]:.3g}", xlabel="part in the variance / %")
    figure.suptitle(title)
    figure.savefig(sys.argv[2], dpi=150)


if __name__ == "__main__":
    main()
