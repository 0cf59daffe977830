// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/quadrature.h
 * Gauss-Legendre and Gauss-Radau rules on [-1, 1].
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

/**
 * Gauss-Radau rule of count + 1 points with one at 1, which is left out: for integrands that vanish
 * there. Exact for polynomials of degree 2 count [AbramowitzStegun1964, 25.4.31].
 * @param[out] x      Abscissae, rising, shape [count].
 * @param[out] weight Their weights, shape [count].
 * @param[in]  count  1 to CAVUM_QUADRATURE_MOST.
 */
void cavum_quadrature_radau(double *x, double *weight, int count);

#endif
