// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/form_gradient.h
 * Derivatives of the forms K and M by the shape of the mesh, for fixed functions.
 */
#ifndef CAVUM_FEM_FORM_GRADIENT_H
#define CAVUM_FEM_FORM_GRADIENT_H

#include "element/mesh_gradient.h"
#include "fem/apply.h"
#include "fem/discretisation.h"

/** The derivative of K(u, x) - M(v, x), v = mass_u u + mass_x x, by the shape for fixed u, v, x. */
typedef struct cavum_form {
  const double *u, *x;   /**< Borrowed: coefficients, [num_unknowns]. */
  double mass_u, mass_x; /**< 1/m^2. */
  int degree;            /**< Of both, where all that is above is zero; 0: of the discretisation. */
} cavum_form;

/**
 * Adds the derivatives of forms to a gradient of each, as the sums over the quadrature points have
 * them. Forms with the same x stand together: it is evaluated once then.
 *
 * With c = r^3 or 1 / r and the columns X_xi, X_eta of the Jacobian, K has the coefficients
 * c |X_eta|^2 / J, -c X_xi . X_eta / J and c |X_xi|^2 / J at each point and M has c J; all are
 * differentiated by r, X_xi and X_eta, and these by the edges of the element.
 *
 * @param[in,out] gradients       Shape [count]: of the mesh of the discretisation, which has no
 *                                nodes.
 * @param[in]     discretisation  Of all functions.
 * @param[in]     forms           Shape [count].
 * @param[in,out] energies        Those of the x of the first form are added, since it is evaluated
 *                                here; NULL: not wanted.
 */
void cavum_form_gradients_add(cavum_mesh_gradient *const *gradients,
                              const cavum_discretisation *discretisation, const cavum_form *forms,
                              int count, cavum_energy_sums *energies);

#endif
