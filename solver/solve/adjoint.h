// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/adjoint.h
 * Adjoint fields of numbers of a mode, and the forms of the change that the mode brings to them.
 */
#ifndef CAVUM_SOLVE_ADJOINT_H
#define CAVUM_SOLVE_ADJOINT_H

#include "eigen/bordered.h"
#include "fem/form_gradient.h"
#include "figures/functional.h"
#include "solve/solution.h"

/** The mode whose numbers they are. */
typedef struct cavum_adjoint_mode {
  cavum_solution *solution; /**< Borrowed: its pencils are solved with. */
  int mode, below;          /**< Which mode, at which degree below the highest. */
  const double *vector;     /**< Borrowed: its vector, there or improved, [num_unknowns]. */
  double k2_per_m2;
  bool opposite;     /**< Solves are those of the other symmetry class. */
  double far_per_m2; /**< Shift of the factors before cavum_adjoint_bring_close(); 0: unchanged. */
} cavum_adjoint_mode;

/** The mode of a view. */
cavum_adjoint_mode cavum_adjoint_mode_of(cavum_solution *solution, int mode, int below,
                                         const cavum_view *view);

/**
 * Turns to the other symmetry class of a half model: what a motion that is odd about the mirror
 * plane does to a mode is of that class. Of a number J of the half, with the z of that class,
 *
 *     dJ = J_shape - z^T (dK - k^2 dM) x,    (K - k^2 M) z = J_x,
 *
 * since k^2 and x^T M x stay.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_adjoint_turn_to_opposite(cavum_adjoint_mode *mode, cavum_skeletons *skeletons,
                                            cavum_error *error);

/**
 * Factorises close to the mode where the factors of the solution are far from it, as they are where
 * several modes were asked for.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_adjoint_bring_close(cavum_adjoint_mode *mode, cavum_error *error);

/** The bordered problem at a mode. */
cavum_bordered cavum_adjoint_problem(const cavum_adjoint_mode *mode, double accuracy);

/**
 * Solves (K - k^2 M) z = J_x - M x (x^T J_x) for numbers J of one mode, or J_x in the other class.
 * Where the factors of the solution do not serve, its pencil is factorised once more, close to the
 * mode.
 *
 * @param[out] z         Shape [count][num_unknowns].
 * @param[out] start     As in cavum_bordered_solve().
 * @param[out] solved    False where another mode is too close; z is then of no use.
 * @param[in]  mode      Of the numbers.
 * @param[in]  accuracy  Relative, of z.
 * @param[in]  numbers   Shape [count]: with their derivatives by the vector.
 * @param[in]  count     1 to CAVUM_BORDERED_MOST.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY, CAVUM_ERR_STOPPED
 */
cavum_status cavum_adjoint_solve(double *const *z, cavum_bordered_start *start, bool *solved,
                                 const cavum_adjoint_mode *mode, double accuracy,
                                 const cavum_functional *const *numbers, int count,
                                 cavum_error *error);

/**
 * The form of what the change of the mode does to a number: see mode_functionals.h.
 * @param[out] u  That of the form, [num_unknowns]; may be z itself.
 * @param[in]  z  The adjoint vector.
 */
cavum_form cavum_adjoint_form(double *u, const double *z, const cavum_adjoint_mode *mode,
                              const cavum_functional *number);

#endif
