// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/form_gradient.h
 * Derivatives of the forms K and M by the shape of the mesh, for fixed functions.
 */
#ifndef CAVUM_FEM_FORM_GRADIENT_H
#define CAVUM_FEM_FORM_GRADIENT_H

#include "element/mesh_gradient.h"
#include "fem/discretisation.h"

/** A function at the quadrature points of all batches. */
typedef struct cavum_point_values {
  const double *vector; /**< Borrowed: its coefficients. */
  cavum_lanes *values;  /**< Owned: batch by batch value, d_xi, d_eta, [3][points]. */
} cavum_point_values;

/**
 * Evaluates a function at all quadrature points.
 * @param[out] values  Release with cavum_point_values_clear().
 * @param[in]  vector  Borrowed.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_point_values_create(cavum_point_values *values,
                                       const cavum_discretisation *discretisation,
                                       const double *vector, cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_point_values_clear(cavum_point_values *values);

/** The derivative of K(u, x) - M(v, x), v = mass_u u + mass_x x, by the shape for fixed u, v, x. */
typedef struct cavum_form {
  const cavum_point_values *x, *u; /**< Borrowed. */
  double mass_u, mass_x;           /**< 1/m^2. */
} cavum_form;

/**
 * Adds the derivative of a form to a gradient, as the sums over the quadrature points have it.
 *
 * With c = r^3 or 1 / r and the columns X_xi, X_eta of the Jacobian, K has the coefficients
 * c |X_eta|^2 / J, -c X_xi . X_eta / J and c |X_xi|^2 / J at each point and M has c J; all are
 * differentiated by r, X_xi and X_eta, and these by the edges of the element.
 *
 * @param[in,out] gradient        Of the mesh of the discretisation, which has no nodes.
 * @param[in]     discretisation  Of both functions.
 * @param[in]     form            Which.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_form_gradient_add(cavum_mesh_gradient *gradient,
                                     const cavum_discretisation *discretisation,
                                     const cavum_form *form, cavum_error *error);

#endif
