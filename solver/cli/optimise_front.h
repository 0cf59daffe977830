// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/optimise_front.h
 * cavum optimise for a goal with a front.
 */
#ifndef CAVUM_CLI_OPTIMISE_FRONT_H
#define CAVUM_CLI_OPTIMISE_FRONT_H

#include "cavum/optimum.h"

/** What the command line says of a front. */
typedef struct cavum_optimise_front_choices {
  const char *goal_path;
  const char *output; /**< File of -o; NULL: none. */
  bool gather;        /**< The walk is done by parts, which are kept beside the output. */
  bool keep_parts;    /**< They stay afterwards. */
  bool overwrite;     /**< A walk that was stopped replaces an older file. */
  bool quiet;         /**< No table. */
} cavum_optimise_front_choices;

/**
 * Computes or gathers a front, writes its file and prints its table.
 * @retval CAVUM_ERR_STOPPED  by a signal: what points there are is written and printed.
 */
cavum_status cavum_optimise_front_run(cavum_goal *goal, const cavum_optimise_front_choices *choices,
                                      cavum_error *error);

#endif
