// SPDX-License-Identifier: GPL-3.0-or-later
// The transposes of element_map.c and mesh_follow.c.
#include "element/mesh_gradient.h"

#include <string.h>

#include "base/base.h"

cavum_status cavum_mesh_gradient_create(cavum_mesh_gradient *gradient, const cavum_mesh *mesh,
                                        cavum_error *error) {
  cavum_mesh_gradient made = {.mesh = mesh};
  if (!CAVUM_HOLDS(mesh->node_order == 0))
    return cavum_fail_internal(error, "a mesh with nodes has no curves to follow");
  made.vertices = cavum_alloc(mesh->num_vertices, sizeof *made.vertices);
  made.curves = cavum_alloc(mesh->num_curves, sizeof *made.curves);
  if (!made.vertices || !made.curves) {
    cavum_mesh_gradient_clear(&made);
    return cavum_fail_memory(error);
  }
  *gradient = made;
  return CAVUM_OK;
}

void cavum_mesh_gradient_clear(cavum_mesh_gradient *gradient) {
  if (!gradient) return;
  free(gradient->vertices);
  free(gradient->curves);
  *gradient = (cavum_mesh_gradient){0};
}

void cavum_mesh_gradient_reset(cavum_mesh_gradient *g) {
  memset(g->vertices, 0, (size_t)g->mesh->num_vertices * sizeof *g->vertices);
  memset(g->curves, 0, (size_t)g->mesh->num_curves * sizeof *g->curves);
}

// The chord from a to b of an edge at s in [-1, 1] of the edge's own direction.
static void add_chord(cavum_mesh_gradient *g, const cavum_edge *edge, double s, double direction,
                      const cavum_edge_position *by) {
  cavum_point *a = &g->vertices[edge->vertex[0]], *b = &g->vertices[edge->vertex[1]];
  double wa = 0.5 * (1.0 - s), wb = 0.5 * (1.0 + s), half = 0.5 * direction;
  a->z_m += wa * by->z - half * by->z_x;
  a->r_m += wa * by->r - half * by->r_x;
  b->z_m += wb * by->z + half * by->z_x;
  b->r_m += wb * by->r + half * by->r_x;
}

// evaluate_edge() of element_map.c; of a bump the chord is taken off.
static void add_edge(cavum_mesh_gradient *g, const cavum_element *element, int k, double along,
                     double x, bool bump, const cavum_edge_position *by) {
  const cavum_edge *edge = &g->mesh->edges[element->edge[k]];
  double direction = element->reversed[k] ? -along : along, s = direction * x;
  if (edge->curve < 0) {
    if (!bump) add_chord(g, edge, s, direction, by);
    return;
  }
  double t = 0.5 * (1.0 - s) * edge->t[0] + 0.5 * (1.0 + s) * edge->t[1];
  double t_x = 0.5 * direction * (edge->t[1] - edge->t[0]);
  cavum_curve_rate_add(&g->curves[edge->curve], &g->mesh->curves[edge->curve], t,
                       (cavum_point){by->z, by->r}, (cavum_point){t_x * by->z_x, t_x * by->r_x});
  if (!bump) return;
  const cavum_edge_position off = {-by->z, -by->r, -by->z_x, -by->r_x};
  add_chord(g, edge, s, direction, &off);
}

void cavum_mesh_gradient_add_edge(cavum_mesh_gradient *gradient, cavum_index element, int k,
                                  double s, const cavum_edge_position *by) {
  add_edge(gradient, &gradient->mesh->elements[element], k, 1.0, s, false, by);
}

void cavum_mesh_gradient_add_blend(cavum_mesh_gradient *gradient, cavum_index element, int n,
                                   const double *x, const cavum_blend_edges *by) {
  const cavum_element *shape = &gradient->mesh->elements[element];
  for (int i = 0; i < n; i++) {
    add_edge(gradient, shape, 0, 1.0, x[i], false, &by->bottom[i]);
    add_edge(gradient, shape, 2, -1.0, x[i], false, &by->top[i]);
    add_edge(gradient, shape, 3, -1.0, x[i], true, &by->left[i]);
    add_edge(gradient, shape, 1, 1.0, x[i], true, &by->right[i]);
  }
}

// On curves each vertex is where its last edge puts it.
static void gather_boundary(cavum_mesh_gradient *g) {
  const cavum_mesh *mesh = g->mesh;
  for (cavum_index e = mesh->num_edges - 1; e >= 0; e--) {
    const cavum_edge *edge = &mesh->edges[e];
    if (edge->curve < 0) continue;
    for (int end = 1; end >= 0; end--) {
      cavum_point *at = &g->vertices[edge->vertex[end]];
      cavum_curve_rate_add(&g->curves[edge->curve], &mesh->curves[edge->curve], edge->t[end], *at,
                           (cavum_point){0.0, 0.0});
      *at = (cavum_point){0.0, 0.0};
    }
  }
}

void cavum_mesh_gradient_gather(cavum_mesh_gradient *gradient,
                                const cavum_mesh_follower *follower) {
  cavum_mesh_follower_transpose(gradient->vertices, follower);
  gather_boundary(gradient);
}

double cavum_mesh_gradient_dot(double *size, const cavum_mesh_gradient *gradient,
                               const cavum_curve_rate *rates) {
  double sum = 0.0;
  *size = 0.0;
  for (cavum_index i = 0; i < gradient->mesh->num_curves; i++) {
    sum += cavum_curve_rate_dot(size, &gradient->curves[i], &rates[i]);
  }
  return sum;
}
