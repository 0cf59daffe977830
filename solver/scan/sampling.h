// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/sampling.h
 * The points of a study: any shape by its number, without those before it being kept.
 */
#ifndef CAVUM_SCAN_SAMPLING_H
#define CAVUM_SCAN_SAMPLING_H

#include <gsl/gsl_qrng.h>
#include <stdint.h>

#include "cavum/status.h"

/** How points are chosen. */
typedef enum cavum_sampling_kind {
  CAVUM_SAMPLING_GRID,   /**< Every combination; the last axis runs fastest. */
  CAVUM_SAMPLING_SOBOL,  /**< Sequence of Sobol in the order of Antonov and Saleev, with its origin.
                          */
  CAVUM_SAMPLING_HALTON, /**< Sequence of Halton. */
  CAVUM_SAMPLING_LATIN_HYPERCUBE, /**< One point in each of N slices of every axis. */
  CAVUM_SAMPLING_TABLE            /**< Rows of a CSV file. */
} cavum_sampling_kind;

/** Shapes that a study may have, whatever its plan: as many as the sequence of Sobol has points. */
#define CAVUM_SAMPLING_MOST_POINTS (INT64_C(1) << 30)

/** Values of one varied input: from low to high, or a list. */
typedef struct cavum_axis {
  double low, high;
  int64_t num_points; /**< Of a range in a grid, or of the list. */
  double *list;       /**< Owned, shape [num_points]; NULL: a range. */
} cavum_axis;

/** A sampling plan. Zero-initialise. */
typedef struct cavum_sampling {
  cavum_sampling_kind kind;
  int num_axes;
  cavum_axis *axes; /**< Owned, shape [num_axes]. */
  int64_t num_points;
  uint64_t seed;      /**< 0: sequences are not shifted. */
  double *shifts;     /**< Owned, shape [num_axes]: sequences are shifted by these, that of Sobol
                         digit by digit, that of Halton modulo 1. */
  uint64_t *keys;     /**< Owned, shape [num_axes]: of the permutations of a Latin hypercube. */
  gsl_qrng *sequence; /**< Owned: where the sequence stands. */
  int64_t next;       /**< Point that the sequence gives next. */
} cavum_sampling;

/**
 * Prepares a plan whose kind, axes, points and seed are set; a grid gets its number of points.
 * @param[in,out] sampling  Plan.
 * @param[out]    error     May be NULL.
 * @retval CAVUM_ERR_INPUT   more points than the sequence has, or than 2^62.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_sampling_prepare(cavum_sampling *sampling, cavum_error *error);

/** Frees what a plan owns and zeroes it. */
void cavum_sampling_clear(cavum_sampling *sampling);

/**
 * One point.
 * @param[out]    values    Shape [num_axes].
 * @param[in,out] sampling  Prepared; the sequence is started again when `point` lies behind it.
 * @param[in]     point     From 0 to num_points - 1.
 */
void cavum_sampling_point(double *values, cavum_sampling *sampling, int64_t point);

#endif
