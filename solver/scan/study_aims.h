// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/study_aims.h
 * What a study is after: figures, each with the direction that is the better one.
 */
#ifndef CAVUM_SCAN_STUDY_AIMS_H
#define CAVUM_SCAN_STUDY_AIMS_H

#include "scan/study_conditions.h"

/**
 * Adds an aim to a study.
 * @param[in,out] names  All inputs, figures and the coupling of the study are known.
 * @param[in]     text   Key of a column that a row of the study has, with `:smaller` or `:larger`
 *                       behind it where that is not the figure's own direction.
 * @param[out]    error  May be NULL; without a place in the file.
 * @retval CAVUM_ERR_INPUT   no column, no direction, or named before.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_study_add_aim(const cavum_study_names *names, const char *text,
                                 cavum_error *error);

#endif
