// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file axis.h
 * E_z on the axis: accelerating voltage, transit-time factors, R/Q against the particle speed.
 */
#ifndef CAVUM_AXIS_H
#define CAVUM_AXIS_H

#include "view.h"

/** E_z(0, z) at quadrature points of the axis, with the weights of a line integral over z. */
typedef struct cavum_axis_samples {
  cavum_index count;
  double *z_m, *weight_m, *e_z_v_per_m; /**< Owned (one block at z_m), [count]. */
  cavum_parity parity;                  /**< Samples cover z >= 0 only unless NONE. */
} cavum_axis_samples;

/**
 * Samples the axis finely enough for phase factors exp(j w z / (beta c)) down to beta_least.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_axis_sample(cavum_axis_samples *samples, const cavum_view *view,
                               double beta_least, cavum_error *error);

/** Frees the samples; NULL is accepted. */
void cavum_axis_samples_clear(cavum_axis_samples *samples);

/** A complex number as its two parts, for the phase of a voltage. */
typedef struct cavum_phasor {
  double re, im;
} cavum_phasor;

/** int E_z(0, z) exp(j k z / beta) dz over the whole axis, V at one joule. */
cavum_phasor cavum_axis_voltage(const cavum_axis_samples *samples, double k_per_m, double beta);

/** int E_z dz and int |E_z| dz over the whole axis, V at one joule. */
void cavum_axis_plain_integrals(double *of_e, double *of_abs, const cavum_view *view);

/** The beta in [from, 1] at which |V| is largest, to about 1e-9. */
double cavum_axis_best_beta(const cavum_axis_samples *samples, double k_per_m, double from);

/** Number of sign changes of E_z along the axis between lobes above a tenth of the largest. */
int cavum_axis_count_sign_changes(const cavum_axis_samples *samples);

#endif
