// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/form_sums.h
 * Derivatives of the forms of a batch by its maps, summed up over the quadrature points to the
 * sides that the maps are blended between.
 */
#ifndef CAVUM_FEM_FORM_SUMS_H
#define CAVUM_FEM_FORM_SUMS_H

#include "fem/batch_map.h"

/** Forms that are summed up together. */
enum { CAVUM_FORMS_TOGETHER = 8 };

/** A function and its derivatives along xi and eta at the points of a batch. */
typedef struct cavum_point_values {
  cavum_lanes value[CAVUM_GRID_MOST], d_xi[CAVUM_GRID_MOST], d_eta[CAVUM_GRID_MOST];
} cavum_point_values;

/** What the forms have of a point that depends on the map alone. */
typedef struct cavum_form_point {
  cavum_lanes stiffness; /**< weight c / (eps_r J). */
  cavum_lanes mass;      /**< weight c mu_r. */
  cavum_lanes power;     /**< That of r in both, over r. */
  cavum_lanes inverse_jacobian;
} cavum_form_point;

/** Derivatives by a side of the maps, and by its derivative along the side. */
typedef struct cavum_form_side {
  cavum_lanes z[CAVUM_POINTS_MOST], r[CAVUM_POINTS_MOST];
  cavum_lanes z_x[CAVUM_POINTS_MOST], r_x[CAVUM_POINTS_MOST];
} cavum_form_side;

/** Derivatives by the ends of a side that runs along a chord, first that at x = -1. */
typedef struct cavum_form_ends {
  cavum_lanes z[2], r[2];
} cavum_form_ends;

/** A batch of elements of four corners whose map has no nodes. */
typedef struct cavum_form_batch {
  cavum_batch_map map;
  cavum_form_point points[CAVUM_GRID_MOST];
  int n;           /**< Points of the rule along an edge. */
  const double *x; /**< Borrowed, [n]: their places. */
  int num_halves;  /**< Of the lanes that have elements. */
  bool has_bumps;  /**< Some left or right side is curved; else those two are not summed up. */
} cavum_form_batch;

/** The factors of a mass form: of u and of x, 1/m^2. */
typedef struct cavum_form_masses {
  double of_u, of_x;
} cavum_form_masses;

/**
 * The points of a batch from its map.
 * @param[in] weight         Shape [n * n]: of the rule.
 * @param[in] inverse_eps_r  Of all lanes.
 * @param[in] mu_r           Of all lanes.
 * @param[in] is_w           Whether c = r^3; else 1 / r.
 */
void cavum_form_points_fill(cavum_form_batch *batch, const double *weight,
                            const cavum_lanes *inverse_eps_r, const cavum_lanes *mu_r, bool is_w);

/**
 * Derivatives of K(u, x) - M(v, x), v = of_u u + of_x x, of forms that share x.
 * @param[out] sides   Shape [count][4]: by bottom, right, top and left.
 * @param[in]  u       Shape [count].
 * @param[in]  masses  Shape [count].
 * @param[in]  count   At most CAVUM_FORMS_TOGETHER.
 */
void cavum_form_sums(cavum_form_side (*sides)[4], const cavum_form_batch *batch,
                     const cavum_point_values *x, const cavum_point_values *const *u,
                     const cavum_form_masses *masses, int count);

/** Derivatives of K(x, x) - mass M(x, x): cavum_form_sums() of u = x, where no other has this x. */
void cavum_form_sums_square(cavum_form_side sides[4], const cavum_form_batch *batch,
                            const cavum_point_values *x, double mass);

/** Derivatives by the ends of a side, if it runs along a chord. */
void cavum_form_ends_sum(cavum_form_ends *ends, const cavum_form_side *side,
                         const cavum_form_batch *batch);

#endif
