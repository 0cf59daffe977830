// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/front_single.h
 * The kernels of front.h on fronts in single precision: half the memory, twice the pace, seven
 * digits. Vectors that are solved for stay in double precision.
 */
#ifndef CAVUM_LINALG_FRONT_SINGLE_H
#define CAVUM_LINALG_FRONT_SINGLE_H

#include "linalg/front.h"

/** As cavum_front_factorise(); elimination is trusted up to a growth that leaves four digits. */
cavum_front_pivots cavum_front_single_factorise(const cavum_dense_front *front);

/** As cavum_front_forward(). */
void cavum_front_single_forward(double *restrict x, const float *restrict panel, int leading, int k,
                                int count);

/** As cavum_front_backward(). */
void cavum_front_single_backward(double *restrict x, const float *restrict panel, int leading,
                                 int k, int count);

#endif
