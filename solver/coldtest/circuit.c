// SPDX-License-Identifier: GPL-3.0-or-later
// The forward circuit model: a cavity with its ports, driven on resonance, and what the meters see.
#include "base/base.h"
#include "base/units.h"
#include "cavum/coldtest.h"

static double extra_inverse_q(const cavum_circuit *circuit, int port) {
  double q = circuit->q_extra[port];
  return q > 0.0 ? 1.0 / q : 0.0;
}

static bool circuit_is_valid(const cavum_circuit *circuit, double stored_energy_j) {
  bool valid = circuit->frequency_hz > 0.0 && isfinite(circuit->frequency_hz) &&
               circuit->q0 > 0.0 && isfinite(circuit->q0) && circuit->q_external > 0.0 &&
               isfinite(circuit->q_external) && circuit->q_pickup > 0.0 && stored_energy_j > 0.0 &&
               isfinite(stored_energy_j);
  for (int port = 0; port < CAVUM_MAX_EXTRA; port++) valid = valid && circuit->q_extra[port] >= 0.0;
  return valid;
}

cavum_status cavum_circuit_drive(cavum_circuit_state *state, const cavum_circuit *circuit,
                                 double stored_energy_j, cavum_error *error) {
  if (!state || !circuit) return cavum_fail_null(error, __func__);
  if (!circuit_is_valid(circuit, stored_energy_j)) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "circuit model: frequency, Q0, Q_e, Q_t and stored energy must be positive");
  }
  double omega = 2.0 * CAVUM_PI * circuit->frequency_hz;
  double flow_w = omega * stored_energy_j;
  cavum_circuit_state out = {.wall_power_w = flow_w / circuit->q0};
  // 1/Q_eff: all losses but those through the input coupler.
  double inverse_effective = 1.0 / circuit->q0 + 1.0 / circuit->q_pickup;
  for (int port = 0; port < CAVUM_MAX_EXTRA; port++) {
    out.power_w[CAVUM_CHANNEL_EXTRA + port] = flow_w * extra_inverse_q(circuit, port);
    inverse_effective += extra_inverse_q(circuit, port);
  }
  // beta* = Q_eff / Q_e [Powers2005]; on resonance the reflection is (beta* - 1) / (beta* + 1) and
  // the rest of the forward power, 4 beta* / (1 + beta*)^2 of it, is lost [Padamsee1998] ch. 8.
  double beta = 1.0 / (circuit->q_external * inverse_effective);
  double rho = (beta - 1.0) / (beta + 1.0);
  double lost_w = flow_w * inverse_effective;
  double forward_w = lost_w * (1.0 + beta) * (1.0 + beta) / (4.0 * beta);
  out.power_w[CAVUM_CHANNEL_FORWARD] = forward_w;
  out.power_w[CAVUM_CHANNEL_REFLECTED] = rho * rho * forward_w;
  out.power_w[CAVUM_CHANNEL_TRANSMITTED] = flow_w / circuit->q_pickup;
  out.power_w[CAVUM_CHANNEL_EMITTED] = flow_w / circuit->q_external;
  out.coupling = beta;
  out.q_loaded = 1.0 / (inverse_effective * (1.0 + beta));
  out.decay_time_s = out.q_loaded / omega;
  out.bandwidth_hz = circuit->frequency_hz / out.q_loaded;
  *state = out;
  return CAVUM_OK;
}

double cavum_decay_time_from_slope_s(double slope_db_per_s) {
  return 10.0 / (log(10.0) * fabs(slope_db_per_s));
}

double cavum_watts_from_dbm(double dbm) {
  return cavum_from_unit(pow(10.0, dbm / 10.0), CAVUM_UNIT_MILLIWATT);
}
