// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file sparse_factor.h
 * Sparse symmetric factorisation; its implementation is the only file that sees CHOLMOD.
 */
#ifndef CAVUM_SPARSE_FACTOR_H
#define CAVUM_SPARSE_FACTOR_H

#include <stdbool.h>
#include <stdint.h>

#include "cavum/contour.h"
#include "cavum/status.h"

/** A symmetric pattern in compressed columns, lower triangle; entries above the diagonal ignored. */
typedef struct cavum_sparse_pattern {
  int64_t num_rows;
  int64_t *column_start; /**< Owned by whoever made it, [num_rows + 1]. */
  int64_t *row;          /**< [column_start[num_rows]], rising within a column. */
} cavum_sparse_pattern;

/** A factorisation with its analysis; opaque. */
typedef struct cavum_sparse_factor cavum_sparse_factor;

/** What a numerical factorisation found. */
typedef enum cavum_definiteness {
  CAVUM_DEFINITE,   /**< Positive definite, factorised. */
  CAVUM_INDEFINITE  /**< Not positive definite. */
} cavum_definiteness;

/**
 * A fill-reducing order of a small quotient graph.
 * @param[out] order    Shape [num_rows]: order[k] is the row that comes k-th.
 * @param[in]  pattern  Pattern of the graph, lower triangle.
 */
cavum_status cavum_sparse_order(int64_t *order, const cavum_sparse_pattern *pattern,
                                cavum_error *error);

/**
 * Makes a factorisation object. The pattern is borrowed and must outlive it.
 * @param[in] order  Elimination order, shape [num_rows], borrowed likewise.
 */
cavum_status cavum_sparse_factor_create(cavum_sparse_factor **factor,
                                        const cavum_sparse_pattern *pattern, const int64_t *order,
                                        cavum_error *error);

/** Frees it and sets the pointer to NULL; NULL is accepted. */
void cavum_sparse_factor_destroy(cavum_sparse_factor **factor);

/**
 * Supernodal Cholesky; the analysis is made once and kept.
 * @param[out] definiteness  CAVUM_INDEFINITE: not positive definite, no factor.
 * @param[in]  values        Shape [column_start[num_rows]].
 */
cavum_status cavum_sparse_factor_cholesky(cavum_definiteness *definiteness,
                                          cavum_sparse_factor *factor, double *values,
                                          cavum_error *error);

/**
 * LDL^T without pivoting, for indefinite matrices.
 * @param[out] num_negative  Negative pivots: eigenvalues below zero.
 */
cavum_status cavum_sparse_factor_ldl(int64_t *num_negative, cavum_sparse_factor *factor,
                                     double *values, cavum_error *error);

/** Solves in place with the last factorisation; shape [num_rows]. */
cavum_status cavum_sparse_factor_solve(double *x, cavum_sparse_factor *factor, cavum_error *error);

#endif
