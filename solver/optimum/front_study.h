// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/front_study.h
 * A front as a study: its points are shapes that anybody can compute again.
 */
#ifndef CAVUM_OPTIMUM_FRONT_STUDY_H
#define CAVUM_OPTIMUM_FRONT_STUDY_H

#include "optimum/goal.h"

/**
 * Writes the study.
 * @param[out] text   free() it; untouched unless CAVUM_OK.
 * @param[in]  front  Points are known.
 * @param[in]  goal   Of it.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_front_write_study(char **text, const cavum_front *front, const cavum_goal *goal,
                                     cavum_error *error);

#endif
