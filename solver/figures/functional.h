// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/functional.h
 * Numbers that figures are made of, as functions of the vector of a mode, its k and the shape of
 * the mesh, with their derivatives by all three.
 *
 * Each is a sum over points of boundary edges of a term in the trace x of the unknown there, dx/ds,
 * the position and its derivative by s. The values are those of surface.h, outline_voltage.h and
 * axis.h for the same mode.
 */
#ifndef CAVUM_FIGURES_FUNCTIONAL_H
#define CAVUM_FIGURES_FUNCTIONAL_H

#include "base/lanes.h"
#include "element/mesh_gradient.h"
#include "figures/surface.h"

/** Samples of an edge in whole vectors. */
enum { CAVUM_WALL_VECTORS = CAVUM_WALL_SAMPLES / CAVUM_LANES };

/** The trace of a mode at the samples of a conducting edge, at one joule. */
typedef struct cavum_wall_trace {
  cavum_lanes x[CAVUM_WALL_VECTORS], x_s[CAVUM_WALL_VECTORS];
  cavum_lanes h[CAVUM_WALL_VECTORS];      /**< H_phi, A/m. */
  cavum_lanes h_by_x[CAVUM_WALL_VECTORS]; /**< Its derivatives by x and by r. */
  cavum_lanes h_by_r[CAVUM_WALL_VECTORS];
  cavum_lanes t[CAVUM_WALL_VECTORS]; /**< Where they are on their curve. */
  cavum_lanes cosine[CAVUM_WALL_VECTORS], sine[CAVUM_WALL_VECTORS];
  cavum_index index[CAVUM_DEGREE_MOST + 1]; /**< Of its functions in the vector. */
  double sign[CAVUM_DEGREE_MOST + 1];
} cavum_wall_trace;

/** Those of all conducting edges, and segment functions at the samples of any edge. */
typedef struct cavum_wall_traces {
  int degree;
  cavum_lanes value[CAVUM_DEGREE_MOST + 1][CAVUM_WALL_VECTORS];
  cavum_lanes derivative[CAVUM_DEGREE_MOST + 1][CAVUM_WALL_VECTORS];
  cavum_wall_trace *edges; /**< Owned, [num_conducting]. */
} cavum_wall_traces;

/**
 * Evaluates them for a view.
 * @param[out] traces  Release with cavum_wall_traces_clear(); untouched unless CAVUM_OK.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_wall_traces_create(cavum_wall_traces *traces, const cavum_view *view,
                                      cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_wall_traces_clear(cavum_wall_traces *traces);

/** Derivatives of a number by the samples of a conducting edge. */
typedef struct cavum_wall_gradient {
  cavum_lanes x[CAVUM_WALL_VECTORS];
  cavum_lanes z[CAVUM_WALL_VECTORS], r[CAVUM_WALL_VECTORS];     /**< Of the position. */
  cavum_lanes z_s[CAVUM_WALL_VECTORS], r_s[CAVUM_WALL_VECTORS]; /**< Of its derivative by s. */
} cavum_wall_gradient;

/** One number and its derivatives. */
typedef struct cavum_functional {
  double value;
  double by_k, by_beta;         /**< For a fixed vector and shape. */
  cavum_mesh_gradient gradient; /**< By the shape, for a fixed vector. */
  double *by_vector;            /**< Shape [num_unknowns], in the memory of the gradient. */
} cavum_functional;

/** Zeroed. @retval CAVUM_ERR_MEMORY */
cavum_status cavum_functional_create(cavum_functional *functional, const cavum_view *view,
                                     cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_functional_clear(cavum_functional *functional);

/** Sets all to zero. */
void cavum_functional_reset(cavum_functional *functional, const cavum_view *view);

/** The trace of a mode at a point of a boundary edge. */
typedef struct cavum_trace_point {
  double x, x_s;         /**< Scaled to one joule. */
  double z, r, z_s, r_s; /**< Position. */
} cavum_trace_point;

/** Derivatives of a term by all of these. */
typedef cavum_trace_point cavum_trace_gradient;

/** An edge under work: its trace, and derivatives by the coefficient of each function. */
typedef struct cavum_functional_edge {
  cavum_trace trace;
  cavum_boundary_edge edge;
  int degree;
  double by_coeff[CAVUM_DEGREE_MOST + 1];
} cavum_functional_edge;

/** Begins an edge. */
cavum_functional_edge cavum_functional_begin(const cavum_view *view, cavum_boundary_edge edge);

/** The trace at s, from the functions there. */
cavum_trace_point cavum_functional_at(const cavum_functional_edge *edge, double s,
                                      const double *value, const double *derivative);

/** Adds the derivatives of a term at s. */
void cavum_functional_add_point(cavum_functional *functional, cavum_functional_edge *edge, double s,
                                const double *value, const double *derivative,
                                const cavum_trace_gradient *by);

/**
 * Adds the derivatives of a sum over the samples of a straight edge on the axis.
 * @param[in] by_x    By x at each.
 * @param[in] by_z    By z there, summed up with the weights (1 - s) / 2 and (1 + s) / 2.
 * @param[in] by_z_s  By the derivative of z by s, summed up.
 */
void cavum_functional_add_axis_samples(cavum_functional *functional, cavum_functional_edge *edge,
                                       const cavum_wall_traces *traces, const cavum_lanes *by_x,
                                       const double by_z[2], double by_z_s);

/** Ends an edge: the derivatives by its coefficients go to the vector. */
void cavum_functional_end(cavum_functional *functional, const cavum_view *view,
                          const cavum_functional_edge *edge);

/** Adds the derivatives along conducting edge i, which `gradient` is scratch for. */
void cavum_functional_add_wall(cavum_functional *functional, const cavum_view *view,
                               const cavum_wall_traces *traces, cavum_index i,
                               cavum_wall_gradient *gradient);

/** Numbers of samples as vectors. */
static inline const cavum_lanes_anywhere *cavum_wall_lanes(const double *samples) {
  return (const cavum_lanes_anywhere *)samples;
}

/** H_phi at a trace point, and its derivatives by x and r. */
typedef struct cavum_trace_h {
  double h, by_x, by_r;
} cavum_trace_h;

/** H_phi from the unknown. */
static inline cavum_trace_h cavum_functional_h(const cavum_view *view, const cavum_trace_point *p) {
  if (view->field.discretisation->unknown == CAVUM_UNKNOWN_H_OVER_R) {
    return (cavum_trace_h){p->r * p->x, p->r, p->x};
  }
  return (cavum_trace_h){p->x / p->r, 1.0 / p->r, -p->x / (p->r * p->r)};
}

#endif
