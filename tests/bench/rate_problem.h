// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file rate_problem.h
 * The discrete problem behind a result: what its arithmetic costs, and its matrices for others.
 */
#ifndef CAVUM_BENCH_RATE_PROBLEM_H
#define CAVUM_BENCH_RATE_PROBLEM_H

#include "cavum/solve.h"

/**
 * Floating-point operations that one factorisation at the degree and on the mesh of a result and
 * RATE_SOLVES solves with it take: an estimate of the least that finding one mode needs.
 *
 * Counted, a multiplication and an addition as two: element matrices by sum factorisation over
 * symmetric pairs of functions; the interior functions of every element eliminated; the fronts of
 * the skeleton; solves with a product M x each. Not counted: contour, mesh, figures, lower degrees.
 *
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status rate_problem_flops(double *flops, const cavum_result *result, cavum_error *error);

/** Inverse iteration from a good guess settles in as many solves. */
enum { RATE_SOLVES = 3 };

/** Operations a second of a large matrix product on this core, the fastest of several. */
double rate_problem_product_rate(void);

/**
 * Writes the assembled K and M of the mode class of the first mode, essential unknowns left out:
 * files pointers.bin (int64), columns.bin (int32), stiffness.bin and mass.bin (double) of one
 * compressed-row pattern.
 *
 * @param[out] num_rows  Order of the matrices.
 * @param[in]  folder    Where the files go.
 * @retval CAVUM_ERR_FILE, CAVUM_ERR_MEMORY
 */
cavum_status rate_problem_export(cavum_index *num_rows, const cavum_result *result,
                                 const char *folder, cavum_error *error);

#endif
