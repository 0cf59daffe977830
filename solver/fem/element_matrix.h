// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/element_matrix.h
 * Element matrices K - shift M, a batch of elements at a time.
 */
#ifndef CAVUM_FEM_ELEMENT_MATRIX_H
#define CAVUM_FEM_ELEMENT_MATRIX_H

#include "fem/discretisation.h"

/** Workspace of cavum_element_matrices(), in lanes. */
int64_t cavum_element_matrix_scratch(const cavum_reference *reference);

/**
 * K - shift M of all elements of a batch.
 * @param[out] A        Packed lower triangle by columns (cavum_packed_column()) of the order
 *                      cavum_shape_count(): interior functions first, then the skeleton; of the
 *                      plain products, see cavum_discretisation::sign.
 * @param[in]  batch    Which batch.
 * @param[in]  scratch  Shape [cavum_element_matrix_scratch()].
 */
void cavum_element_matrices(cavum_lanes *restrict A, const cavum_discretisation *discretisation,
                            cavum_index batch, double shift_per_m2, cavum_lanes *restrict scratch);

#endif
