// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/pencil_factorise.h
 * Factorisation of a pencil at a shift.
 */
#ifndef CAVUM_EIGEN_PENCIL_FACTORISE_H
#define CAVUM_EIGEN_PENCIL_FACTORISE_H

#include "eigen/pencil.h"

/**
 * Factorises K - shift M at all levels, unless that is what is there; by Sylvester's law the
 * num_negative of a level is then the number of its modes below the shift.
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

#endif
