#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Merged results of scans, read with h5py and by the program itself.

Usage: check_scan_merge.py PROGRAM CELLS_FOLDER
"""
import pathlib
import subprocess
import sys
import tempfile

from checking import check, exit_status

try:
    import h5py
    import numpy
except ImportError:
    print("skipped: python3-h5py is not installed")
    sys.exit(77)

PROGRAM = sys.argv[1]
CELL = """contour:
  kind: two-ellipse
  half_length_mm: 57.7
  iris_radius_mm: 35.0
  equator_radius_mm: 103.3
  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}
  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}
ends:
  left: {kind: magnetic}
  right: {kind: magnetic}
accuracy: {frequency: 1.0e-3, peak_field: 1.0e-1}
"""
# Shapes with an iris of 140 mm cannot exist: their rows have reasons.
ONE = "cell: cell.yaml\nvary: {iris_radius_mm: [37.0, 140.0, 31.0, 33.0], iris_ellipse.axial_mm: [12.0, 11.0]}\n"
TWO = "title: More\ncell: cell.yaml\nbatch: 3\nvary: {iris_radius_mm: [33.0, 36.0, 141.0, 140.0], iris_ellipse.axial_mm: [11.0, 12.5]}\n"
KEYS = ("contour.iris_radius_mm", "contour.iris_ellipse.axial_mm")


def run(folder, *arguments):
    """Runs `cavum scan` in a folder."""
    return subprocess.run([PROGRAM, "scan", *arguments], cwd=folder, capture_output=True, text=True, check=False)


def read(path):
    """Columns and reasons of a result."""
    with h5py.File(path) as file:
        columns = {key: column[:] for key, column in file["columns"].items()}
        reasons = dict(zip(file["reasons/shape"][:].tolist(), file["reasons/text"][:].tolist()))
        attributes = {key: dict(column.attrs) for key, column in file["columns"].items()}
        types = {key: column.dtype for key, column in file["columns"].items()}
    return columns, reasons, attributes, types


def rows_by_shape(result):
    """Every row under its varied numbers: all its columns but the number, and its reason."""
    columns, reasons, _, _ = result
    rows = {}
    for i, number in enumerate(columns["shape"].tolist()):
        shape = tuple(columns[key][i] for key in KEYS)
        values = [columns[key][i].tobytes() for key in columns if key != "shape"]
        rows[shape] = (values, reasons.get(number, b""))
    return rows


def check_rows(folder):
    """The merged rows are those of the two, each shape once, in the order of the varied numbers."""
    one, two, both = (read(folder / name) for name in ("one.hdf", "two.hdf", "both.hdf"))
    of_one, of_two, merged = rows_by_shape(one), rows_by_shape(two), rows_by_shape(both)
    columns, reasons, attributes, types = both
    check(len(of_one) == 8 and len(of_two) == 8 and len(set(of_one) & set(of_two)) == 2, "two shapes are in both")
    check(set(merged) == set(of_one) | set(of_two), "all shapes are there")
    check(len(columns["shape"]) == len(merged) == 14, "each of them once")
    check(all(row in (of_one.get(shape), of_two.get(shape)) for shape, row in merged.items()),
          "each row with its reason is one of those that were there, to the bit")
    check(columns["shape"].tolist() == list(range(14)), "numbered from 0")
    order = list(zip(*(columns[key].tolist() for key in KEYS)))
    check(order == sorted(order), "sorted by the varied numbers")
    impossible = [number for number, shape in enumerate(order) if shape[0] >= 140.0]
    check(sorted(reasons) == impossible and len(impossible) == 5, "reasons stand at their rows")
    check(attributes == one[2] == two[2] and types == one[3], "attributes and types of columns are those of the two")
    done = columns["status"] == 0
    check(numpy.isfinite(columns["frequency_Hz"][done]).all() and done.sum() == 9, "nine shapes are done")


def check_program(folder):
    """What is merged is summed up, exported, drawn, and its cells are had."""
    summary = run(folder, "--summary", "both.hdf", "--csv", "both.csv")
    check(summary.returncode == 0 and "14 shapes: 9 done, 5 no-shape" in summary.stdout, "the summary counts")
    lines = (folder / "both.csv").read_text().splitlines()
    check(len(lines) == 15 and lines[1].startswith("0,done,"), "CSV has all rows")
    for command in (["draw", "both.hdf", "-o", "both.svg"], ["report", "both.hdf", "-o", "both.html"]):
        done = subprocess.run([PROGRAM, *command], cwd=folder, capture_output=True, text=True, check=False)
        check(done.returncode == 0, f"{command[0]}: {done.stderr.strip()}")
    text = (folder / "both.html").read_text()
    check("31.0, 33.0" in text and "36.0, 141.0" in text, "the report has both study files")
    columns = read(folder / "both.hdf")[0]
    fetched = run(folder, "--shape", "4", "both.hdf", "-o", "fetched.yaml")
    check(fetched.returncode == 0, "the cell of a row is had")
    solved = subprocess.run([PROGRAM, "solve", "fetched.yaml", "-q", "-o", "solved.hdf"], cwd=folder, check=False)
    with h5py.File(folder / "solved.hdf") as file:
        frequency = file["modes/1/figures/frequency_Hz"][()]
    difference = abs(frequency - columns["frequency_Hz"][4])
    check(solved.returncode == 0 and difference <= 2.0 * columns["frequency_Hz_uncertainty"][4],
          f"and solves to the frequency of its row within {difference} Hz")


def check_order(folder):
    """A + B is B + A, A + A is A, and what is merged merges again."""
    steps = [("one.hdf", "two.hdf", "other.hdf"), ("one.hdf", "both.hdf", "again.hdf"),
             ("one.hdf", "one.hdf", "same.hdf"), ("both.hdf", "one.hdf", "turned.hdf")]
    for one, two, output in steps:
        done = run(folder, "--merge", one, two, "-o", output)
        check(done.returncode == 0 and done.stderr == "", f"{one} with {two} {done.stderr.strip()}")
    content = {path.name: path.read_bytes() for path in folder.glob("*.hdf")}
    check(content["both.hdf"] == content["other.hdf"], "the order of the arguments does not show")
    check(content["again.hdf"] == content["turned.hdf"], "nor with one that was merged")
    check(rows_by_shape(read(folder / "again.hdf")) == rows_by_shape(read(folder / "both.hdf")), "nothing is added twice")
    check(rows_by_shape(read(folder / "same.hdf")) == rows_by_shape(read(folder / "one.hdf")), "a file with itself is itself")


def check_refusals(folder):
    """One clear line where the two are not alike, and no output over an input."""
    (folder / "other-cell.yaml").write_text(CELL.replace("half_length_mm: 57.7", "half_length_mm: 57.0"))
    studies = {
        "columns": (TWO.replace("iris_ellipse.axial_mm", "iris_ellipse.radial_mm"), "has no column contour.iris_ellipse."),
        "othercell": (TWO.replace("cell.yaml", "other-cell.yaml"), "the base cells differ"),
        "limits": (TWO + "limits: {wall_angle_deg: 1.0}\n", "limits, mode or version of cavum differ"),
    }
    for name, (study, words) in studies.items():
        (folder / f"{name}.yaml").write_text(study)
        check(run(folder, f"{name}.yaml", "-o", f"{name}.hdf", "-q").returncode == 0, f"study {name}")
        for pair in (["--merge", f"{name}.hdf", "one.hdf"], ["--merge", "one.hdf", f"{name}.hdf"]):
            refused = run(folder, *pair, "-o", "none.hdf")
            check(refused.returncode == 2 and words in refused.stderr and refused.stderr.count("\n") == 1,
                  refused.stderr.strip())
    before = {path.name: path.read_bytes() for path in folder.glob("*.hdf")}
    for arguments in (["--merge", "one.hdf", "two.hdf", "-o", "one.hdf"], ["--merge", "one.hdf", "two.hdf", "-o", "two.hdf", "--overwrite"],
                      ["--merge", "one.hdf", "two.hdf", "-o", "othercell.hdf"], ["--merge", "one.hdf", "-o", "none.hdf"],
                      ["--merge", "one.hdf", "two.hdf"], ["--merge", "one.hdf", "two.hdf", "-o", "none.hdf", "--csv", "n.csv"],
                      ["--merge", "one.hdf", "--summary", "two.hdf"], ["--merge", "one.hdf", "cell.yaml", "-o", "none.hdf"]):
        check(run(folder, *arguments).returncode == 2, " ".join(arguments))
    check(before == {path.name: path.read_bytes() for path in folder.glob("*.hdf")}, "nothing was written")
    check(run(folder, "--merge", "one.hdf", "two.hdf", "-o", "othercell.hdf", "--overwrite").returncode == 0, "--overwrite")


def main():
    """Computes two studies and merges them."""
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "cell.yaml").write_text(CELL)
        (folder / "one.yaml").write_text(ONE)
        (folder / "two.yaml").write_text(TWO)
        for study in ("one", "two"):
            check(run(folder, f"{study}.yaml", "-o", f"{study}.hdf", "-q").returncode == 0, f"study {study}")
        merged = run(folder, "--merge", "two.hdf", "one.hdf", "-o", "both.hdf")
        check(merged.returncode == 0 and merged.stderr == "", f"merged {merged.stderr.strip()}")
        check_rows(folder)
        check_program(folder)
        check_order(folder)
        check_refusals(folder)
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
