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
 * A = K - shift M of one element in local order, with the orientation signs of the global numbering.
 * @param[out] A        Symmetric, both triangles, shape [shapes][shapes].
 * @param[in]  scratch  Shape [cavum_element_matrix_scratch()].
 */
void cavum_element_matrix(double *A, const cavum_discretisation *discretisation,
                          cavum_index element, double shift_per_m2, double *scratch);

#endif
