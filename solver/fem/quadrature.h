// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/quadrature.h
 * Gauss-Legendre rules on [-1, 1].
 */
#ifndef CAVUM_FEM_QUADRATURE_H
#define CAVUM_FEM_QUADRATURE_H

/** Most points of a rule. */
enum { CAVUM_QUADRATURE_MOST = 64 };

/**
 * Gauss-Legendre rule, exact for polynomials of degree 2 count - 1.
 * @param[out] x      Abscissae, rising, shape [count].
 * @param[out] weight Weights, sum 2, shape [count].
 * @param[in]  count  1 to CAVUM_QUADRATURE_MOST.
 */
void cavum_quadrature_gauss(double *x, double *weight, int count);

#endif
