# SPDX-License-Identifier: GPL-3.0-or-later
"""The HDF5 file of a cold test, read by h5py: shapes, units, uncertainties, agreement with JSON."""
import json
import pathlib
import subprocess
import sys
import tempfile

import h5py

program, demo = sys.argv[1:3]
with tempfile.TemporaryDirectory() as folder:
    result, text = pathlib.Path(folder, "t.hdf"), pathlib.Path(folder, "t.json")
    subprocess.run([program, "coldtest", f"{demo}/coldtest/injector-test.yaml", "-q",
                    "-o", result, "--json", text], check=True)
    points = json.loads(text.read_text())["points"]
    with h5py.File(result) as file:
        assert file.attrs["format"] == b"cavum coldtest 1"
        assert len(points) == 32
        for key in ("q0", "gradient_V_per_m", "surface_resistance_ohm", "wall_power_W"):
            values, errors = file["points"][key], file["points"][key + "_uncertainty"]
            assert values.shape == (32,), key
            assert values.attrs["units"] and values.attrs["long_name"]
            for i, point in enumerate(points):
                assert values[i] == point[key]["value"], (key, i)
                assert errors[i] == point[key]["uncertainty"], (key, i)
        # The parts of a budget add up in squares; 1e-12 is rounding of 46 terms.
        budgets = file["budgets/q0"][...]
        assert budgets.shape == (32, file["budgets/input_keys"].shape[0])
        for row, u in zip(budgets, file["points/q0_uncertainty"][...]):
            total = sum(part * part for part in row) ** 0.5
            assert abs(total / u - 1) < 1e-12
        assert file["surface_resistance/covariance"].shape == (3, 3)
        assert file["traces/1/q0"].shape == (10,)
        assert file["monte_carlo/draws"][0] >= 1e5
        assert file["input/geometry/r_over_q_linac"].attrs["uncertainty"] > 0
print("cold-test file: 32 points, budgets, Monte Carlo, trace and fit agree with the JSON text")
