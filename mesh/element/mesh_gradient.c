// SPDX-License-Identifier: GPL-3.0-or-later
// The transposes of element_map.c and mesh_follow.c.
#include "element/mesh_gradient.h"

#include <string.h>

#include "base/base.h"

cavum_status cavum_mesh_gradient_create_with(cavum_mesh_gradient *gradient, double **numbers,
                                             cavum_index count, const cavum_mesh *mesh,
                                             cavum_error *error) {
  cavum_mesh_gradient made = {.mesh = mesh};
  if (!CAVUM_HOLDS(mesh->node_order == 0))
    return cavum_fail_internal(error, "a mesh with nodes has no curves to follow");
  int64_t in_vertices = mesh->num_vertices * (int64_t)(sizeof *made.vertices / sizeof(double));
  int64_t in_curves = mesh->num_curves * (int64_t)(sizeof *made.curves / sizeof(double));
  made.memory = cavum_alloc(count + in_vertices + in_curves, sizeof *made.memory);
  if (!made.memory) return cavum_fail_memory(error);
  made.vertices = (cavum_point *)(made.memory + count);
  made.curves = (cavum_curve_rate *)(made.memory + count + in_vertices);
  if (numbers) *numbers = made.memory;
  *gradient = made;
  return CAVUM_OK;
}

cavum_status cavum_mesh_gradient_create(cavum_mesh_gradient *gradient, const cavum_mesh *mesh,
                                        cavum_error *error) {
  return cavum_mesh_gradient_create_with(gradient, NULL, 0, mesh, error);
}

void cavum_mesh_gradient_clear(cavum_mesh_gradient *gradient) {
  if (!gradient) return;
  free(gradient->memory);
  *gradient = (cavum_mesh_gradient){0};
}

void cavum_mesh_gradient_reset(cavum_mesh_gradient *g) {
  memset(g->vertices, 0, (size_t)g->mesh->num_vertices * sizeof *g->vertices);
  memset(g->curves, 0, (size_t)g->mesh->num_curves * sizeof *g->curves);
}

cavum_gradient_end cavum_mesh_gradient_end(const cavum_edge *edge, int end) {
  return (cavum_gradient_end){edge->vertex[end], edge->curve, edge->curve < 0 ? 0.0 : edge->t[end]};
}

// The chord from a to b of an edge at s in [-1, 1] of the edge's own direction.
static void add_chord(cavum_mesh_gradient *g, const cavum_edge *edge, double s, double direction,
                      const cavum_edge_position *by) {
  double wa = 0.5 * (1.0 - s), wb = 0.5 * (1.0 + s), half = 0.5 * direction;
  cavum_gradient_end a = cavum_mesh_gradient_end(edge, 0), b = cavum_mesh_gradient_end(edge, 1);
  cavum_mesh_gradient_add_end(g, &a, wa * by->z - half * by->z_x, wa * by->r - half * by->r_x);
  cavum_mesh_gradient_add_end(g, &b, wb * by->z + half * by->z_x, wb * by->r + half * by->r_x);
}

// Sense in which a coordinate along a local edge runs through the edge.
static double sense_of(const cavum_element *element, int k, double along) {
  return element->reversed[k] ? -along : along;
}

static cavum_curve_place place_of(const cavum_mesh *mesh, cavum_index element, int k, double along,
                                  double x) {
  const cavum_edge *edge = &mesh->edges[mesh->elements[element].edge[k]];
  if (!cavum_edge_is_bent(mesh, edge)) return (cavum_curve_place){0};
  double s = sense_of(&mesh->elements[element], k, along) * x;
  double t = 0.5 * (1.0 - s) * edge->t[0] + 0.5 * (1.0 + s) * edge->t[1];
  return cavum_curve_place_at(&mesh->curves[edge->curve], t);
}

cavum_curve_place cavum_mesh_gradient_place(const cavum_mesh *mesh, cavum_index element, int k,
                                            double s) {
  return place_of(mesh, element, k, 1.0, s);
}

// evaluate_edge() of element_map.c on a curve, at a few places at a time.
static void add_places(cavum_mesh_gradient *g, const cavum_edge *edge, double direction, int n,
                       const cavum_curve_place *places, const cavum_edge_position *by) {
  enum { AT_ONCE = 16 };
  double t_x = 0.5 * direction * (edge->t[1] - edge->t[0]);
  cavum_curve_point_gradient points[AT_ONCE];
  for (int first = 0; first < n; first += AT_ONCE) {
    int count = n - first < AT_ONCE ? n - first : AT_ONCE;
    for (int i = 0; i < count; i++) {
      const cavum_edge_position *at = &by[first + i];
      points[i] = (cavum_curve_point_gradient){at->z, at->r, t_x * at->z_x, t_x * at->r_x};
    }
    cavum_curve_rate_add_points(&g->curves[edge->curve], &g->mesh->curves[edge->curve], count,
                                places + first, points);
  }
}

void cavum_mesh_gradient_add_edge(cavum_mesh_gradient *gradient, cavum_index element, int k, int n,
                                  const double *s, const cavum_curve_place *places,
                                  const cavum_edge_position *by) {
  const cavum_element *shape = &gradient->mesh->elements[element];
  const cavum_edge *edge = &gradient->mesh->edges[shape->edge[k]];
  double direction = sense_of(shape, k, 1.0);
  if (cavum_edge_is_bent(gradient->mesh, edge)) {
    add_places(gradient, edge, direction, n, places, by);
  } else {
    for (int i = 0; i < n; i++) add_chord(gradient, edge, direction * s[i], direction, &by[i]);
  }
}

// Left and right run up, top runs to the right: against the counterclockwise order.
static double along_of(cavum_blend_part part) {
  return part == CAVUM_BLEND_TOP || part == CAVUM_BLEND_LEFT ? -1.0 : 1.0;
}

cavum_curve_place cavum_mesh_gradient_blend_place(const cavum_mesh *mesh, cavum_index element,
                                                  cavum_blend_part part, double x) {
  return place_of(mesh, element, (int)part, along_of(part), x);
}

void cavum_mesh_gradient_add_curve(cavum_mesh_gradient *gradient, cavum_index element,
                                   cavum_blend_part part, int n, const cavum_curve_place *places,
                                   const cavum_edge_position *by) {
  const cavum_element *shape = &gradient->mesh->elements[element];
  const cavum_edge *edge = &gradient->mesh->edges[shape->edge[part]];
  double direction = sense_of(shape, (int)part, along_of(part));
  add_places(gradient, edge, direction, n, places, by);
}

int cavum_mesh_gradient_list_chords(cavum_chord_end ends[CAVUM_CHORD_ENDS_MOST],
                                    const cavum_mesh *mesh, cavum_index element) {
  static const int corner[4][2] = {{0, 1}, {1, 2}, {3, 2}, {0, 3}};
  const cavum_element *shape = &mesh->elements[element];
  int count = 0;
  for (int part = 0; part < 4; part++) {
    bool curved = cavum_blend_is_curved(mesh, element, (cavum_blend_part)part);
    bool is_bump = part == CAVUM_BLEND_LEFT || part == CAVUM_BLEND_RIGHT;
    if (curved != is_bump) continue;
    const cavum_edge *edge = &mesh->edges[shape->edge[part]];
    for (int end = 0; end < 2; end++) {
      cavum_index vertex = shape->vertex[corner[part][end]];
      cavum_gradient_end at = {vertex, -1, 0.0};
      if (!is_bump) at = cavum_mesh_gradient_end(edge, vertex == edge->vertex[0] ? 0 : 1);
      ends[count++] = (cavum_chord_end){(cavum_blend_part)part, end, is_bump ? -1.0 : 1.0, at};
    }
  }
  return count;
}

// Moves a vertex of all gradients to the end of an edge.
static void gather_vertex(cavum_mesh_gradient *const *gradients, int count, const cavum_edge *edge,
                          int end) {
  const cavum_curve *curve = &gradients[0]->mesh->curves[edge->curve];
  cavum_curve_place place;
  bool known = false;
  for (int g = 0; g < count; g++) {
    cavum_point *at = &gradients[g]->vertices[edge->vertex[end]];
    if (at->z_m == 0.0 && at->r_m == 0.0) continue;  // most were with an edge before
    if (!known) place = cavum_curve_place_at(curve, edge->t[end]);
    known = true;
    cavum_curve_rate_add(&gradients[g]->curves[edge->curve], curve, &place, *at,
                         (cavum_point){0.0, 0.0});
    *at = (cavum_point){0.0, 0.0};
  }
}

// Gradients whose z and r fill the lanes.
enum { TOGETHER = CAVUM_LANES / 2 };

// The transpose of the follower on up to so many gradients, through a workspace of CAVUM_LANES
// numbers a vertex, of which few gradients need half.
static void follow_back(double *by, cavum_mesh_gradient *const *gradients, int count,
                        const cavum_mesh_follower *follower) {
  cavum_index num_vertices = gradients[0]->mesh->num_vertices;
  bool few = 2 * count <= TOGETHER;
  int width = few ? CAVUM_LANES / 2 : CAVUM_LANES;
  double *at = by;
  for (cavum_index v = 0; v < num_vertices; v++, at += width) {
    for (int g = 0; g < width / 2; g++) {
      cavum_point own = g < count ? gradients[g]->vertices[v] : (cavum_point){0.0, 0.0};
      at[2 * g] = own.z_m;
      at[2 * g + 1] = own.r_m;
    }
  }
  if (few) {
    cavum_mesh_follower_transpose_half((cavum_half *)by, follower);
  } else {
    cavum_mesh_follower_transpose((cavum_lanes *)by, follower);
  }
  at = by;
  for (cavum_index v = 0; v < num_vertices; v++, at += width) {
    for (int g = 0; g < count; g++) {
      gradients[g]->vertices[v] = (cavum_point){at[2 * g], at[2 * g + 1]};
    }
  }
}

cavum_status cavum_mesh_gradients_gather(cavum_mesh_gradient *const *gradients, int count,
                                         const cavum_mesh_follower *follower, cavum_error *error) {
  if (count == 0) return CAVUM_OK;
  const cavum_mesh *mesh = gradients[0]->mesh;
  double *by = cavum_alloc_aligned(mesh->num_vertices, CAVUM_LANES * sizeof *by);
  if (!by) return cavum_fail_memory(error);
  for (int g = 0; g < count; g += TOGETHER) {
    follow_back(by, gradients + g, count - g < TOGETHER ? count - g : TOGETHER, follower);
  }
  free(by);
  // On curves each vertex is where its last edge puts it.
  for (cavum_index e = mesh->num_edges - 1; e >= 0; e--) {
    const cavum_edge *edge = &mesh->edges[e];
    if (edge->curve < 0) continue;
    for (int end = 1; end >= 0; end--) gather_vertex(gradients, count, edge, end);
  }
  return CAVUM_OK;
}

double cavum_mesh_gradient_dot(double *size, const cavum_mesh_gradient *gradient,
                               const cavum_curve_rate *rates) {
  return cavum_curve_rates_dot(size, gradient->curves, rates, gradient->mesh->num_curves);
}

double cavum_mesh_gradient_dot_of(double *size, const cavum_mesh_gradient *gradient,
                                  const cavum_curve_rate *rates, const cavum_index moved[2]) {
  return cavum_curve_rates_dot(size, gradient->curves + moved[0], rates + moved[0],
                               moved[1] - moved[0]);
}
