# SPDX-License-Identifier: GPL-3.0-or-later
"""The HDF5 file of a cold test, read by h5py: shapes, units, uncertainties, agreement with JSON."""
import csv
import hashlib
import html
import json
import math
import pathlib
import re
import subprocess
import sys
import tempfile

import h5py

from coldtest_maker import make_test

from coldtest_maker import make_test

program, cells = sys.argv[1:3]


def scalar_text(dataset):
    """The text of a dataset of one."""
    text = dataset[()]
    return (text[0] if getattr(text, "shape", ()) else text).decode()


with tempfile.TemporaryDirectory() as folder:
    result, text = pathlib.Path(folder, "t.hdf"), pathlib.Path(folder, "t.json")
    subprocess.run([program, "coldtest", f"{cells}/coldtest/injector-test.yaml", "-q",
                    "-o", result, "--json", text, "--csv", text.with_suffix(".csv")], check=True)
    points = json.loads(text.read_text())["points"]
    with h5py.File(result) as file:
        assert file.attrs["format"] == b"cavum coldtest 1"
        assert len(points) == 32
        with_errors = [key for key in file["points"] if key + "_uncertainty" in file["points"]]
        assert len(with_errors) >= 14, with_errors
        for key in with_errors:
            values, errors = file["points"][key], file["points"][key + "_uncertainty"]
            assert values.shape == (32,), key
            assert values.attrs["units"] and values.attrs["long_name"]
            for i, point in enumerate(points):
                if key not in point:
                    assert values[i] != values[i], (key, i)  # not a number
                    continue
                assert values[i] == point[key]["value"], (key, i)
                assert errors[i] == point[key]["uncertainty"], (key, i)
        for i, point in enumerate(points):
            assert file["points/correlation_q0_gradient"][i] == point["correlation_q0_gradient"], i
            # P_d = w U / Q0, V = E_acc L_acc, B_pk and E_pk in one ratio to E_acc.
            flow = 6.283185307179586 * point["frequency_Hz"] * point["stored_energy_J"]["value"]
            assert abs(flow / point["wall_power_W"]["value"] / point["q0"]["value"] - 1) < 1e-12, i
            for key in ("voltage_V", "peak_magnetic_field_T", "peak_electric_field_V_per_m"):
                ratio = point[key]["value"] / point["gradient_V_per_m"]["value"]
                first = points[0][key]["value"] / points[0]["gradient_V_per_m"]["value"]
                assert abs(ratio / first - 1) < 1e-12, (key, i)
        # Every column of the CSV that has an uncertainty, to its ten digits.
        with open(text.with_suffix(".csv"), newline="", encoding="utf-8") as table:
            rows = list(csv.DictReader(table))
        assert len(rows) == 32
        pairs = [key for key in rows[0] if key + "_uncertainty" in rows[0]]
        assert len(pairs) > 10, pairs
        for row, point in zip(rows, points):
            for key in pairs:
                if not row[key]:
                    assert key not in point, key
                    continue
                for column, expected in ((key, point[key]["value"]),
                                         (key + "_uncertainty", point[key]["uncertainty"])):
                    assert abs(float(row[column]) - expected) <= 1e-9 * abs(expected), column
        # Calibrations: what they are made of, and the report's values with their uncertainties.
        everything = json.loads(text.read_text())
        page = text.with_suffix(".html")
        subprocess.run([program, "report", result, "-o", page], check=True)
        words = html.unescape(re.sub("<[^>]*>", "", page.read_text(encoding="utf-8")))
        for key, name in (("q_pickup", "pickup_calibration"), ("q_external", "external_calibration")):
            entry, dataset = everything[name], file["calibration/" + key]
            assert dataset[()] == entry["value"], key
            assert dataset.attrs["uncertainty"] == entry["uncertainty"], key
            for part in ("readings", "chi_squared", "degrees_of_freedom"):
                assert file[f"calibration/{key}_{part}"][()] == entry[part], (key, part)
            symbol = "Q_t" if key == "q_pickup" else "Q_e"
            found = re.search(symbol.replace("_", "_?") + r" = ([0-9.]+)\(([0-9]+)\)", words)
            assert found, (symbol, words[:2000])
            exponent = math.floor(math.log10(entry["value"]))
            assert abs(float(found.group(1)) * 10 ** exponent / entry["value"] - 1) < 0.01, symbol
            digits = len(found.group(1).split(".")[1])
            shown = int(found.group(2)) * 10.0 ** (exponent - digits)
            assert abs(shown / entry["uncertainty"] - 1) < 0.5, (symbol, shown, entry["uncertainty"])
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
        readings = pathlib.Path(cells, "coldtest", "readings.csv").read_bytes()
        assert scalar_text(file["input/readings_text"]) == readings.decode()
        digest = hashlib.sha256(readings).hexdigest()
        assert scalar_text(file["input/readings_sha256"]) == digest
        assert json.loads(text.read_text())["readings_sha256"] == digest
        notes = [note.decode() for note in file["points/note"][...]]
        assert notes == [point.get("note", "") for point in points] and notes[0] == "calibration"
print("cold-test file: 32 points, budgets, Monte Carlo, trace and fit agree with the JSON text")

# Rows that cannot be, one left out on purpose and one still being written leave the others as they are,
# and are named wherever results go; so is a bath that can hardly be meant.
with tempfile.TemporaryDirectory() as folder:
    folder = pathlib.Path(folder)
    for name in ("injector-test.yaml", "decay.csv"):
        (folder / name).write_text(pathlib.Path(cells, "coldtest", name).read_text())
    rows = pathlib.Path(cells, "coldtest", "readings.csv").read_text().splitlines()
    warm = rows[4].replace("2.000", "300")
    bad = ["# a quench", ",-25.7,-10.0,-22.0,,,1289.951,2.000,", ",-25.7,oops,-22.0,,,1289.951,2.000,",
           ",-25.7,-51.3"]
    (folder / "readings.csv").write_text("\n".join([*rows[:4], warm, *rows[5:], *bad]))
    result, text, page = folder / "t.hdf", folder / "t.json", folder / "t.html"
    screen = subprocess.run([program, "coldtest", folder / "injector-test.yaml", "--linear", "-o", result,
                             "--json", text], check=True, capture_output=True, text=True).stdout
    subprocess.run([program, "report", result, "-o", page], check=True)
    report = json.loads(text.read_text())
    assert len(report["points"]) == 32
    first = len(rows) + 2
    reasons = {row["line"]: row["reason"] for row in report["set_aside"]}
    assert sorted(reasons) == [first, first + 1, first + 2], reasons
    assert "not below forward" in reasons[first] and "oops" in reasons[first + 1]
    assert "still being written" in reasons[first + 2]
    assert len(report["remarks"]) == 1 and "300 K" in report["remarks"][0]
    with h5py.File(result) as file:
        lines = file["set_aside"][()]
        lines = (lines[0] if getattr(lines, "shape", ()) else lines).decode()
        assert lines.count("\n") == 3 and f"line {first}: " in lines, lines
        remarks = file["remarks"][()]
        assert "300 K" in (remarks[0] if getattr(remarks, "shape", ()) else remarks).decode()
    html = page.read_text()
    for words in (screen, html):
        assert "Rows set aside" in words and "still being written" in words and "300 K" in words
    # The branch stands beside the gradient.
    plain = html.replace("<wbr>", "")  # headings may break there
    assert plain.index(">branch<") > plain.index('aria-label="E_acc"') and ">over<" in plain

# A plan's meter readings, in JSON and HDF5 alike.
with tempfile.TemporaryDirectory() as folder:
    result, text = pathlib.Path(folder, "p.hdf"), pathlib.Path(folder, "p.json")
    subprocess.run([program, "coldtest", "--plan", f"{cells}/coldtest/injector-test.yaml", "-q",
                    "-o", result, "--json", text], check=True)
    plans = json.loads(text.read_text())["plans"]
    assert len(plans) == 7
    with h5py.File(result) as file:
        for number, plan in enumerate(plans, 1):
            group = file[f"plans/{number}"]
            for name in ("forward", "reflected", "transmitted", "emitted"):
                assert group[f"{name}_meter"][()] == plan[f"{name}_meter_W"], (number, name)
            for key in ("q0", "gradient"):
                value = group[f"{key}_relative_uncertainty_by_pickup"][()]
                assert value == plan["by_pickup"][f"{key}_relative_uncertainty"] and 0 < value < 0.1
print("plans: 7, meter readings and expected uncertainties agree")
print("bad rows: set aside by line and reason on screen, in JSON, HDF5 and report")


def json_names(node, stem=""):
    """Names of all numbers and texts of an object; value and uncertainty are one, lists are columns."""
    if isinstance(node, list):
        return set().union(*(json_names(item, stem) for item in node)) if node else {stem}
    if not isinstance(node, dict) or set(node) == {"value", "uncertainty"}:
        return {stem}
    return set().union(*(json_names(item, f"{stem}/{key}" if stem else key)
                         for key, item in node.items()))


def hdf5_names(group):
    """Names of all datasets; a column of uncertainties belongs to that of the values."""
    names = set()
    group.visititems(lambda name, item: names.add(name) if isinstance(item, h5py.Dataset) else None)
    return {name for name in names if not name.endswith("_uncertainty")}


# JSON and HDF5 hold the same, by the same names.
with tempfile.TemporaryDirectory() as folder:
    folder = pathlib.Path(folder)
    for name in ("field-test.yaml", "field-readings.csv"):
        (folder / name).write_text(pathlib.Path(cells, "coldtest", name).read_text())
    subprocess.run([program, "solve", f"{cells}/injector-cell.yaml", "-q", "-o",
                    folder / "injector-cell.hdf"], check=True)
    for test in (folder / "field-test.yaml", make_test(folder)):
        subprocess.run([program, "coldtest", test, "-q", "--linear", "-o", folder / "t.hdf",
                        "--json", folder / "t.json"], check=True)
        report = json.loads((folder / "t.json").read_text())
        with h5py.File(folder / "t.hdf") as file:
            for group in ("frequency", "surface_resistance_against_field"):
                assert hdf5_names(file[group]) == json_names(report[group]), (
                    hdf5_names(file[group]) ^ json_names(report[group]))
            if "field_emission" in report:
                emission, stored = report["field_emission"], file["field_emission"]
                assert hdf5_names(stored) == json_names(emission), (
                    hdf5_names(stored) ^ json_names(emission))
                for point in emission["points"]:
                    row = int(point["point"]) - 1
                    for key in ("electron_power_W", "radiation_less_background_Sv_per_h"):
                        if key in point:
                            assert stored["points"][key][row] == point[key]["value"]
                            assert (stored["points"][key + "_uncertainty"][row]
                                    == point[key]["uncertainty"])
            assert ("runs" in report) == ("runs" in file)
            if "runs" in report:
                names = {name for row in report["runs"] for name in row}
                stored = {name.split("_uncertainty")[0] for name in hdf5_names(file["runs"])}
                assert stored == names, stored ^ names
                assert [row["name"] for row in report["runs"]] == [
                    name.decode() for name in file["runs/name"][...]]
                numbers = {row["name"]: n for n, row in enumerate(report["runs"], 1)}
                assert [numbers[point["run"]] for point in report["points"]] == list(
                    file["points/run"][...])
                assert file["points/bath_heat_W"][0] == report["points"][0]["bath_heat_W"]["value"]
            if report["limits"]:
                assert hdf5_names(file["limits"]) == json_names(report["limits"])
            predictions = report["surface_resistance"]["predictions"]
            if predictions:
                stored = file["surface_resistance/predictions"]
                assert hdf5_names(stored) == json_names(predictions)
                for i, row in enumerate(predictions):
                    for key in ("q0", "wall_power_W", "surface_resistance_ohm"):
                        assert stored[key][i] == row[key]["value"], key
                        assert stored[key + "_uncertainty"][i] == row[key]["uncertainty"], key
print("JSON and HDF5 hold the same names: frequency, field emission, R_s against field, limits, predictions")

# Columns of the CSV that are read, not worked out, are there as in JSON where a cell was read.
with tempfile.TemporaryDirectory() as folder:
    folder = pathlib.Path(folder)
    make_test(folder)
    subprocess.run([program, "coldtest", "everything.yaml", "--linear", "-q", "--json", "t.json", "--csv", "t.csv"],
                   cwd=folder, check=True)
    points = json.loads((folder / "t.json").read_text())["points"]
    with open(folder / "t.csv", newline="", encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    assert len(rows) == len(points)
    for column in ("frequency_Hz", "bath_temperature_K", "radiation_Sv_per_h", "bath_pressure_Pa"):
        for row, point in zip(rows, points):
            assert abs(float(row[column]) - point[column]) <= 1e-9 * abs(point[column]), column
print("CSV: what was read stands in it as in JSON")
