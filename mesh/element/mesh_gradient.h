// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/mesh_gradient.h
 * Derivatives of a figure by the shape of a mesh, gathered at the curves of its contour.
 *
 * A figure is a sum over points of elements and edges. Its derivatives by their positions are added
 * here; they are collected at the vertices and at the numbers of the curves (contour/curve_rate.h).
 * Vertices inside follow those on the contour as in mesh_follow.h, so that in the end only the
 * curves are left. The derivative by a dimension is then a product with the rates of the curves.
 */
#ifndef CAVUM_ELEMENT_MESH_GRADIENT_H
#define CAVUM_ELEMENT_MESH_GRADIENT_H

#include <stdbool.h>

#include "contour/curve_rate.h"
#include "element/element_map.h"
#include "element/mesh_follow.h"

/** Derivatives of one figure by the geometry of a mesh without nodes. */
typedef struct cavum_mesh_gradient {
  const cavum_mesh *mesh;   /**< Borrowed. */
  double *memory;           /**< Owned: of all that follows. */
  cavum_point *vertices;    /**< Shape [num_vertices]. */
  cavum_curve_rate *curves; /**< Shape [num_curves]. */
} cavum_mesh_gradient;

/** Zeroed. @retval CAVUM_ERR_MEMORY */
cavum_status cavum_mesh_gradient_create(cavum_mesh_gradient *gradient, const cavum_mesh *mesh,
                                        cavum_error *error);

/** The same with so many other numbers in its memory, which are zero too. @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_mesh_gradient_create_with(cavum_mesh_gradient *gradient, double **numbers,
                                             cavum_index count, const cavum_mesh *mesh,
                                             cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_mesh_gradient_clear(cavum_mesh_gradient *gradient);

/** Sets all derivatives to zero. */
void cavum_mesh_gradient_reset(cavum_mesh_gradient *gradient);

/** Where s of a local edge is on its curve; nothing of a straight edge. */
cavum_curve_place cavum_mesh_gradient_place(const cavum_mesh *mesh, cavum_index element, int k,
                                            double s);

/**
 * Adds the derivatives by cavum_element_edge_at() of a local edge at n values of s, which are at
 * those places; of one that is not bent places are not used.
 */
void cavum_mesh_gradient_add_edge(cavum_mesh_gradient *gradient, cavum_index element, int k, int n,
                                  const double *s, const cavum_curve_place *places,
                                  const cavum_edge_position *by);

/** Parts of a blended map: in the order of the local edges. */
typedef enum cavum_blend_part {
  CAVUM_BLEND_BOTTOM,
  CAVUM_BLEND_RIGHT,
  CAVUM_BLEND_TOP,
  CAVUM_BLEND_LEFT
} cavum_blend_part;

/** Whether an edge follows a curve other than its chord: a part of a straight line is the chord of
 * its ends, wherever the line goes. */
static inline bool cavum_edge_is_bent(const cavum_mesh *mesh, const cavum_edge *edge) {
  return edge->curve >= 0 && mesh->curves[edge->curve].kind != CAVUM_CURVE_LINE;
}

/** Whether a part of the map of an element follows such a curve. */
static inline bool cavum_blend_is_curved(const cavum_mesh *mesh, cavum_index element,
                                         cavum_blend_part part) {
  return cavum_edge_is_bent(mesh, &mesh->edges[mesh->elements[element].edge[part]]);
}

/** Where x of a part of cavum_element_blend_edges() is on its curve. */
cavum_curve_place cavum_mesh_gradient_blend_place(const cavum_mesh *mesh, cavum_index element,
                                                  cavum_blend_part part, double x);

/** Adds the derivatives by a curved part at n places. */
void cavum_mesh_gradient_add_curve(cavum_mesh_gradient *gradient, cavum_index element,
                                   cavum_blend_part part, int n, const cavum_curve_place *places,
                                   const cavum_edge_position *by);

/** Where the derivatives by an end of an edge that is not bent go: those by a line of the outline
 * to its own ends, since the lines that meet in a vertex may have large ones of opposite signs. */
typedef struct cavum_gradient_end {
  cavum_index vertex;
  cavum_index curve; /**< The line; -1: to the vertex. */
  double t;          /**< On the line. */
} cavum_gradient_end;

/** An end, 0 or 1, of the edge's own direction. */
cavum_gradient_end cavum_mesh_gradient_end(const cavum_edge *edge, int end);

/** Adds the derivatives by an end. */
static inline void cavum_mesh_gradient_add_end(cavum_mesh_gradient *gradient,
                                               const cavum_gradient_end *end, double z, double r) {
  if (end->curve < 0) {
    gradient->vertices[end->vertex].z_m += z;
    gradient->vertices[end->vertex].r_m += r;
    return;
  }
  cavum_curve_rate *line = &gradient->curves[end->curve];
  line->start.z_m += (1.0 - end->t) * z;
  line->start.r_m += (1.0 - end->t) * r;
  line->end.z_m += end->t * z;
  line->end.r_m += end->t * r;
}

/** An end of a part of a map that runs along the chord of its edge. */
typedef struct cavum_chord_end {
  cavum_blend_part part;
  int end;     /**< 0: at x = -1; 1: at x = 1. */
  double sign; /**< -1: the chord is taken off. */
  cavum_gradient_end at;
} cavum_chord_end;

/** Ends of the chords of an element at most. */
enum { CAVUM_CHORD_ENDS_MOST = 8 };

/**
 * Lists the ends of all parts that run along chords: bottom and top where they are not curved, and
 * of the others the chord is taken off where they are.
 * @return Their count.
 */
int cavum_mesh_gradient_list_chords(cavum_chord_end ends[CAVUM_CHORD_ENDS_MOST],
                                    const cavum_mesh *mesh, cavum_index element);

/**
 * Moves what is at the vertices to the curves, of gradients of one mesh; the follower belongs to a
 * mesh of its topology. Nothing is added after it.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_mesh_gradients_gather(cavum_mesh_gradient *const *gradients, int count,
                                         const cavum_mesh_follower *follower, cavum_error *error);

/**
 * Derivative of the figure when the curves change at these rates.
 * @param[out] size   Sum of the sizes of its terms.
 * @param[in]  rates  Shape [num_curves].
 */
double cavum_mesh_gradient_dot(double *size, const cavum_mesh_gradient *gradient,
                               const cavum_curve_rate *rates);

/** The same where curves from moved[0] on and before moved[1] move alone. */
double cavum_mesh_gradient_dot_of(double *size, const cavum_mesh_gradient *gradient,
                                  const cavum_curve_rate *rates, const cavum_index moved[2]);

#endif
