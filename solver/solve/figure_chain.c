// SPDX-License-Identifier: GPL-3.0-or-later
// Definitions of the figures as products (cavum/figures.h), at a stored energy of one joule.
#include "solve/figure_chain.h"

static cavum_figure_chain of_f(double power) {
  return (cavum_figure_chain){.known = true, .power = {[CAVUM_FUNCTIONAL_K2] = 0.5 * power}};
}

static cavum_figure_chain of_voltage(double voltage, double f) {
  cavum_figure_chain chain = of_f(f);
  chain.power[CAVUM_FUNCTIONAL_VOLTAGE] = voltage;
  return chain;
}

static cavum_figure_chain with(cavum_figure_chain chain, cavum_functional_id part, double power) {
  chain.power[part] += power;
  return chain;
}

static cavum_figure_chain over_gradient(cavum_functional_id part) {
  cavum_figure_chain chain = with(of_voltage(-1.0, 0.0), part, 1.0);
  chain.length_power = 1.0;
  return chain;
}

cavum_figure_chain cavum_figure_chain_of(cavum_figure_id id, double resistance) {
  cavum_figure_chain chain = {.known = false};
  switch (id) {
    case CAVUM_FIGURE_FREQUENCY:
      return of_f(1.0);
    case CAVUM_FIGURE_R_OVER_Q_LINAC:
    case CAVUM_FIGURE_R_OVER_Q_CIRCUIT:
      return of_voltage(2.0, -1.0);
    case CAVUM_FIGURE_LOSS_FACTOR:
      return of_voltage(2.0, 0.0);
    case CAVUM_FIGURE_VOLTAGE_AT_1_J:
      return of_voltage(1.0, 0.0);
    case CAVUM_FIGURE_EACC_AT_1_J:
      chain = of_voltage(1.0, 0.0);
      chain.length_power = -1.0;
      return chain;
    case CAVUM_FIGURE_GEOMETRY_FACTOR:
      return with(of_f(1.0), CAVUM_FUNCTIONAL_LOSS, -1.0);
    case CAVUM_FIGURE_G_TIMES_R_OVER_Q:
      return with(of_voltage(2.0, 0.0), CAVUM_FUNCTIONAL_LOSS, -1.0);
    case CAVUM_FIGURE_EPK_OVER_EACC:
      return over_gradient(CAVUM_FUNCTIONAL_PEAK_E);
    case CAVUM_FIGURE_BPK_OVER_EACC:
      return over_gradient(CAVUM_FUNCTIONAL_PEAK_H);
    case CAVUM_FIGURE_TRANSIT_TIME_FACTOR:
      return with(of_voltage(1.0, 0.0), CAVUM_FUNCTIONAL_INTEGRAL, -1.0);
    case CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS:
      return with(of_voltage(1.0, 0.0), CAVUM_FUNCTIONAL_SIZES, -1.0);
    case CAVUM_FIGURE_SURFACE_RESISTANCE:
      return of_f(resistance);
    case CAVUM_FIGURE_Q0:
      return with(of_f(1.0 - resistance), CAVUM_FUNCTIONAL_LOSS, -1.0);
    case CAVUM_FIGURE_SHUNT_IMPEDANCE:
      return with(of_voltage(2.0, -resistance), CAVUM_FUNCTIONAL_LOSS, -1.0);
    case CAVUM_FIGURE_WALL_POWER:
      chain = with(of_voltage(-2.0, resistance), CAVUM_FUNCTIONAL_LOSS, 1.0);
      chain.length_power = 2.0;
      return chain;
    case CAVUM_FIGURE_BETA_OPTIMUM:
    case CAVUM_FIGURE_R_OVER_Q_OPTIMUM:
    case CAVUM_FIGURE_TUBE_CUT_FREQUENCY:
    case CAVUM_FIGURE_TUBE_CUT_R_OVER_Q:
    case CAVUM_NUM_FIGURES:
      break;
  }
  return chain;
}
