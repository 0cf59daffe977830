// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/apply.h
 * The products K x and M x, and the sums behind the energies of functions.
 */
#ifndef CAVUM_FEM_APPLY_H
#define CAVUM_FEM_APPLY_H

#include "fem/batch_map.h"
#include "fem/discretisation.h"

/** A function and where its products go, shapes [num_unknowns]; no boundary condition is applied.
 */
typedef struct cavum_function_products {
  const double *x;
  double *mass, *stiffness; /**< M x and K x; NULL where it is not wanted. */
} cavum_function_products;

/**
 * Products of functions. On a large mesh the coefficients that these are made with come from
 * memory: functions that are multiplied together read them once.
 * @param[in] of  Shape [count]; no product may be in the place of a function.
 */
void cavum_discretisation_apply(const cavum_discretisation *discretisation,
                                const cavum_function_products *of, int count);

/** M x in the elements of a batch, of the plain products (cavum_discretisation::sign). */
void cavum_discretisation_local_mass(cavum_lanes *mx, const cavum_discretisation *discretisation,
                                     const cavum_batch *batch, const cavum_lanes *x);

/** y = M x, shapes [num_unknowns]; no boundary condition is applied. */
void cavum_discretisation_apply_mass(double *y, const cavum_discretisation *discretisation,
                                     const double *x);

/** y = K x, shapes [num_unknowns]; no boundary condition is applied. */
void cavum_discretisation_apply_stiffness(double *y, const cavum_discretisation *discretisation,
                                          const double *x);

/**
 * Values of a function and its derivatives along xi and eta at the points of a batch.
 * @param[out] value, d_xi, d_eta  Shape [cavum_reference_points()].
 * @param[in]  degree              Of the function, at most that of the discretisation: what it has
 *                                 above is taken to be zero.
 */
void cavum_discretisation_values(cavum_lanes *value, cavum_lanes *d_xi, cavum_lanes *d_eta,
                                 const cavum_discretisation *discretisation,
                                 const cavum_batch *batch, const double *x, int degree);

/**
 * The sums behind the stored energies of a function, from its fields at the quadrature points and
 * not from K and M: int (1/eps_r) |curl H|^2 r dr dz, with curl H = (E_z, E_r) w eps0 as the fields
 * are reported, and int mu_r H^2 r dr dz.
 */
typedef struct cavum_energy_sums {
  double curl2, h2;
} cavum_energy_sums;

/**
 * Those of functions.
 * @param[out] sums  Shape [count].
 * @param[in]  x     Shape [count]: the functions.
 */
void cavum_discretisation_energies(cavum_energy_sums *sums,
                                   const cavum_discretisation *discretisation,
                                   const double *const *x, int count);

/**
 * Adds those of one batch, of a function that was evaluated there.
 * @param[in] map     Of the batch.
 * @param[in] weight  Of the points.
 * @param[in] values  What cavum_discretisation_values() has, in its order.
 */
void cavum_discretisation_add_energies(cavum_energy_sums *sums,
                                       const cavum_discretisation *discretisation,
                                       const cavum_batch *batch, const cavum_batch_map *map,
                                       const double *weight, cavum_lanes *const values[3]);

#endif
