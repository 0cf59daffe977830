// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/optimise_front.h
 * cavum optimise for a goal with a front.
 */
#ifndef CAVUM_CLI_OPTIMISE_FRONT_H
#define CAVUM_CLI_OPTIMISE_FRONT_H

#include "cavum/optimum.h"

/**
 * Finds a front, or gathers its parts, writes and prints it.
 * @param[in] goal_path   As given.
 * @param[in] output      File to write; NULL: none.
 * @param[in] gather      From the parts of the output.
 * @param[in] keep_parts  They stay afterwards.
 * @param[in] quiet       Nothing is printed.
 */
cavum_status cavum_optimise_front_run(cavum_goal *goal, const char *goal_path, const char *output,
                                      bool gather, bool keep_parts, bool quiet, cavum_error *error);

#endif
