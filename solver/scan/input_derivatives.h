// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/input_derivatives.h
 * Derivatives of figures by the inputs of a study.
 */
#ifndef CAVUM_SCAN_INPUT_DERIVATIVES_H
#define CAVUM_SCAN_INPUT_DERIVATIVES_H

#include "cavum/solve.h"
#include "scan/study.h"

/** Name of an input as dimensions of cells are named: without the word contour. */
const char *cavum_input_dimension(const cavum_input *input);

/** What cavum_solve_options has as derivatives_of for a study; 0: it keeps no derivatives. */
uint64_t cavum_study_differentiated(const cavum_study *study);

/**
 * Derivative of a figure by an input, the others fixed, in SI per unit of the cell file. Where the
 * input sets both halves and these differ in the cell, it is the sum of those by each; where it
 * sets one of two equal halves, the result has none.
 */
cavum_derivative cavum_input_derivative(const cavum_result *result, int mode,
                                        const cavum_input *input, cavum_figure_id id);

#endif
