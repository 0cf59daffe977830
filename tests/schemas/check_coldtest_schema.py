#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The schema of cold-test files takes what the library reads, and refuses what it refuses, key by key.

Usage: check_coldtest_schema.py LIBRARY SOURCE_FOLDER
"""
import ctypes
import pathlib
import re
import sys

import yaml

from schema_checks import Error, check, check_values, finish, keys_of_schema, load, read_schema

FILE_BYTES = 1 << 20
# Keys that the demo's tests do not have.
TYPED = """
title: Typed in
ended: quench
geometry:
  figures: {source: a drawing, r_over_q_ohm: 110, r_over_q_convention: linac, r_over_q_uncertainty_percent: 0.1,
    accelerating_length_mm: 126, accelerating_length_uncertainty_mm: 0.1, geometry_factor_ohm: 262,
    geometry_factor_uncertainty_percent: 0.1, epk_over_eacc: 1.7, epk_over_eacc_uncertainty_percent: 0.1,
    bpk_over_eacc_mT_per_MV_per_m: 4.1, bpk_over_eacc_uncertainty_percent: 0.1}
frequency_MHz: 1121.6
frequency_uncertainty_ppm: 0.1
readings: {file: readings.csv}
channels:
  forward: {chain: [{part: coupler, dB: 30, uncertainty_dB: 0.04}], meter_uncertainty_percent: 0.6,
    reading_uncertainty_percent: 0.3, zero_mW: 0.1, zero_uncertainty_mW: 0.1}
  reflected: {chain: [{dB: 30}]}
  emitted: {meter: own, chain: [{dB: 30}], zero_mW: 0.1}
  extra: [{name: hom, chain: [{dB: 20}]}]
meters: {common_gain_uncertainty_percent: 1}
input_line: {loss_dB: 0.35, uncertainty_dB: 0.02}
directional_coupler: {directivity_dB: 42}
circulator: {return_loss_dB: 32}
decay: {uncertainty_percent: 0.5, reading_uncertainty_percent: 0.5}
temperature: {uncertainty_mK: 2, calibration_uncertainty_mK: 3}
loop: {phase_uncertainty_deg: 2}
bath: {static_heat_W: 0.5, static_heat_uncertainty_W: 0.1}
method: {q0: pickup, coupling: both, branch: over}
pickup: {q: 5.3e+12, uncertainty_percent: 3}
input_coupler: {q: 2.0e+10, uncertainty_percent: 3, moved: false}
statistics: {coverage: 0.95, seed: 31, largest_draws: 1.0e+6, digits: 1, monte_carlo_points: 100}
limits:
  - {name: a, source: b, peak_magnetic_field_mT: 180}
  - {name: a, source: b, peak_electric_field_MV_per_m: 60}
  - {name: a, source: b, gradient_MV_per_m: 22}
  - {name: a, source: b, wall_power_W: 5}
  - {name: a, source: b, bath_heat_W: 5}
  - {name: a, source: b, forward_power_W: 200}
published_limits: niobium
surface_resistance: {gradient_MV_per_m: 5, tolerance_percent: 6, gap_K: 17.7, gradients_MV_per_m: [5, 10],
  reference_temperature_K: 2, field_degree: 1, predict: [{temperature_K: 1.8, gradient_MV_per_m: 16}]}
frequency: {reading_uncertainty_Hz: 0.5, pressure_uncertainty_mbar: 0.01, pressure_calibration_uncertainty_percent: 0.5,
  wall_stiffness_GPa_per_m: 100, up_to_MV_per_m: 20}
radiation: {reading_uncertainty_percent: 5, reading_uncertainty_uSv_per_h: 0.015, calibration_uncertainty_percent: 15,
  background_uSv_per_h: 0.1, background_uncertainty_uSv_per_h: 0.01}
field_emission: {work_function_eV: 4.3, work_function_uncertainty_eV: 0.1, onset_uSv_per_h: 1, from_MV_per_m: 5,
  up_to_MV_per_m: 30, bath_temperature_K: 2, bath_tolerance_mK: 20, q0_curve_up_to_MV_per_m: 10, q0_curve_degree: 1}
shared: {calibration: spring, shape: cell 3}
trapped_flux: {ambient_field_uT: 0.5, trapped_fraction: 1, sensitivity_nohm_per_uT: 3}
traces: [{file: decay.csv, frequency_MHz: 1121.6, noise_percent: 0.4, floor_uW: 0.02, first_s: 0, last_s: 3, windows: 10}]
plan:
  - {frequency_MHz: 1121.6, gradient_MV_per_m: 16, q0: 2.3e+10, q_external: 2.0e+10, q_pickup: 5.3e+12}
  - {gradients_MV_per_m: [4, 16], q0_values: [1.8e+10, 4.0e+10], q_external: 2.0e+10}
"""
FROM_RESULT = """
geometry: {result: cell.hdf, mode: 2}
readings: {file: readings.csv}
channels: {emitted: {meter: of_reflected, reading_uncertainty_percent: 0.3}}
field_emission: {onset_over_background: 3}
"""
WRONG = (
    "readings: {file: a.csv}", "geometry: {result: cell.hdf}", FROM_RESULT.replace("mode: 2", "figures: {}"),
    FROM_RESULT.replace("result: cell.hdf, ", ""), FROM_RESULT.replace("{file: readings.csv}", "{}"),
    FROM_RESULT.replace("reading_uncertainty_percent: 0.3", "zero_mW: 3"),
    FROM_RESULT.replace("onset_over_background: 3", "onset_over_background: 3, onset_uSv_per_h: 3"),
    *(TYPED.replace(some, "") for some in (
        "r_over_q_ohm: 110, ", "r_over_q_convention: linac, ", "accelerating_length_mm: 126, ", "dB: 30, ", "name: hom, ",
        "gradients_MV_per_m: [5, 10],", "temperature_K: 1.8, ", "ambient_field_uT: 0.5, ", "file: decay.csv, ",
        "gradient_MV_per_m: 16, ", "q0: 2.3e+10, ", ", wall_power_W: 5", "source: b, ")),
    TYPED.replace(", q_external: 2.0e+10}", "}"),
    TYPED.replace("wall_power_W: 5", "wall_power_W: 5, gradient_MV_per_m: 5"),
    TYPED.replace("q0: 2.3e+10", "q0: 2.3e+10, q0_values: [1.0e+10]"),
    TYPED.replace("gradients_MV_per_m: [5, 10]", "gradients_MV_per_m: [5]"),
    TYPED.replace("q0_values: [1.8e+10, 4.0e+10]", "q0_values: []"),
    TYPED.replace("title: Typed in", "title: " + 256 * "t"), TYPED.replace("name: hom", "name: " + 32 * "h"),
)
# Lists of numbers: above 0, but with no other range of their own.
LISTS = ("surface_resistance.gradients_MV_per_m.0", "surface_resistance.gradients_MV_per_m.1", "plan.1.gradients_MV_per_m.0",
         "plan.1.gradients_MV_per_m.1", "plan.1.q0_values.0", "plan.1.q0_values.1")


class Reader:
    """cavum_coldtest_file_read_text() of the library."""

    def __init__(self, library):
        self.library, self.file = ctypes.CDLL(library), ctypes.create_string_buffer(FILE_BYTES)

    def message(self, document):
        """"" where the library reads a document, else what it says."""
        data = (document if isinstance(document, str) else yaml.safe_dump(document)).encode()
        error = Error()
        status = self.library.cavum_coldtest_file_read_text(self.file, data, ctypes.c_size_t(len(data)), b"test.yaml",
                                                            ctypes.byref(error))
        if status == 0:
            self.library.cavum_coldtest_file_clear(self.file)
        return error.message.decode()


def keys_of_sources(folder):
    """Keys in the tables of the sources, and names of sections that stand there alone."""
    found = set()
    for source in (folder / "solver/coldtest_file").glob("test_file*.c"):
        text = source.read_text()
        found |= set(re.findall(r"\.key = \"(\w+)\"", text))
        found |= set(re.findall(r"CAVUM_TEST_(?:NUMBER|COUNT|TEXT|WORD|NODE)\(\s*[\w ]+,\s*[\w\[\]]+,\s*\"(\w+)\"", text))
    return found


def main():
    source = pathlib.Path(sys.argv[2]).resolve()
    schema, validator = read_schema(source / "scripts/schemas/coldtest.schema.json")
    reader = Reader(sys.argv[1])
    files = [path for folder in ("tests/cells/coldtest", "geometries-demo/coldtest")
             for path in sorted((source / folder).glob("*.yaml"))]
    check(len(files) == 4, "the demo's tests are there")
    for text in [TYPED, FROM_RESULT] + [path.read_text() for path in files]:
        said = "; ".join(error.message for error in validator.iter_errors(load(text)))
        check(not said, "taken by the schema", said)
        check(not reader.message(text), "read by the library", reader.message(text))
    for text in WRONG:
        check(not validator.is_valid(load(text)), "refused by the schema", text)
        check(reader.message(text), "refused by the library", text)
    for text in (TYPED, FROM_RESULT):
        check_values(load(text), schema, reader.message, (), (), LISTS)
    check(keys_of_schema(schema) == keys_of_sources(source), "keys of the schema and of the sources",
          keys_of_schema(schema) ^ keys_of_sources(source))
    return finish()


if __name__ == "__main__":
    sys.exit(main())
