// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file design/drawn.h
 * Many shapes near a cell, solved by several threads.
 */
#ifndef CAVUM_DESIGN_DRAWN_H
#define CAVUM_DESIGN_DRAWN_H

#include "design/trial.h"

/** What all of them share. */
typedef struct cavum_drawn {
  const cavum_trial *trial;           /**< Borrowed: its cell and dimensions. */
  const cavum_solve_options *options; /**< Borrowed: of each solve. Its watcher, log and question
                                           are called in the calling thread alone. */
  const double *nominal; /**< Borrowed, shape [num_dimensions]: each solver begins there. */
  int mode;              /**< Whose figures, from 0. */
  int num_threads;       /**< At most; 0: one for each processor that this thread may run on. */
} cavum_drawn;

/**
 * Solves one shape with a solver that has the cell in its memory.
 * @param[out] figures  Shape [CAVUM_NUM_FIGURES]: SI; NAN what is not there, and all of a shape
 *                      that could not be solved.
 * @param[in]  values   Shape [num_dimensions], in the units of the keys.
 * @return what no other shape would mend: CAVUM_ERR_FILE, CAVUM_ERR_INTERNAL, CAVUM_ERR_MEMORY,
 *         CAVUM_ERR_STOPPED, CAVUM_ERR_USAGE.
 */
cavum_status cavum_drawn_solve_one(double figures[CAVUM_NUM_FIGURES], cavum_solver *solver,
                                   const cavum_drawn *drawn, const double *values,
                                   cavum_error *error);

/**
 * Solves many. They are cut into rows of neighbours, each with a solver of its own: how many rows
 * there are depends on the count alone, so that numbers do not depend on the threads.
 * @param[out] figures  Shape [count][CAVUM_NUM_FIGURES], as above.
 * @param[in]  values   Shape [count][num_dimensions].
 * @return as above; of the first row that ended with one.
 */
cavum_status cavum_drawn_solve(double *figures, const cavum_drawn *drawn, const double *values,
                               int count, cavum_error *error);

#endif
