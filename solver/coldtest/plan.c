// SPDX-License-Identifier: GPL-3.0-or-later
// The way back: what a test will take, and the published limits that its fields come near to.
#include "cavum/coldtest_series.h"
#include "coldtest/coldtest_private.h"

cavum_status cavum_coldtest_make_plan(cavum_plan *plan, const cavum_coldtest_setup *setup,
                                      const cavum_plan_request *request, cavum_error *error) {
  if (!plan || !setup || !request) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  double r_over_q = setup->r_over_q_linac_ohm.value, length_m = setup->accelerating_length_m.value;
  if (!(request->e_acc_v_per_m > 0.0) || !isfinite(request->e_acc_v_per_m) || !(r_over_q > 0.0) ||
      !(length_m > 0.0) || !(request->frequency_hz > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "plan: gradient, frequency, R/Q and accelerating length must be positive");
  }
  CAVUM_TRY(cavum_coldtest_check_length(length_m, request->frequency_hz, "plan", error));
  cavum_plan out = {.voltage_v = request->e_acc_v_per_m * length_m};
  double omega = 2.0 * CAVUM_PI * request->frequency_hz;
  out.stored_energy_j = out.voltage_v * out.voltage_v / (r_over_q * omega);
  cavum_circuit circuit = {.frequency_hz = request->frequency_hz,
                           .q0 = request->q0,
                           .q_external = request->q_external,
                           .q_pickup = request->q_pickup};
  CAVUM_TRY(cavum_circuit_drive(&out.state, &circuit, out.stored_energy_j, error));
  double epk = setup->epk_over_eacc.value, bpk = setup->bpk_over_eacc_t_per_v_per_m.value;
  double factor_ohm = setup->geometry_factor_ohm.value;
  out.e_peak_v_per_m = epk > 0.0 ? epk * request->e_acc_v_per_m : NAN;
  out.b_peak_t = bpk > 0.0 ? bpk * request->e_acc_v_per_m : NAN;
  out.surface_resistance_ohm = factor_ohm > 0.0 ? factor_ohm / request->q0 : NAN;
  out.matched_forward_w = out.state.wall_power_w + out.state.power_w[CAVUM_CHANNEL_TRANSMITTED];
  *plan = out;
done:
  return status;
}

static const cavum_coldtest_limit PUBLISHED_LIMITS[] = {
    {"superheating field of Nb, working number",
     "Pudasaini et al., arXiv:1909.05695, abstract: about 200 mT", CAVUM_QUANTITY_B_PEAK, 0.2},
    {"superheating field of Nb at 0 K",
     "1.2 times a thermodynamic field of about 200 mT, from memory", CAVUM_QUANTITY_B_PEAK, 0.24},
    {"lower critical field of Nb", "about 170 to 180 mT, from memory", CAVUM_QUANTITY_B_PEAK, 0.17},
};

int cavum_coldtest_num_published_limits(void) {
  return (int)(sizeof PUBLISHED_LIMITS / sizeof *PUBLISHED_LIMITS);
}

cavum_coldtest_limit cavum_coldtest_published_limit(int index) {
  static const cavum_coldtest_limit unknown = {.name = "unknown", .source = ""};
  return index >= 0 && index < cavum_coldtest_num_published_limits() ? PUBLISHED_LIMITS[index]
                                                                     : unknown;
}
