#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Plots two columns of a scan against each other, coloured by a third.

Usage: scripts/plot-scan.py STUDY.hdf PICTURE.png [X Y COLOUR]
"""
import sys

import h5py
import matplotlib

matplotlib.use("Agg")
from matplotlib import pyplot  # noqa: E402

USUAL = ("epk_over_eacc", "bpk_over_eacc_mT_per_MV_per_m", "g_times_r_over_q_linac_ohm2")


def main():
    if len(sys.argv) not in (3, 6):
        sys.exit(__doc__)
    names = sys.argv[3:6] or USUAL
    with h5py.File(sys.argv[1], "r") as file:
        done = file["columns/status"][()] == 0
        values = [file["columns"][name][()][done] for name in names]
        labels = [f"{name} / {file['columns'][name].attrs['units'].decode()}" for name in names]
        title = file["input/title"].asstr()[()]
    figure, plot = pyplot.subplots(figsize=(8, 6), layout="constrained")
    points = plot.scatter(values[0], values[1], c=values[2], s=8)
    figure.colorbar(points, label=labels[2])
    plot.set(title=title, xlabel=labels[0], ylabel=labels[1])
    figure.savefig(sys.argv[2], dpi=150)


if __name__ == "__main__":
    main()
