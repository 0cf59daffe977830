// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/mode_functionals.h
 * What the figures of a mode are made of, with derivatives by the shape that take in how the mode
 * changes.
 */
#ifndef CAVUM_SOLVE_MODE_FUNCTIONALS_H
#define CAVUM_SOLVE_MODE_FUNCTIONALS_H

#include "element/mesh_gradient.h"
#include "solve/adjoint_memory.h"
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
  bool sizes_as_integral; /**< E_z has one sign: CAVUM_FUNCTIONAL_SIZES is
                             CAVUM_FUNCTIONAL_INTEGRAL. */
} cavum_mode_functionals;

/** What the adjoint solves at one degree leave for those at the degrees below it. */
typedef struct cavum_mode_adjoints {
  bool exists[CAVUM_NUM_FUNCTIONALS];
  double *products[CAVUM_NUM_FUNCTIONALS]; /**< Borrowed, each [num_unknowns]: of the vectors with
                                                M. */
  double *own;                             /**< Owned: those, where no memory has them. */
  const double
      *mode; /**< Borrowed: the vector of the mode there, [num_unknowns]; NULL: none yet. */
  double contraction; /**< Part of an error that one more solve leaves. */
} cavum_mode_adjoints;

/** Frees what it owns; NULL is accepted. */
void cavum_mode_adjoints_clear(cavum_mode_adjoints *adjoints);

/** Where the peaks of E ([1]) and H ([0]) stand, at up to two places each. */
typedef struct cavum_peak_places {
  const cavum_solution *of; /**< Borrowed: at its highest degree. */
  cavum_peak_place places[2][2];
  int count[2];
} cavum_peak_places;

/** What they are computed from. */
typedef struct cavum_mode_functionals_input {
  cavum_solution *solution; /**< Borrowed: its pencils are solved with. */
  int mode, below;          /**< Which mode, at which degree below the highest. */
  const cavum_mesh_boundary *boundary;
  const cavum_cell *cell;
  const cavum_mesh_follower *follower;
  cavum_mode_adjoints *adjoints;  /**< Of this mode at a higher degree, or empty: then filled. */
  cavum_adjoint_memory *memory;   /**< Of the cells before, then of this one; NULL: none is kept. */
  const cavum_peak_places *peaks; /**< Where fields are taken as peaks; needed with their parts. */
  int num_degrees;                /**< Of the solution, how many from the highest down. */
  const bool *needed;             /**< Shape [CAVUM_NUM_FUNCTIONALS]: parts that are asked for;
                                     CAVUM_FUNCTIONAL_K2 is made in any case. */
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
 * one adjoint vector z for each J whatever the number of dimensions. At the highest degree it is
 * solved for; those below it begin with that and improve it once: what is left is a small part of
 * what the two degrees differ by, which is all that they are for.
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
