#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""What `tune`, `tolerances`, `compare`, `coldtest` and `figures` write as JSON is as its schema says: each key that is
written stands in the schema, and each key of the schema is written once at least.

Usage: check_output_schemas.py LIBRARY SOURCE_FOLDER
"""
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

import jsonschema

from check_result_schema import keys_of_output, keys_of_schema

TOLERANCES = """tolerances:
  equator_radius_mm: {normal: 0.1}
  iris_radius_mm: {uniform: 2.0}
"""
WELD = """tolerances:
  equator_radius_mm: {normal: 0.1}
  iris_radius_mm: {normal: 0.1}
  beta: {uniform: 0.001}
  correlations: [{of: [equator_radius_mm, iris_radius_mm], coefficient: 0.5}]
"""
# Shape 1 has no contour: its iris is beyond its equator.
STUDY = """title: Irises
cell: required.yaml
vary:
  iris_radius_mm: [{}, 120.0]
sampling: {{kind: grid}}
"""
REQUIREMENT = "requirements: {epk_over_eacc: {most: 2.2}}\n"
# Written while readings are taken alone (`coldtest --follow`).
NEVER = {"coldtest-result": {".waiting"}}


class Maker:
    """Runs the program in a folder of its own, with copies of the demo in it."""

    def __init__(self, program, source, folder):
        self.program, self.folder = program, pathlib.Path(folder)
        for path in (source / "geometries-demo/coldtest").iterdir():
            shutil.copy(path, self.folder)
        for name in ("injector-cell", "mid-cell", "end-cell"):
            place = "tests/cells" if name == "end-cell" else "geometries-demo"  # The former has an unbounded peak.
            shutil.copy(source / place / f"{name}.yaml", self.folder)

    def run(self, *arguments):
        done = subprocess.run([self.program, *arguments], cwd=self.folder, check=False, stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, text=True)
        if done.returncode > 1:
            raise SystemExit(f"FAILED {arguments}: {done.stderr}")
        return done.stdout

    def json(self, *arguments):
        return json.loads(self.run(*arguments))

    def change(self, name, new, *pairs):
        text = (self.folder / name).read_text()
        for old, put in pairs:
            text, count = re.subn(old, put, text, count=1, flags=re.M)
            if not count:
                raise SystemExit(f"FAILED {name}: no {old}")
        (self.folder / new).write_text(text)


def tests(maker):
    """Cold tests: the two of the demo, with Monte Carlo of few readings, a plan, and one with runs."""
    few = (r"monte_carlo_points: 100", "monte_carlo_points: 0")
    maker.change("injector-test.yaml", "few.yaml", few)
    lines = (maker.folder / "readings.csv").read_text().splitlines()
    short = [lines[0] + ",run,use"] + [f"{line},{'first' if i < 6 else 'second'},{'no' if i == 5 else 'yes'}"
                                       for i, line in enumerate(lines[1:10])]
    (maker.folder / "short.csv").write_text("\n".join(short) + "\n")
    maker.change("few.yaml", "runs.yaml", ("readings.csv", "short.csv"), (r"monte_carlo_points: 0", "monte_carlo_points: 20"),
                 (r"^title: .*", "title: Runs\nended: a quench\nbath: {static_heat_W: 1.0, static_heat_uncertainty_W: 0.1}"),
                 (r"^surface_resistance:(.*\n)( .*\n)+", ""))
    maker.run("solve", "injector-cell.yaml", "-q", "-o", "injector-cell.hdf")
    yield "coldtest-result", maker.json("coldtest", "few.yaml", "--json", "-")
    yield "coldtest-result", maker.json("coldtest", "runs.yaml", "--json", "-")
    rows = (maker.folder / "field-readings.csv").read_text().splitlines()
    rows = [f"{row},{'run' if i == 0 else 'first' if i % 2 else 'second'}" if not row.startswith("#") else row
            for i, row in enumerate(rows)]
    (maker.folder / "field-readings.csv").write_text("\n".join(rows) + "\n")
    maker.change("field-test.yaml", "field-test.yaml", (r"^frequency: .*", "frequency:\n  up_to_MV_per_m: 25"))
    yield "coldtest-result", maker.json("coldtest", "field-test.yaml", "--json", "-")
    yield "coldtest-result", maker.json("coldtest", "--plan", "injector-test.yaml", "--json", "-")
    maker.change("few.yaml", "after.yaml", (r"^title: .*", "title: After\nshared: {calibration: one, shape: one}"))
    maker.change("few.yaml", "before.yaml", (r"^title: .*", "title: Before\nshared: {calibration: one, shape: one}"))
    yield "comparison", maker.json("compare", "before.yaml", "after.yaml", "--json", "-")


def studies(maker):
    """Two studies that differ in one number; their ranges are those of their summaries."""
    (maker.folder / "required.yaml").write_text((maker.folder / "mid-cell.yaml").read_text() + REQUIREMENT)
    for name, radius in (("one", 34.0), ("two", 34.5)):
        (maker.folder / f"{name}.yaml").write_text(STUDY.format(radius))
        maker.run("scan", "-q", f"{name}.yaml", "-o", f"{name}.hdf")
    compared = maker.json("compare", "one.hdf", "two.hdf", "--json", "-")
    assert compared["study_keys"] == {"vary.iris_radius_mm[1]": ["34", "34.5"]}, compared["study_keys"]
    for name, study in zip(("one", "two"), compared["compared_studies"]):
        summary = maker.json("scan", "--summary", f"{name}.hdf", "--json", "-", "--top", "1")
        assert summary.pop("cavum") == compared["cavum"], "the version is that of the comparison"
        assert study == {**summary, "file": f"{name}.hdf"}, (study, summary)
    yield "comparison", compared


def outputs(maker):
    yield "figures", maker.json("figures", "--json", "-")
    (maker.folder / "shop.yaml").write_text(TOLERANCES)
    yield "spread", maker.json("tolerances", "mid-cell.yaml", "--from", "shop.yaml", "--samples", "20", "--band",
                               "frequency_MHz=0.5", "--json", "-")
    (maker.folder / "weld.yaml").write_text(WELD)
    weld = maker.json("tolerances", "mid-cell.yaml", "--from", "weld.yaml", "--samples", "0", "--band",
                      "frequency_MHz=0.5", "--json", "-")
    assert weld["correlations"] == [{"of": ["equator_radius_mm", "iris_radius_mm"], "coefficient": 0.5}], weld
    assert weld["bands"]["frequency_Hz"]["alone"]["beta"] is None, "beta does nothing to the frequency"
    yield "spread", weld
    # 2 mm of 12 mm: far beyond what is linear.
    (maker.folder / "wide.yaml").write_text("tolerances: {iris_ellipse.axial_mm: {normal: 2}}\n")
    wide = maker.json("tolerances", "mid-cell.yaml", "--from", "wide.yaml", "--samples", "60", "--json", "-")
    shares = [f for f in wide["figures"].values() if "share_together" in f]
    assert shares and all(abs(sum(f["shares"].values()) + f["share_together"] - 1) < 1e-9 for f in shares), shares
    yield "spread", wide
    yield "tune", maker.json("tune", "end-cell.yaml", "--set", "frequency_MHz=1302", "--by",
                             "equator_radius_mm", "--json", "-")
    maker.run("solve", "end-cell.yaml", "-q", "-o", "end.hdf")
    yield from tests(maker)
    compared = maker.json("compare", "injector-cell.hdf", "end.hdf", "--json", "-")
    check_values(maker, compared)
    yield "comparison", compared
    yield from studies(maker)


def check_values(maker, compared):
    """The numbers of a comparison are those of both solves, and their differences."""
    solved = [maker.json("solve", name, "--json", "-")["modes"][0] for name in ("injector-cell.yaml", "end-cell.yaml")]
    for key, figure in compared["figures"].items():
        values = [mode.get(key) for mode in solved]
        assert figure["values"] == values, (key, figure["values"], values)
        numbers = [value and value["value"] for value in values]
        if None in numbers:
            assert figure["differences"] == [None], key
        else:
            difference = figure["differences"][0]
            # To rounding, and where units are converted.
            assert abs(difference["value"] - numbers[1] + numbers[0]) <= 1e-14 * abs(numbers[0]), key
            if "basis" not in values[0]:  # Two that rest on one fit share its error.
                assert difference["significant"] == (abs(difference["value"]) > sum(v["uncertainty"] for v in values)), key


def compare_with_schemas(library, source, outputs_of, never):
    """Each output of a generator against its schema, and each key of the schemas against what was written."""
    program, source = pathlib.Path(library).resolve().parent / "cavum", pathlib.Path(source).resolve()
    schemas, seen, failures = {}, {}, 0
    with tempfile.TemporaryDirectory() as folder:
        for name, output in outputs_of(Maker(program, source, folder)):
            if name not in schemas:
                schemas[name] = json.loads((source / f"scripts/schemas/{name}.schema.json").read_text())
                jsonschema.Draft202012Validator.check_schema(schemas[name])
                seen[name] = set()
            for error in jsonschema.Draft202012Validator(schemas[name]).iter_errors(output):
                print("FAILED", name, "/".join(map(str, error.absolute_path)), error.message[:300])
                failures += 1
            seen[name] |= set(keys_of_output(output, schemas[name], schemas[name]))
    for name, schema in schemas.items():
        for key in sorted(set(keys_of_schema(schema, schema)) - seen[name] - never.get(name, set())):
            print("FAILED never written:", name, key)
            failures += 1
    print("FAILED" if failures else "passed", f"{sum(map(len, seen.values()))} keys of {len(schemas)} outputs")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(compare_with_schemas(sys.argv[1], sys.argv[2], outputs, NEVER))
