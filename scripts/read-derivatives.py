#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""What a change of dimensions does to the figures of the first mode, by the derivatives in a JSON file of
cavum solve --derivatives; without changes the derivatives themselves.

Usage: scripts/read-derivatives.py RESULT.json [DIMENSION=CHANGE...]     iris_radius_mm=0.1
"""
import json
import sys


def print_derivatives(derivatives):
    """One row a dimension: f in MHz, the others in their units, per unit of the dimension."""
    for dimension, figures in derivatives.items():
        f = figures["frequency_Hz"]
        print(f"{dimension:32} {1e-6 * f['value']:12.6g} +- {1e-6 * f['uncertainty']:.1g} MHz")


def predict(mode, changes):
    """To first order; figures without a derivative by one of the dimensions are left out."""
    for key, figure in mode.items():
        if not isinstance(figure, dict) or figure.get("value") is None:
            continue
        slopes = [mode["derivatives"][name].get(key, {}).get("value") for name in changes]
        if key == "derivatives" or None in slopes:
            continue
        change = sum(slope * step for slope, step in zip(slopes, changes.values()))
        print(f"{key:36} {figure['value']:.9g} -> {figure['value'] + change:.9g}")


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    with open(sys.argv[1], encoding="utf-8") as file:
        mode = json.load(file)["modes"][0]
    if "derivatives" not in mode:
        sys.exit(f"{sys.argv[1]}: has no derivatives; cavum solve --derivatives --json FILE writes them")
    changes = {name: float(value) for name, value in (text.split("=") for text in sys.argv[2:])}
    unknown = [name for name in changes if name not in mode["derivatives"]]
    if unknown:
        sys.exit(f"{unknown[0]}: no dimension, there are {', '.join(mode['derivatives'])}")
    if changes:
        predict(mode, changes)
    else:
        print_derivatives(mode["derivatives"])


if __name__ == "__main__":
    main()
