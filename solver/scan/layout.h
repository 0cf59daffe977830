// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/layout.h
 * The columns of a row of a study.
 */
#ifndef CAVUM_SCAN_LAYOUT_H
#define CAVUM_SCAN_LAYOUT_H

#include "cavum/scan.h"

/** Offsets of the columns that are filled by name; -1: the study has no such column. */
typedef struct cavum_row_layout {
  int num_columns;
  cavum_column *columns; /**< Owned, shape [num_columns]. */
  size_t row_size;
  int shape, status, solves, first_input;
  int figure[CAVUM_NUM_FIGURES]; /**< Value; the uncertainty is the column after it. */
  int e_peak, b_peak;            /**< z; r is the column after it. */
  int coupling;                  /**< k_cc. */
  int zero_mode, pi_mode;        /**< f_0 and f_pi. */
  int geometry;                  /**< Wall angle, iris curvature. */
  int slope;                     /**< df / d(held dimension). */
  int length, elements, degree, unknowns;
} cavum_row_layout;

/**
 * Lays out the rows of a study.
 * @param[in,out] study  All but its layout is set.
 * @param[out]    error  May be NULL.
 */
cavum_status cavum_study_lay_out(cavum_study *study, cavum_error *error);

#endif
