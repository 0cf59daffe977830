// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/mode_functionals.h
 * What the figures of a mode are made of, with derivatives by the shape that take in how the mode
 * changes.
 */
#ifndef CAVUM_SOLVE_MODE_FUNCTIONALS_H
#define CAVUM_SOLVE_MODE_FUNCTIONALS_H

#include "element/mesh_gradient.h"
#include "solve/mode_adjoints.h"
#include "solve/solution.h"

/** The numbers that figures are products of. */
typedef enum cavum_functional_id {
  CAVUM_FUNCTIONAL_K2,       /**< k^2. */
  CAVUM_FUNCTIONAL_LOSS,     /**< oint |H|^2 dS. */
  CAVUM_FUNCTIONAL_VOLTAGE,  /**< |V| at the particle speed of the cell. */
  CAVUM_FUNCTIONAL_INTEGRAL, /**< |int E_z dz|. */
  CAVUM_FUNCTIONAL_SIZES,    /**< int |E_z| dz. */
  CAVUM_FUNCTIONAL_PEAK_E,   /**< Largest |E| on metal. */
  CAVUM_FUNCTIONAL_PEAK_H,   /**< Largest |H| on metal. */
  CAVUM_FUNCTIONAL_OTHER_E,  /**< |E| at another place where it is as large, if there is one. */
  CAVUM_FUNCTIONAL_OTHER_H,  /**< The same of |H|. */
  CAVUM_NUM_FUNCTIONALS
} cavum_functional_id;

/** The last of them: fields at the places of peaks. */
enum { CAVUM_NUM_PEAK_PARTS = CAVUM_NUM_FUNCTIONALS - CAVUM_FUNCTIONAL_PEAK_E };

/** One of them. */
typedef struct cavum_mode_functional {
  bool exists;
  const char *reason; /**< Why there is no derivative; static, else NULL. */
  double value, by_beta;
  cavum_mesh_gradient gradient; /**< Owned: by the curves of the contour, all else following. */
} cavum_mode_functional;

/** All of one mode at one degree. */
typedef struct cavum_mode_functionals {
  cavum_mode_functional parts[CAVUM_NUM_FUNCTIONALS];
  /** Of a half model, from CAVUM_FUNCTIONAL_PEAK_E on: the peaks that stand off its plane, with
   * what motions do to them that are odd about it. At the other side it has the other sign. */
  cavum_mode_functional odd[CAVUM_NUM_PEAK_PARTS];
  bool sizes_as_integral; /**< E_z has one sign: CAVUM_FUNCTIONAL_SIZES is
                             CAVUM_FUNCTIONAL_INTEGRAL. */
} cavum_mode_functionals;

/** Where the peaks of E ([1]) and H ([0]) stand, at up to two places each. */
typedef struct cavum_peak_places {
  const cavum_solution *of;          /**< Borrowed: at its highest degree. */
  const cavum_wall_samples *samples; /**< Borrowed: there; NULL: none. */
  cavum_peak_place places[2][2];
  int count[2];
  bool is_mirrored[2][2]; /**< It stands off the plane of a half model, so at both its sides. */
} cavum_peak_places;

/** What they are computed from. */
typedef struct cavum_mode_functionals_input {
  cavum_solution *solution; /**< Borrowed: its pencils are solved with. */
  int mode, below;          /**< Which mode, at which degree below the highest. */
  const cavum_mesh_boundary *boundary;
  const cavum_cell *cell;
  const cavum_mesh_follower *follower;
  cavum_skeletons *mirror; /**< Plans of a half model that moves in ways that are odd about its
                              plane; NULL: it does not, or is none. */
  cavum_mode_adjoints *adjoints, *odd_adjoints; /**< As in cavum_mode_adjoints_request; the second
                                                   ones of the other symmetry class. */
  cavum_adjoint_memory *memory, *odd_memory;    /**< Likewise. */
  const cavum_wall_samples *samples; /**< Borrowed: of the mode at the highest degree; NULL: taken
                                        here. */
  const cavum_peak_places *peaks; /**< Where fields are taken as peaks; needed with their parts. */
  int num_degrees;                /**< Of the solution, how many from the highest down. */
  const bool *needed;             /**< Shape [CAVUM_NUM_FUNCTIONALS]: parts that are asked for;
                                     CAVUM_FUNCTIONAL_K2 is made in any case. */
  const bool *needed_at_last;     /**< The same at the lowest of the degrees; NULL: as at others. */
  double *energy_mismatch;        /**< Out: of the mode, which its vector is evaluated for anyway;
                                     left alone where that was improved first. NULL: not wanted. */
} cavum_mode_functionals_input;

/**
 * Computes them at the highest degrees of a solution.
 *
 * For J(x, k, shape) of a mode with x^T M x = 1 and z with (K - k^2 M) z = J_x - M x (x^T J_x),
 *
 *     dJ = J_shape + (J_k / 2 k) d(k^2) - z^T (dK - k^2 dM) x - (x^T J_x / 2) x^T dM x,
 *     d(k^2) = x^T (dK - k^2 dM) x:
 *
 * one adjoint vector z for each J whatever the number of dimensions (mode_adjoints.h). What a
 * motion of a half model does that is odd about its plane is of the other symmetry class, and k^2
 * stays (cavum_adjoint_turn_to_opposite()).
 *
 * @param[out] made   Shape [input->num_degrees], from the highest down; release each with
 *                    cavum_mode_functionals_clear(); untouched unless CAVUM_OK.
 * @param[in]  input  Its `below` is not used.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY, CAVUM_ERR_STOPPED
 */
cavum_status cavum_mode_functionals_compute(cavum_mode_functionals *made,
                                            const cavum_mode_functionals_input *input,
                                            cavum_error *error);

/**
 * Finds the peaks of a mode. Other degrees on the same mesh take the maxima next to them: the place
 * of a maximum, to first order, is of no account to the field there, but it is to the field's
 * derivative by the shape.
 * @param[in] tie  How much less than the first, relative, the second of H ([0]) and E ([1]) may be
 *                 and is still one of two peaks.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_mode_functionals_place_peaks(cavum_peak_places *peaks,
                                                const cavum_mode_functionals_input *input,
                                                const double tie[2], cavum_error *error);

/** Relative accuracy of the solves. */
double cavum_mode_functionals_accuracy(const cavum_cell *cell);

/** Whether the vector of a mode is first freed of what the iteration left in it. */
bool cavum_mode_functionals_polish(const cavum_cell *cell);

/** Frees what they own; NULL is accepted. */
void cavum_mode_functionals_clear(cavum_mode_functionals *functionals);

#endif
