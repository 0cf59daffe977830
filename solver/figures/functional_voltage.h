// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/functional_voltage.h
 * Functionals of voltages, from H_phi along the outline or E_z along the axis.
 */
#ifndef CAVUM_FIGURES_FUNCTIONAL_VOLTAGE_H
#define CAVUM_FIGURES_FUNCTIONAL_VOLTAGE_H

#include "figures/axis.h"
#include "figures/functional.h"

/**
 * |V| from the outline, as cavum_outline_voltage().
 * @param[in] voltage  What that gives.
 */
void cavum_functional_add_outline(cavum_functional *functional, const cavum_view *view,
                                  const cavum_wall_traces *traces, double beta,
                                  const cavum_phasor *voltage);

/** |int E_z dz| from the outline, as cavum_outline_integral(), which gives the sign. */
void cavum_functional_add_outline_integral(cavum_functional *functional, const cavum_view *view,
                                           const cavum_wall_traces *traces, double integral);

/** What is integrated along the axis. */
typedef enum cavum_axis_part {
  CAVUM_AXIS_VOLTAGE,  /**< |V|. */
  CAVUM_AXIS_INTEGRAL, /**< |int E_z dz|. */
  CAVUM_AXIS_SIZES     /**< int |E_z| dz. */
} cavum_axis_part;

/**
 * `factor` times an integral along the axis, as of cavum_axis_voltage() and
 * cavum_axis_plain_integrals().
 * @param[in] voltage  Of CAVUM_AXIS_VOLTAGE: V; of CAVUM_AXIS_INTEGRAL: the integral as re.
 */
void cavum_functional_add_axis(cavum_functional *functional, const cavum_view *view,
                               const cavum_wall_traces *traces, cavum_axis_part part, double factor,
                               double beta, const cavum_phasor *voltage);

/** Only d|V|/d(beta) at fixed vector and shape, from the axis, is added to by_beta. */
void cavum_functional_add_beta(cavum_functional *functional, const cavum_view *view,
                               const cavum_wall_traces *traces, double beta,
                               const cavum_phasor *voltage);

#endif
