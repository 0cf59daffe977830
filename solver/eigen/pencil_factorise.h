// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/pencil_factorise.h
 * Factorisation of a pencil at a shift.
 */
#ifndef CAVUM_EIGEN_PENCIL_FACTORISE_H
#define CAVUM_EIGEN_PENCIL_FACTORISE_H

#include "eigen/pencil.h"

/**
 * Factorises K - shift M at all levels (of a lean pencil at the highest), unless that is what is
 * there; by Sylvester's law the num_negative of a level is then the number of its modes below the
 * shift.
 *
 * There is no pivoting. Where that would be unsafe (the shift is close to an eigenvalue of a
 * leading part) the shift is raised by a few millionths, at most by 1.2 thousandths;
 * pencil->shift_per_m2 is the one used.
 *
 * @param[in,out] condensed  The same discretisation with as many levels; eliminated here. It stays
 *                           in use until the next factorisation.
 * @retval CAVUM_ERR_LIBRARY  no safe shift nearby.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_pencil_factorise(cavum_pencil *pencil, cavum_condensed *condensed,
                                    double shift_per_m2, cavum_error *error);

/**
 * The same at this very shift, of a pencil that is not lean.
 * @param[out] safe  Whether that is safe; where it is not, nothing is factorised.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_pencil_factorise_once(bool *safe, cavum_pencil *pencil,
                                         cavum_condensed *condensed, double shift_per_m2,
                                         cavum_error *error);

/**
 * The same in single precision where the pencil is lean: half the memory and the time. What is
 * solved with it is good to some 1e-4 (pencil->is_single says so), which serves to correct vectors
 * whose residuals are at hand, and num_negative is that of a matrix as far off.
 */
cavum_status cavum_pencil_factorise_single(cavum_pencil *pencil, cavum_condensed *condensed,
                                           double shift_per_m2, cavum_error *error);

/** The same as cavum_pencil_factorise() where the solves begin at another level than the highest: a
 * lean pencil is factorised there, and num_negative of other levels tells nothing yet. */
cavum_status cavum_pencil_factorise_from(cavum_pencil *pencil, cavum_condensed *condensed,
                                         double shift_per_m2, int level, cavum_error *error);

/**
 * Makes sure that a level can be solved at: a lean pencil is factorised there, at the shift that
 * was asked for last, in double precision. Where that is unsafe at this level, shift_per_m2
 * changes.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY  as above.
 */
cavum_status cavum_pencil_reach_level(cavum_pencil *pencil, int level, cavum_error *error);

/** The same in the precision that the factors have (pencil->is_single). */
cavum_status cavum_pencil_reach_level_as_is(cavum_pencil *pencil, int level, cavum_error *error);

#endif
