// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/peak_side.h
 * At which side of a mirror-symmetric cell a peak is told to stand.
 */
#ifndef CAVUM_SOLVE_PEAK_SIDE_H
#define CAVUM_SOLVE_PEAK_SIDE_H

#include "cavum/solve.h"

/**
 * Peaks of a cell that is its own mirror image stand at both sides of its plane. Which of the two a
 * mesh of the whole cell finds is chance, so all are put where a half model has them: at larger z.
 * Other cells are left as they are.
 */
void cavum_peak_side_settle(cavum_result *result, const cavum_cell *cell);

#endif
