// SPDX-License-Identifier: GPL-3.0-or-later
// Q0, fields and heat of one reading, from the power w U that circulates and the wall power.
#include "coldtest/coldtest_private.h"

static void put(cavum_inverted *out, cavum_coldtest_quantity quantity, const cavum_dual *result) {
  out->has[quantity] = true;
  out->result[quantity] = *result;
}

// x times a figure of the cavity.
static cavum_dual times(const cavum_dual *x, const cavum_estimate *figure,
                        cavum_coldtest_input input) {
  return cavum_dual_chain_one(figure->value * x->value, figure->value, x, x->value,
                              figure->uncertainty, input);
}

static void put_times(cavum_inverted *out, cavum_coldtest_quantity quantity, const cavum_dual *x,
                      const cavum_estimate *figure, cavum_coldtest_input input) {
  if (!(figure->value > 0.0)) return;
  cavum_dual product = times(x, figure, input);
  put(out, quantity, &product);
}

static void put_ratio(cavum_inverted *out, cavum_coldtest_quantity quantity, const cavum_dual *x,
                      const cavum_dual *y) {
  cavum_dual ratio = cavum_dual_divide(x, y);
  put(out, quantity, &ratio);
}

// Voltage and fields.
static void put_fields(cavum_inverted *out, const cavum_coldtest_setup *setup,
                       const cavum_dual *flow) {
  const cavum_estimate *length = &setup->accelerating_length_m;
  cavum_dual square = times(flow, &setup->r_over_q_linac_ohm, CAVUM_INPUT_R_OVER_Q);
  cavum_dual voltage = cavum_dual_root(&square);
  double ratio = voltage.value / length->value;
  cavum_dual gradient =
      cavum_dual_chain_one(ratio, 1.0 / length->value, &voltage, -ratio / length->value,
                           length->uncertainty, CAVUM_INPUT_LENGTH);
  put(out, CAVUM_QUANTITY_VOLTAGE, &voltage);
  put(out, CAVUM_QUANTITY_E_ACC, &gradient);
  put_times(out, CAVUM_QUANTITY_E_PEAK, &gradient, &setup->epk_over_eacc,
            CAVUM_INPUT_EPK_OVER_EACC);
  put_times(out, CAVUM_QUANTITY_B_PEAK, &gradient, &setup->bpk_over_eacc_t_per_v_per_m,
            CAVUM_INPUT_BPK_OVER_EACC);
}

void cavum_coldtest_put_fields(cavum_inverted *out, const cavum_coldtest_setup *setup,
                               const cavum_dual *flow, const cavum_dual *wall,
                               const cavum_dual *omega, const cavum_dual *transmitted) {
  cavum_dual q0 = cavum_dual_divide(flow, wall);
  put(out, CAVUM_QUANTITY_Q0, &q0);
  if (transmitted) put_ratio(out, CAVUM_QUANTITY_Q_PICKUP, flow, transmitted);
  put_ratio(out, CAVUM_QUANTITY_STORED_ENERGY, flow, omega);
  put_fields(out, setup, flow);
  const cavum_estimate *factor = &setup->geometry_factor_ohm;
  if (factor->value > 0.0) {
    double ratio = factor->value / q0.value;
    cavum_dual resistance = cavum_dual_chain_one(ratio, -ratio / q0.value, &q0, 1.0 / q0.value,
                                                 factor->uncertainty, CAVUM_INPUT_GEOMETRY_FACTOR);
    put(out, CAVUM_QUANTITY_SURFACE_RESISTANCE, &resistance);
  }
  const cavum_estimate *rest = &setup->static_heat_w;
  if (rest->value > 0.0) {
    cavum_dual heat = cavum_dual_chain_one(wall->value + rest->value, 1.0, wall, 1.0,
                                           rest->uncertainty, CAVUM_INPUT_STATIC_HEAT);
    put(out, CAVUM_QUANTITY_BATH_HEAT, &heat);
  }
}
