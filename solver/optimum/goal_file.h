// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/goal_file.h
 * Goal files: from YAML to a goal whose names are bound to places in the base cell.
 */
#ifndef CAVUM_OPTIMUM_GOAL_FILE_H
#define CAVUM_OPTIMUM_GOAL_FILE_H

#include "optimum/goal.h"

/**
 * Reads the text of a goal.
 * @param[in,out] goal   Its study has path and text; everything else is set.
 * @param[in]     cell   The base cell; NULL: the file that the goal names.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_FILE, CAVUM_ERR_INPUT, CAVUM_ERR_GEOMETRY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_goal_read(cavum_goal *goal, const cavum_cell *cell, cavum_error *error);

#endif
