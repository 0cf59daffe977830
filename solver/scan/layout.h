// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/layout.h
 * The columns of a row of a study.
 */
#ifndef CAVUM_SCAN_LAYOUT_H
#define CAVUM_SCAN_LAYOUT_H

#include "cavum/geometry.h"
#include "cavum/scan.h"

/** Modes that a study may keep. */
enum { CAVUM_STUDY_MOST_MODES = 10 };

/** Columns of the figures of one mode; -1: the study has no such column. */
typedef struct cavum_mode_columns {
  int mode;                      /**< From 0. */
  int figure[CAVUM_NUM_FIGURES]; /**< Value; the uncertainty is the column after it. */
  int e_peak, b_peak;            /**< z; r is the column after it. */
  int label;                     /**< Code of the label; only with several modes. */
} cavum_mode_columns;

/** Longest unit of a derivative, with its end. */
enum { CAVUM_COLUMN_UNIT_SIZE = 40 };

/** Offsets of the columns that are filled by name; -1: the study has no such column. */
typedef struct cavum_row_layout {
  int num_columns;
  cavum_column *columns; /**< Owned, shape [num_columns]. */
  size_t row_size;
  int shape, status, solves, first_input;
  cavum_mode_columns main; /**< The mode of the study; its keys are those of the figures. */
  int num_others;
  cavum_mode_columns others[CAVUM_STUDY_MOST_MODES]; /**< Their keys begin with modes[N]. */
  int coupling;                                      /**< k_cc. */
  int zero_mode, pi_mode;                            /**< f_0 and f_pi. */
  int requirements; /**< First of [requirement][verdict, margin]; -1: the cell states none. */
  int geometry[CAVUM_NUM_GEOMETRY_FIGURES]; /**< Of the shape alone. */
  int slope;                                /**< df / d(held dimension). */
  int derivatives; /**< First of the derivatives, [figure][input][value, uncertainty]. */
  char (*units)[CAVUM_COLUMN_UNIT_SIZE]; /**< Owned: theirs, [figure][input]. */
  int length, elements, degree, unknowns;
} cavum_row_layout;

/**
 * Lays out the rows of a study.
 * @param[in,out] study  All but its layout is set.
 * @param[out]    error  May be NULL.
 */
cavum_status cavum_study_lay_out(cavum_study *study, cavum_error *error);

#endif
