// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/study_conditions.h
 * Names in the expressions of a study, and conditions that its shapes must meet.
 */
#ifndef CAVUM_SCAN_STUDY_CONDITIONS_H
#define CAVUM_SCAN_STUDY_CONDITIONS_H

#include "scan/study.h"

/** What a condition may name: inputs, then figures, k_cc, figures of the shape, figures of each
 * mode. */
enum {
  CAVUM_CONDITION_FIGURES = CAVUM_STUDY_MOST_INPUTS,
  CAVUM_CONDITION_K_CC = CAVUM_CONDITION_FIGURES + CAVUM_NUM_FIGURES,
  CAVUM_CONDITION_GEOMETRY,
  CAVUM_CONDITION_MODES = CAVUM_CONDITION_GEOMETRY + CAVUM_NUM_GEOMETRY_FIGURES,
  CAVUM_CONDITION_NUM_VALUES = CAVUM_CONDITION_MODES + CAVUM_STUDY_MOST_MODES * CAVUM_NUM_FIGURES
};

/** Index of a figure of a mode that is not the study's. */
static inline int cavum_condition_of_mode(int mode, int figure) {
  return CAVUM_CONDITION_MODES + mode * CAVUM_NUM_FIGURES + figure;
}

/** A study with the finder of its base cell: the data of cavum_study_look_up(). */
typedef struct cavum_study_names {
  cavum_study *study;               /**< Borrowed. */
  const cavum_place_finder *finder; /**< Borrowed. */
} cavum_study_names;

/** Names in linked expressions: inputs so far, halves that follow them, else numbers of the base
 * cell. A cavum_expression_lookup. */
cavum_status cavum_study_look_up(cavum_expression_name *found, const char *name, const void *data,
                                 cavum_error *error);

/**
 * Adds a condition to the limits of a study.
 * @param[in,out] names  All inputs, figures and the coupling of the study are known.
 * @param[in]     text   Condition (condition.h) in the names of linked expressions, the keys of
 *                       figures that are kept, also of the shape, and k_cc.
 * @param[out]    error  May be NULL; without a place in the file.
 * @retval CAVUM_ERR_INPUT   no condition, an unknown name, or a figure that is not kept.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_study_add_condition(const cavum_study_names *names, const char *text,
                                       cavum_error *error);

/**
 * Whether rows of a study have a column, by the names of conditions.
 * @param[in,out] key    Shape [CAVUM_COLUMN_KEY_SIZE]: a name; the key of the column.
 * @param[in]     names  All inputs, figures and the coupling of the study are known.
 * @param[out]    error  May be NULL; without a place in the file.
 * @retval CAVUM_ERR_INPUT  no such column.
 */
cavum_status cavum_study_find_column(char *key, const cavum_study_names *names, cavum_error *error);

/**
 * Text of the first condition that does not hold; NULL: all of those asked about do.
 * @param[in] study    Open.
 * @param[in] values   Shape [CAVUM_CONDITION_NUM_VALUES].
 * @param[in] figures  True: conditions that name figures or k_cc. False: the others, which are
 *                     known before a shape is solved.
 */
const char *cavum_study_broken_condition(const cavum_study *study, const double *values,
                                         bool figures);

/** Frees the conditions of a study. */
void cavum_study_clear_conditions(cavum_study *study);

#endif
