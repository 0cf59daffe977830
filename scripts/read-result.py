#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Prints what a file of cavum holds: figures of a result, points of a cold test, columns of a scan, a spread.

Usage: scripts/read-result.py FILE.hdf
"""
import sys

import h5py


def text_of(attribute):
    """Texts have a fixed length in the file, which h5py gives as bytes."""
    return attribute.decode() if isinstance(attribute, bytes) else attribute


def print_result(file):
    """Figures of every mode with their uncertainties."""
    print(file["input/title"].asstr()[()])
    for number in sorted(name for name in file["modes"] if name.isdigit()):
        mode = file["modes"][number]
        print(f"mode {number} {text_of(mode.attrs['label'])}")
        for name, figure in mode["figures"].items():
            uncertainty = figure.attrs.get("uncertainty", float("nan"))
            unit = text_of(figure.attrs["units"])
            print(f"  {name:45} {figure[()]:.9g} +- {uncertainty:.2g} {unit}")


def print_coldtest(file):
    """Gradient and quality factor of every reading."""
    print(file["input/title"].asstr()[()])
    points = file["points"]
    for i in range(points["q0"].shape[0]):
        print(f"{i + 1:5} E_acc {1e-6 * points['gradient_V_per_m'][i]:8.3f} MV/m  "
              f"Q0 {points['q0'][i]:.4g} +- {points['q0_uncertainty'][i]:.1g}")


def print_scan(file):
    """Columns with their ranges over the shapes that are done."""
    print(file["input/title"].asstr()[()])
    done = file["columns/status"][()] == 0
    print(f"{done.size} shapes, {done.sum()} done")
    for name, column in file["columns"].items():
        values = column[()][done]
        if values.size:
            unit = text_of(column.attrs["units"])
            print(f"  {name:50} {values.min():.6g} to {values.max():.6g} {unit}")


def print_spread(file):
    """Standard deviations of the figures by the tolerances of dimensions."""
    print(file["input/title"].asstr()[()])
    figures = file["figures"]
    for i, key in enumerate(figures["key"].asstr()[()]):
        print(f"  {key:45} {figures['value'][i]:.9g}, standard deviation {figures['deviation'][i]:.3g} linear, "
              f"{figures['sampled_deviation'][i]:.3g} sampled")


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    with h5py.File(sys.argv[1], "r") as file:
        if "modes" in file:
            print_result(file)
        elif "tolerances" in file:
            print_spread(file)
        elif "points" in file:
            print_coldtest(file)
        else:
            print_scan(file)


if __name__ == "__main__":
    main()
