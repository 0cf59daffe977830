// SPDX-License-Identifier: GPL-3.0-or-later
// Q0, fields and heat of one reading, from the power w U that circulates and the wall power.
#include "coldtest/coldtest_private.h"

static void put(cavum_inverted *out, cavum_coldtest_quantity quantity, cavum_dual result) {
  out->has[quantity] = true;
  out->result[quantity] = result;
}

static void put_fields(cavum_inverted *out, const cavum_coldtest_setup *setup,
                       const cavum_dual *gradient) {
  if (setup->epk_over_eacc.value > 0.0) {
    cavum_dual ratio = cavum_coldtest_figure(&setup->epk_over_eacc, CAVUM_INPUT_EPK_OVER_EACC);
    put(out, CAVUM_QUANTITY_E_PEAK, cavum_dual_multiply(ratio, *gradient));
  }
  if (setup->bpk_over_eacc_t_per_v_per_m.value > 0.0) {
    cavum_dual ratio =
        cavum_coldtest_figure(&setup->bpk_over_eacc_t_per_v_per_m, CAVUM_INPUT_BPK_OVER_EACC);
    put(out, CAVUM_QUANTITY_B_PEAK, cavum_dual_multiply(ratio, *gradient));
  }
}

void cavum_coldtest_put_fields(cavum_inverted *out, const cavum_coldtest_setup *setup,
                               const cavum_dual *flow, const cavum_dual *wall,
                               const cavum_dual *omega, const cavum_dual *transmitted) {
  cavum_dual q0 = cavum_dual_divide(*flow, *wall);
  put(out, CAVUM_QUANTITY_Q0, q0);
  if (transmitted) put(out, CAVUM_QUANTITY_Q_PICKUP, cavum_dual_divide(*flow, *transmitted));
  put(out, CAVUM_QUANTITY_STORED_ENERGY, cavum_dual_divide(*flow, *omega));
  cavum_dual r_over_q = cavum_coldtest_figure(&setup->r_over_q_linac_ohm, CAVUM_INPUT_R_OVER_Q);
  cavum_dual length = cavum_coldtest_figure(&setup->accelerating_length_m, CAVUM_INPUT_LENGTH);
  cavum_dual voltage = cavum_dual_root(cavum_dual_multiply(r_over_q, *flow));
  cavum_dual gradient = cavum_dual_divide(voltage, length);
  put(out, CAVUM_QUANTITY_VOLTAGE, voltage);
  put(out, CAVUM_QUANTITY_E_ACC, gradient);
  put_fields(out, setup, &gradient);
  if (setup->geometry_factor_ohm.value > 0.0) {
    cavum_dual factor =
        cavum_coldtest_figure(&setup->geometry_factor_ohm, CAVUM_INPUT_GEOMETRY_FACTOR);
    put(out, CAVUM_QUANTITY_SURFACE_RESISTANCE, cavum_dual_divide(factor, q0));
  }
  if (setup->static_heat_w.value > 0.0) {
    cavum_dual rest = cavum_coldtest_figure(&setup->static_heat_w, CAVUM_INPUT_STATIC_HEAT);
    put(out, CAVUM_QUANTITY_BATH_HEAT, cavum_dual_add(*wall, rest));
  }
}
