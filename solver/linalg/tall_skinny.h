// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/tall_skinny.h
 * Products of tall thin matrices: a few vectors of many unknowns. The general product of a BLAS is
 * made for other shapes and several times slower here.
 */
#ifndef CAVUM_LINALG_TALL_SKINNY_H
#define CAVUM_LINALG_TALL_SKINNY_H

#include "cavum/contour.h"

/** Most vectors of a set. */
enum { CAVUM_TALL_SKINNY_MOST = 256 };

/**
 * C = A^T B.
 * @param[out] c     Column-major, [num_a, num_b] with leading dimension ldc.
 * @param[in]  a, b  Shapes [num_a][size] and [num_b][size].
 */
void cavum_tall_skinny_product(double *restrict c, int ldc, const double *restrict a, int num_a,
                               const double *restrict b, int num_b, cavum_index size);

/**
 * The first `to` vectors become combinations of all `from`: v_j = sum_i v_i c(i, j).
 * @param[in,out] v     Shape [from][size]; those from `to` on are left as they are.
 * @param[in]     c     Column-major, [from, to] with leading dimension ldc.
 * @param[in]     from  At most CAVUM_TALL_SKINNY_MOST.
 */
void cavum_tall_skinny_combine(double *v, cavum_index size, int from, int to,
                               const double *restrict c, int ldc);

#endif
