// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/star.h
 * What lies around the vertices of quadrilaterals, and how each vertex may move.
 */
#ifndef CAVUM_MESHER_STAR_H
#define CAVUM_MESHER_STAR_H

#include "mesher/quads.h"

/** How a vertex may move. */
typedef enum cavum_slide_kind {
  CAVUM_SLIDE_FREE, /**< Inside the domain. */
  CAVUM_SLIDE_LINE, /**< Along a straight piece of the contour. */
  CAVUM_SLIDE_FIXED /**< Not at all. */
} cavum_slide_kind;

/** Freedom of one vertex. */
typedef struct cavum_slide {
  cavum_slide_kind kind;
  cavum_index curve; /**< Curve it lies on, or -1; of a junction, either. */
  double t;          /**< Parameter on that curve. */
} cavum_slide;

/** Quadrilaterals around vertices: those of v are list[start[v]] to list[start[v + 1] - 1]. */
typedef struct cavum_star {
  cavum_index *start; /**< Owned, shape [num_vertices + 2]. */
  cavum_index *list;  /**< Owned, shape [4 num_quads]. */
  cavum_slide *slide; /**< Owned, shape [num_vertices]. */
} cavum_star;

/** Frees all that a star list owns and empties it; NULL is accepted. */
void cavum_star_clear(cavum_star *star);

/** Finds the quadrilaterals around every vertex. @retval CAVUM_ERR_MEMORY */
cavum_status cavum_star_build(cavum_star *star, const cavum_quads *quads, cavum_error *error);

/** Mean length of the sides at a vertex. */
double cavum_star_length(const cavum_star *star, const cavum_quads *quads, cavum_index v);

/** Parameters of the neighbours of a CAVUM_SLIDE_LINE vertex on its curve. */
void cavum_star_range(double *low, double *high, const cavum_star *star, const cavum_quads *quads,
                      cavum_index v);

/** Moves a CAVUM_SLIDE_LINE vertex to a parameter of its curve. */
void cavum_star_set_parameter(cavum_star *star, cavum_quads *quads, cavum_index v, double t);

#endif
