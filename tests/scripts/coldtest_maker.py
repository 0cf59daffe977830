# SPDX-License-Identifier: GPL-3.0-or-later
"""A cold test that has everything, made from a circuit of its own: an undercoupled 650 MHz cell."""
import math
import pathlib

R_OVER_Q, LENGTH, GEOMETRY_FACTOR, EPK, BPK = 250.0, 0.20, 185.0, 2.2, 4.6e-9
FREQUENCY_HZ, Q_EXTERNAL, Q_PICKUP = 650.2e6, 4.0e10, 9.0e12
LORENTZ, PRESSURE, BATH_PA = -2.4e-12, -0.31, 3130.0  # Hz/(V/m)^2, Hz/Pa, Pa
ATTENUATION = {"forward": 38.0, "reflected": 39.5, "transmitted": 11.0}
GRADIENTS = [2.0 + 1.5 * row for row in range(12)]

HEADER = ("run,note,forward_dBm,reflected_dBm,transmitted_dBm,emitted_dBm,decay_energy_s,frequency_Hz,"
          "bath_pressure_Pa,bath_temperature_K,radiation_uSv_per_h")

YAML = """title: Cell of an imaginary pump station, everything at once
ended: {ended}
geometry:
  figures:
    source: invented
    r_over_q_ohm: 250.0
    r_over_q_convention: linac
    r_over_q_uncertainty_percent: 0.1
    accelerating_length_mm: 200.0
    geometry_factor_ohm: 185.0
    epk_over_eacc: 2.2
    bpk_over_eacc_mT_per_MV_per_m: 4.6
frequency_MHz: 650.2
readings: {{file: readings.csv}}
channels:
  forward:
    chain: [{{part: coupler, dB: 38.0, uncertainty_dB: 0.04}}]
    reading_uncertainty_percent: 0.3
  reflected:
    chain: [{{part: coupler, dB: 39.5, uncertainty_dB: 0.04}}]
    reading_uncertainty_percent: 0.3
  transmitted:
    chain: [{{part: cable, dB: 11.0, uncertainty_dB: 0.05}}]
    reading_uncertainty_percent: 0.3
  emitted: {{reading_uncertainty_percent: 0.3}}
meters: {{common_gain_uncertainty_percent: 1.0}}
decay: {{uncertainty_percent: 0.5, reading_uncertainty_percent: 0.5}}
temperature: {{uncertainty_mK: 2}}
bath: {{static_heat_W: 1.4, static_heat_uncertainty_W: 0.1}}
statistics: {{coverage: 0.95, seed: 5, digits: 1, monte_carlo_points: 100}}
limits:
  - {{name: critical field of the wall, source: invented, peak_magnetic_field_mT: 101.2}}
  - {{name: amplifier, source: invented, forward_power_W: 3.0}}
  - {{name: bath, source: invented, wall_power_W: 2.5}}
  - {{name: cold box, source: invented, bath_heat_W: 4.2}}
  - {{name: far away, source: invented, gradient_MV_per_m: 400.0}}
frequency: {{reading_uncertainty_Hz: 0.4}}
surface_resistance:
  gradients_MV_per_m: [5, 8, 12]
  tolerance_percent: 3
  predict: [{{temperature_K: 1.7, gradient_MV_per_m: 8.0}}]
traces:
  - {{file: fall.csv, noise_percent: 0.5, windows: 8}}
plan:
  - {{gradients_MV_per_m: [5, 10, 15, 20], q0_values: [1.0e10, 2.5e10], q_external: 4.0e10, q_pickup: 9.0e12}}
"""


def q0_at(e_mv_per_m, temperature_k):
    """Q0 with a slope in the field."""
    bcs = 9e-5 * math.exp(-17.7 / temperature_k) / temperature_k
    residual = 3.5e-9 * (1.0 + 0.0008 * e_mv_per_m ** 2)
    return GEOMETRY_FACTOR / (bcs + residual)


def dbm(watts, channel):
    """What a meter behind its chain shows."""
    return 10.0 * math.log10(1e3 * watts) - ATTENUATION[channel]


def reading(e_mv_per_m, temperature_k, decay, wiggle, note=""):
    """One row: the steady state of the circuit, with a frequency that is off by the wiggle in Hz."""
    flow = (1e6 * e_mv_per_m * LENGTH) ** 2 / R_OVER_Q
    q0 = q0_at(e_mv_per_m, temperature_k)
    q_eff = 1.0 / (1.0 / q0 + 1.0 / Q_PICKUP)
    beta = q_eff / Q_EXTERNAL
    forward = (1.0 + beta) ** 2 / (4.0 * beta) * flow / q_eff
    reflected = ((beta - 1.0) / (beta + 1.0)) ** 2 * forward
    loaded = 1.0 / (1.0 / q_eff + 1.0 / Q_EXTERNAL)
    pressure = BATH_PA * (temperature_k / 2.0) ** 7
    hertz = (FREQUENCY_HZ + LORENTZ * (1e6 * e_mv_per_m) ** 2 + PRESSURE * (pressure - BATH_PA) + wiggle)
    dose = 0.0 if e_mv_per_m < 9.0 else 0.05 * math.exp(0.5 * (e_mv_per_m - 9.0))
    run = "first" if temperature_k == 2.0 and e_mv_per_m < 9.55 else "after {20 K}"
    cells = [run, note, f"{dbm(forward, 'forward'):.5f}", f"{dbm(reflected, 'reflected'):.5f}",
             f"{dbm(flow / Q_PICKUP, 'transmitted'):.5f}",
             f"{dbm(flow / Q_EXTERNAL, 'reflected'):.5f}" if decay else "",
             f"{loaded / (2.0 * math.pi * FREQUENCY_HZ):.6f}" if decay else "", f"{hertz:.3f}",
             f"{pressure:.2f}", f"{temperature_k:.4f}", f"{dose:.4f}"]
    return ",".join(cells)


def make_rows():
    """All rows without the header."""
    rows = [reading(4.0 + 0.1 * row, 2.0, True, 0.0, "calibration") for row in range(3)]
    rows += [reading(gradient, 2.0, False, 0.3 * (-1) ** row) for row, gradient in enumerate(GRADIENTS)]
    rows.append(reading(9.6, 2.0, False, 0.0, "again"))
    for gradient in (5.0, 8.0, 12.0):
        rows += [reading(gradient, kelvin, False, 0.2 * (-1) ** row)
                 for row, kelvin in enumerate((2.1, 2.0, 1.9, 1.8, 1.7, 1.6, 1.5))]
    return rows


def make_trace():
    """A decay from 18 MV/m with Q0(E), by small steps of dU/dt = -w U / Q_L."""
    rows, gradient, step = ["time_s,transmitted_uW"], 18.0, 0.002
    for index in range(2500):
        flow = (1e6 * gradient * LENGTH) ** 2 / R_OVER_Q
        wobble = 1.0 + 0.004 * math.sin(12.9898 * index) * math.cos(78.233 * index)
        if index % 10 == 0:
            rows.append(f"{index * step:.3f},{1e6 * wobble * flow / Q_PICKUP * 10 ** -1.1:.5f}")
        rate = 2.0 * math.pi * FREQUENCY_HZ * (1.0 / q0_at(gradient, 2.0) + 1.0 / Q_PICKUP + 1.0 / Q_EXTERNAL)
        gradient *= math.exp(-0.5 * rate * step)
    return "\n".join(rows) + "\n"


def make_test(folder, ended="quench at 18.5 MV/m"):
    """Writes the test into a folder; returns the path of its YAML file."""
    folder = pathlib.Path(folder)
    (folder / "readings.csv").write_text("\n".join([HEADER, *make_rows()]) + "\n")
    (folder / "fall.csv").write_text(make_trace())
    (folder / "everything.yaml").write_text(YAML.format(ended=ended))
    return folder / "everything.yaml"
