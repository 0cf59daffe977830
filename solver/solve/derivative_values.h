// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/derivative_values.h
 * Derivatives of the figures of one mode at the degrees of a solution, on their way to a result.
 */
#ifndef CAVUM_SOLVE_DERIVATIVE_VALUES_H
#define CAVUM_SOLVE_DERIVATIVE_VALUES_H

#include "solve/mode_functionals.h"
#include "solve/shape_motion.h"

/** Degrees that are enough on a smooth contour. */
enum { CAVUM_DEGREES_ON_SMOOTH = 2 };

/** The figures that are peaks: of E, of H. */
enum { CAVUM_NUM_PEAKS = 2 };

/** Where else a peak may stand: at a second place, and at the other side of a mirror plane. */
enum { CAVUM_OTHER_PLACES = 3 };

/**
 * Parts of a mode whose rates are followed one by one: CAVUM_FUNCTIONAL_VOLTAGE and the next two,
 * which are integrals to the ends of the axis, and CAVUM_FUNCTIONAL_PEAK_E.
 */
enum { CAVUM_NUM_AXIS_PARTS = 3, CAVUM_NUM_FOLLOWED_PARTS = 4 };

/** The rate of the logarithm of one of them by a dimension, and how it changed with the degree. */
typedef struct cavum_followed_rate {
  int count;
  double value, change[2]; /**< The last two changes, the latest first. */
} cavum_followed_rate;

/** Values of one derivative at the degrees of up to two solutions. */
typedef struct cavum_derivative_sequence {
  int count;
  double value[2 * CAVUM_LEVELS_MOST], error[2 * CAVUM_LEVELS_MOST];
} cavum_derivative_sequence;

/** Sequences of all derivatives of one mode, by dimension and figure, and why there are none. */
typedef struct cavum_derivative_values {
  const cavum_shape_motion *motion;                       /**< Borrowed. */
  uint64_t figures;                                       /**< That are asked for, one bit each. */
  cavum_derivative_sequence (*values)[CAVUM_NUM_FIGURES]; /**< Owned, [dimensions]. */
  const char *(*reason)[CAVUM_NUM_FIGURES]; /**< Owned, likewise; NULL: there is one. */
  cavum_derivative_sequence (
      *other)[CAVUM_NUM_PEAKS][CAVUM_OTHER_PLACES]; /**< Owned: of peaks at their other places. */
  bool (*is_split)[CAVUM_NUM_PEAKS];                /**< Owned: whether that changes otherwise. */
  cavum_peak_places peaks;
  cavum_followed_rate (*followed)[CAVUM_NUM_FOLLOWED_PARTS]; /**< Owned, [dimensions]. */
  bool one_axis_edge;          /**< One edge of the mesh reaches from end to end of the axis. */
  bool only_followed_at_third; /**< On a smooth contour, where two degrees are enough for others. */
  double peak_of_mesh;         /**< E_pk / E_acc at the last degree of the whole mesh; 0: none. */
} cavum_derivative_values;

/**
 * Empty ones.
 * @param[out] values   Release them with cavum_derivative_values_clear().
 * @param[in]  figures  That are asked for, one bit each.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_derivative_values_create(cavum_derivative_values *values,
                                            const cavum_shape_motion *motion, uint64_t figures,
                                            cavum_error *error);

/** Frees what they own. */
void cavum_derivative_values_clear(cavum_derivative_values *values);

/** One degree more. */
static inline void cavum_derivative_sequence_add(cavum_derivative_sequence *sequence, double value,
                                                 double error) {
  sequence->value[sequence->count] = value;
  sequence->error[sequence->count++] = error;
}

/** Which of the peaks a figure is; -1: none. */
static inline int cavum_derivative_peak_of(int id) {
  return id == CAVUM_FIGURE_EPK_OVER_EACC ? 0 : id == CAVUM_FIGURE_BPK_OVER_EACC ? 1 : -1;
}

/** Whether a figure is one of those that are asked for. */
static inline bool cavum_derivative_is_asked(uint64_t figures, int id) { return figures >> id & 1; }

#endif
