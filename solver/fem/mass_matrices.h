// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/mass_matrices.h
 * M of every element, for iterations that multiply many vectors by M at a low degree: products with
 * the matrices take fewer operations than values at the points of the rule then.
 */
#ifndef CAVUM_FEM_MASS_MATRICES_H
#define CAVUM_FEM_MASS_MATRICES_H

#include "fem/discretisation.h"

/** The matrices of a discretisation. */
typedef struct cavum_mass_matrices {
  const cavum_discretisation *discretisation; /**< Borrowed. */
  cavum_lanes *entries; /**< Owned: lower triangles by columns, batch by batch, of the global
                             functions; NULL where the kernels of fem/apply.h are as good. */
} cavum_mass_matrices;

/**
 * Makes the matrices, at a degree where they pay.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_mass_matrices_create(cavum_mass_matrices *matrices,
                                        const cavum_discretisation *discretisation,
                                        cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_mass_matrices_clear(cavum_mass_matrices *matrices);

/** y = M x, shapes [num_unknowns]; no boundary condition is applied. */
void cavum_mass_matrices_apply(double *y, const cavum_mass_matrices *matrices, const double *x);

#endif
