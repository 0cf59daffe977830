// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/axis.h
 * E_z on the axis: accelerating voltage, transit-time factors, R/Q against the particle speed.
 *
 * On every axis edge E_z is a polynomial in s; with its Legendre coefficients c_n the voltage of
 * the edge is exact for every particle speed, since int P_n(s) exp(j x s) ds = 2 j^n j_n(x) with
 * the spherical Bessel functions j_n [Olver2010] 10.54.2.
 */
#ifndef CAVUM_FIGURES_AXIS_H
#define CAVUM_FIGURES_AXIS_H

#include "figures/view.h"

/** E_z on one axis edge, run through by rising z. */
typedef struct cavum_axis_edge {
  double middle_m, half_m;             /**< z = middle + half s, from the mirror plane if any. */
  double coeff[CAVUM_DEGREE_MOST + 1]; /**< Legendre coefficients of E_z(s), V/m at one joule. */
  bool at_tip; /**< It ends at a tip where E_z is infinite, and of one sign: the polynomial swings.
                */
} cavum_axis_edge;

/** E_z on the whole axis of a mesh. */
typedef struct cavum_axis_field {
  cavum_index num_edges;
  int degree;
  cavum_parity parity;    /**< Edges cover one side of the plane only unless NONE. */
  cavum_axis_edge *edges; /**< Owned, by rising z. */
} cavum_axis_field;

/**
 * Expands E_z on the axis.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_axis_expand(cavum_axis_field *axis, const cavum_view *view, cavum_error *error);

/** Frees the edges; NULL is accepted. */
void cavum_axis_clear(cavum_axis_field *axis);

/** E_z at s in [-1, 1] of an edge. */
double cavum_axis_value(const cavum_axis_field *axis, cavum_index edge, double s);

/** A complex number as its two parts, for the phase of a voltage. */
typedef struct cavum_phasor {
  double re, im;
} cavum_phasor;

/**
 * int E_z(0, z) exp(j k z / beta) dz over the whole axis, V at one joule; z from the mirror plane
 * of a half model.
 */
cavum_phasor cavum_axis_voltage(const cavum_axis_field *axis, double k_per_m, double beta);

/** int E_z dz and int |E_z| dz over the whole axis, V at one joule. */
void cavum_axis_plain_integrals(double *of_e, double *of_abs, const cavum_axis_field *axis);

/**
 * Number of sign changes of E_z along the whole axis between lobes above a tenth of the largest.
 * @param[out] z_largest_m  Where |E_z| is largest, from the mirror plane if any; 0 without a field.
 */
int cavum_axis_count_sign_changes(double *z_largest_m, const cavum_axis_field *axis);

/** Spherical Bessel functions j_0(x) .. j_most(x), x >= 0, to about 1e-15 of the largest. */
void cavum_axis_spherical_bessel(double *j, int most, double x);

#endif
