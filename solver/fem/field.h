// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/field.h
 * Values of one mode: fields inside elements, along walls and on the axis.
 *
 * Normalised to a stored energy of one joule in the meshed domain. H_phi is in phase with
 * exp(+j w t); E lags by a quarter period: the complex field is E = -j (e_z, e_r) with
 * e_z = (1 / (w eps r)) d(r H_phi)/dr and e_r = -(1 / (w eps)) dH_phi/dz, from curl H = j w eps E.
 */
#ifndef CAVUM_FEM_FIELD_H
#define CAVUM_FEM_FIELD_H

#include "fem/discretisation.h"

/** One mode, ready to be evaluated. */
typedef struct cavum_field {
  const cavum_discretisation *discretisation; /**< Borrowed. */
  const double *vector;                       /**< Borrowed: coefficients, [num_unknowns]. */
  double k2_per_m2;
  double angular_frequency; /**< w in rad/s. */
  double scale;             /**< Factor on the vector that gives one joule. */
} cavum_field;

/** Fields at a point. */
typedef struct cavum_field_point {
  double z_m, r_m;
  double h_phi_a_per_m, e_z_v_per_m, e_r_v_per_m;
} cavum_field_point;

/**
 * Makes a field of one joule from a vector with x^T M x = 1: U = (mu0 / 2) 2 pi scale^2.
 * The sign is chosen so that H_phi is positive where |H_phi| is largest among the vertices.
 */
cavum_field cavum_field_create(const cavum_discretisation *discretisation, const double *vector,
                               double k2_per_m2);

/** Fields at a reference point of an element; local holds cavum_field_gather(). */
cavum_field_point cavum_field_at(const cavum_field *field, cavum_index element, const double *local,
                                 double xi, double eta);

/** Most abscissae of cavum_field_on_grid(). */
enum { CAVUM_FIELD_GRID_MOST = 24 };

/**
 * Fields of a quadrilateral at all pairs of abscissae, faster than point by point.
 * @param[out] out    Shape [count count]: (x[i], x[j]) at j count + i.
 * @param[in]  local  cavum_field_gather().
 * @param[in]  x      Shape [count], at most CAVUM_FIELD_GRID_MOST, in [-1, 1].
 */
void cavum_field_on_grid(cavum_field_point *out, const cavum_field *field, cavum_index element,
                         const double *local, int count, const double *x);

/** Scaled coefficients of one element in local order, shape [CAVUM_SHAPES_MOST]. */
void cavum_field_gather(double *local, const cavum_field *field, cavum_index element);

/** What a wall sees at position s of a local edge. */
typedef struct cavum_wall_point {
  double z_m, r_m;
  double z_s, r_s;         /**< Derivative of the position with respect to s. */
  double h_phi_a_per_m;    /**< H_phi. */
  double h_s;              /**< dH_phi/ds. */
  double e_normal_v_per_m; /**< Normal E, positive into the domain. */
} cavum_wall_point;

/** Trace of a field on one local edge of an element. */
typedef struct cavum_trace {
  const cavum_field *field; /**< Borrowed. */
  cavum_index element;
  int local_edge;
  double coeff[CAVUM_DEGREE_MOST + 1]; /**< Scaled segment coefficients along the edge. */
} cavum_trace;

/** The trace on a local edge. */
cavum_trace cavum_trace_create(const cavum_field *field, cavum_index element, int local_edge);

/**
 * Fields on the wall at s in [-1, 1]. The normal E is (1 / (w eps r)) d(r H_phi)/ds over |dx/ds|,
 * from the trace alone.
 */
cavum_wall_point cavum_trace_at(const cavum_trace *trace, double s);

/** E_z on the axis at s of a trace whose edge is CAVUM_BOUNDARY_AXIS: 2 w / (w eps). */
double cavum_trace_axis_e_z(const cavum_trace *trace, double s);

/** E_r / r there: -(dw/dz) / (w eps). */
double cavum_trace_axis_e_r_over_r(const cavum_trace *trace, double s);

#endif
