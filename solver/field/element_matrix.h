// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element_matrix.h
 * The matrix K - shift M of one element.
 */
#ifndef CAVUM_ELEMENT_MATRIX_H
#define CAVUM_ELEMENT_MATRIX_H

#include "discretisation.h"

/** Doubles of scratch that cavum_element_matrix() wants. */
int64_t cavum_element_matrix_scratch(const cavum_reference *reference);

/**
 * A = K - shift M of one element in its own plain functions (see cavum_discretisation_signs()), the
 * interior functions first and then the skeleton ones, each in local order.
 * @param[out] A        Column-major, lower triangle valid, shape [shapes, shapes].
 * @param[in]  scratch  Shape [cavum_element_matrix_scratch()].
 */
void cavum_element_matrix(double *A, const cavum_discretisation *discretisation,
                          cavum_index element, double shift_per_m2, double *scratch);

#endif
