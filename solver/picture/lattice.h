// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/lattice.h
 * From the lattice of points in an element to a finer one, by the polynomials through its points.
 *
 * A field grid of the order that a solve chooses holds the solution to about 1e-6; drawn on a finer
 * lattice it shows no facets. Lattices are those of cavum_mesh: lexicographic, equispaced.
 */
#ifndef CAVUM_PICTURE_LATTICE_H
#define CAVUM_PICTURE_LATTICE_H

#include "cavum/status.h"
#include "element/element_map.h"

/** Finer lattices have 2^level divisions, level 0 to this. */
enum { CAVUM_LATTICE_LEVEL_MOST = 6 };

/** Largest order of a field grid. */
enum { CAVUM_LATTICE_ORDER_MOST = 64 };

/** Weights for one order, made when first needed. */
typedef struct cavum_lattice {
  int order;
  double *segment[CAVUM_LATTICE_LEVEL_MOST + 1];  /**< Owned: [2^level + 1, order + 1] or NULL. */
  double *triangle[CAVUM_LATTICE_LEVEL_MOST + 1]; /**< Owned: [fine points, coarse points]. */
  double *work;                                   /**< Owned. */
} cavum_lattice;

/** Starts with an order of 1 to 64. */
cavum_status cavum_lattice_create(cavum_lattice *lattice, int order, cavum_error *error);

/** Frees what it owns. */
void cavum_lattice_clear(cavum_lattice *lattice);

/**
 * Values on a finer lattice.
 * @param[out] fine     Shape [cavum_element_lattice_count(corners, 2^level)].
 * @param[in]  lattice  Made for the order of `coarse`.
 * @param[in]  coarse   Shape [cavum_element_lattice_count(corners, order)].
 * @param[in]  corners  3 or 4.
 * @param[in]  level    0 to CAVUM_LATTICE_LEVEL_MOST.
 * @param[out] error    May be NULL.
 */
cavum_status cavum_lattice_refine(double *fine, cavum_lattice *lattice, const double *coarse,
                                  int corners, int level, cavum_error *error);

/**
 * Values along local edge `edge` from corner `edge` to the next, at 2^level + 1 points.
 * @param[out] fine     Shape [2^level + 1].
 * @param[in]  lattice  Made for the order of `coarse`.
 * @param[in]  coarse   As above.
 * @param[in]  corners  3 or 4.
 * @param[in]  edge     0 to corners - 1.
 * @param[in]  level    0 to CAVUM_LATTICE_LEVEL_MOST.
 * @param[out] error    May be NULL.
 */
cavum_status cavum_lattice_refine_edge(double *fine, cavum_lattice *lattice, const double *coarse,
                                       int corners, int edge, int level, cavum_error *error);

/**
 * Weights of the coarse points at one place of an element: a value there is their sum with the
 * values of these points.
 * @param[out] weights  Shape [cavum_element_lattice_count(corners, order)].
 * @param[in]  order    1 to 64.
 * @param[in]  corners  3 or 4.
 * @param[in]  x        Along the rows of the lattice, 0 to 1.
 * @param[in]  y        Across them, 0 to 1; x + y is at most 1 in triangles.
 */
void cavum_lattice_weigh(double *weights, int order, int corners, double x, double y);

#endif
