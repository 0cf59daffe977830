// SPDX-License-Identifier: GPL-3.0-or-later
// Meshes that follow a changing contour.
#include "element/mesh_follow.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "element/element_map.h"
#include "element/mesh.h"

// Rounds of over-relaxed averaging that spread the moves of the boundary. They need not converge:
// any smooth spread will do that differs from the move of a place on the boundary by no more than a
// part of the distance to it, however small that is. What moves the layers at a corner otherwise
// than the corner would distort them, and a derivative of the frequency would be as far off.
enum { ROUNDS = 12 };
static const double OVER_RELAXATION = 1.5;
// An element may lose this part of its quality.
static const double SINE_LEFT = 0.85, RATIO_LEFT = 0.6;

static cavum_follow_shape measure(const cavum_mesh *mesh, cavum_index e) {
  static const double samples[5][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}, {0, 0}};
  double least = HUGE_VAL, most = -HUGE_VAL, sine = 1.0;
  for (int k = 0; k < 5; k++) {
    cavum_map_point at = cavum_element_map_at(mesh, e, samples[k][0], samples[k][1]);
    double det = cavum_map_jacobian(&at);
    double norm = hypot(at.z_xi, at.r_xi) * hypot(at.z_eta, at.r_eta);
    least = cavum_min(least, det);
    most = cavum_max(most, det);
    sine = cavum_min(sine, norm > 0.0 ? det / norm : -1.0);
  }
  return (cavum_follow_shape){most > 0.0 ? least / most : -1.0, sine};
}

// Neighbours of the free vertices with weights of the inverse lengths of their edges.
static cavum_status list_neighbours(cavum_mesh_follower *f, const bool *fixed, cavum_error *error) {
  const cavum_mesh *mesh = &f->base;
  cavum_index *place = cavum_alloc(mesh->num_vertices, sizeof *place);
  if (!place) return cavum_fail_memory(error);
  for (cavum_index v = 0; v < mesh->num_vertices; v++) {
    place[v] = fixed[v] ? -1 : f->num_free;
    if (!fixed[v]) f->free_vertex[f->num_free++] = v;
  }
  for (int pass = 0; pass < 2; pass++) {  // count, then fill
    for (cavum_index e = 0; e < mesh->num_edges; e++) {
      const cavum_index *v = mesh->edges[e].vertex;
      cavum_point a = mesh->vertices[v[0]], b = mesh->vertices[v[1]];
      for (int end = 0; end < 2; end++) {
        cavum_index i = place[v[end]];
        if (i < 0) continue;
        cavum_index at = f->first_neighbour[i + 1]++;
        if (pass == 0) continue;
        f->neighbour[at] = v[1 - end];
        f->weight[at] = 1.0 / hypot(b.z_m - a.z_m, b.r_m - a.r_m);
      }
    }
    // Turn counts into starts; the filling pass moves each start to the next one.
    for (cavum_index i = f->num_free; pass == 0 && i > 0; i--) {
      f->first_neighbour[i] = f->first_neighbour[i - 1];
    }
    for (cavum_index i = 0; pass == 0 && i < f->num_free; i++) {
      f->first_neighbour[i + 1] += f->first_neighbour[i];
    }
  }
  free(place);
  return CAVUM_OK;
}

// The boundary vertices that are nearest to the free ones, along edges.
static cavum_status find_nearest(cavum_mesh_follower *f, const bool *fixed, cavum_error *error) {
  const cavum_mesh *mesh = &f->base;
  cavum_index *nearest = cavum_alloc(mesh->num_vertices, sizeof *nearest);
  double *away = cavum_alloc(mesh->num_vertices, sizeof *away);
  bool found = nearest && away;
  cavum_status status = found ? CAVUM_OK : cavum_fail_memory(error);
  for (cavum_index v = 0; found && v < mesh->num_vertices; v++) {
    nearest[v] = v;
    away[v] = fixed[v] ? 0.0 : HUGE_VAL;
  }
  for (bool changed = found; changed;) {
    changed = false;
    for (cavum_index e = 0; e < 2 * mesh->num_edges; e++) {
      const cavum_index *v = mesh->edges[e / 2].vertex;
      cavum_index from = v[e % 2], to = v[1 - e % 2];
      cavum_point a = mesh->vertices[from], b = mesh->vertices[to];
      double by = away[from] + hypot(b.z_m - a.z_m, b.r_m - a.r_m);
      if (!(by < away[to])) continue;
      away[to] = by;
      nearest[to] = nearest[from];
      changed = true;
    }
  }
  for (cavum_index i = 0; found && i < f->num_free; i++) f->nearest[i] = nearest[f->free_vertex[i]];
  free(nearest);
  free(away);
  return status;
}

static void scale_weights(cavum_mesh_follower *f) {
  for (cavum_index i = 0; i < f->num_free; i++) {
    double sum = 0.0;
    for (cavum_index k = f->first_neighbour[i]; k < f->first_neighbour[i + 1]; k++) {
      sum += f->weight[k];
    }
    for (cavum_index k = f->first_neighbour[i]; k < f->first_neighbour[i + 1]; k++) {
      f->weight[k] /= sum;
    }
  }
}

cavum_status cavum_mesh_follower_create(cavum_mesh_follower *follower, const cavum_mesh *mesh,
                                        cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_mesh_follower f = {0};
  if (!CAVUM_HOLDS(mesh->node_order == 0))
    return cavum_fail_internal(error, "a mesh with nodes cannot follow a contour");
  bool *fixed = cavum_alloc(mesh->num_vertices, sizeof *fixed);
  if (!fixed) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_mesh_copy(&f.base, mesh, error));
  f.free_vertex = cavum_alloc(mesh->num_vertices, sizeof *f.free_vertex);
  f.nearest = cavum_alloc(mesh->num_vertices, sizeof *f.nearest);
  f.first_neighbour = cavum_alloc((int64_t)mesh->num_vertices + 2, sizeof *f.first_neighbour);
  f.neighbour = cavum_alloc(2 * (int64_t)mesh->num_edges, sizeof *f.neighbour);
  f.weight = cavum_alloc(2 * (int64_t)mesh->num_edges, sizeof *f.weight);
  f.move = cavum_alloc(mesh->num_vertices, sizeof *f.move);
  f.shape = cavum_alloc(mesh->num_elements, sizeof *f.shape);
  if (!f.free_vertex || !f.nearest || !f.first_neighbour || !f.neighbour || !f.weight || !f.move ||
      !f.shape) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (mesh->edges[e].curve < 0) continue;
    fixed[mesh->edges[e].vertex[0]] = fixed[mesh->edges[e].vertex[1]] = true;
  }
  CAVUM_TRY(list_neighbours(&f, fixed, error));
  scale_weights(&f);
  CAVUM_TRY(find_nearest(&f, fixed, error));
  for (cavum_index e = 0; e < mesh->num_elements; e++) f.shape[e] = measure(mesh, e);
  *follower = f;
  f = (cavum_mesh_follower){0};
done:
  free(fixed);
  cavum_mesh_follower_clear(&f);
  return status;
}

void cavum_mesh_follower_clear(cavum_mesh_follower *follower) {
  if (!follower) return;
  cavum_mesh_clear(&follower->base);
  free(follower->free_vertex);
  free(follower->nearest);
  free(follower->first_neighbour);
  free(follower->neighbour);
  free(follower->weight);
  free(follower->move);
  free(follower->shape);
  memset(follower, 0, sizeof *follower);
}

static bool same_pieces(const cavum_mesh *mesh, const cavum_contour *contour) {
  if (mesh->num_curves != contour->num_curves) return false;
  for (cavum_index i = 0; i < mesh->num_curves; i++) {
    if (mesh->curves[i].kind != contour->curves[i].kind ||
        mesh->curves[i].boundary != contour->curves[i].boundary) {
      return false;
    }
  }
  return true;
}

// Vertices on curves, and how far they went.
static void move_boundary(cavum_mesh *mesh, cavum_mesh_follower *f) {
  const cavum_mesh *base = &f->base;
  memset(f->move, 0, (size_t)base->num_vertices * sizeof *f->move);
  for (cavum_index e = 0; e < base->num_edges; e++) {
    const cavum_edge *edge = &base->edges[e];
    if (edge->curve < 0) continue;
    for (int end = 0; end < 2; end++) {
      cavum_index v = edge->vertex[end];
      mesh->vertices[v] = cavum_curve_point(&mesh->curves[edge->curve], edge->t[end]);
      f->move[v] = (cavum_point){mesh->vertices[v].z_m - base->vertices[v].z_m,
                                 mesh->vertices[v].r_m - base->vertices[v].r_m};
    }
  }
}

static void move_inside(cavum_mesh *mesh, cavum_mesh_follower *f) {
  for (cavum_index i = 0; i < f->num_free; i++) f->move[f->free_vertex[i]] = f->move[f->nearest[i]];
  for (int round = 0; round < ROUNDS; round++) {
    for (cavum_index i = 0; i < f->num_free; i++) {
      cavum_point mean = {0.0, 0.0}, *own = &f->move[f->free_vertex[i]];
      for (cavum_index k = f->first_neighbour[i]; k < f->first_neighbour[i + 1]; k++) {
        mean.z_m += f->weight[k] * f->move[f->neighbour[k]].z_m;
        mean.r_m += f->weight[k] * f->move[f->neighbour[k]].r_m;
      }
      own->z_m += OVER_RELAXATION * (mean.z_m - own->z_m);
      own->r_m += OVER_RELAXATION * (mean.r_m - own->r_m);
    }
  }
  for (cavum_index i = 0; i < f->num_free; i++) {
    cavum_index v = f->free_vertex[i];
    mesh->vertices[v] = (cavum_point){f->base.vertices[v].z_m + f->move[v].z_m,
                                      f->base.vertices[v].r_m + f->move[v].r_m};
  }
}

bool cavum_mesh_follow(cavum_mesh *mesh, cavum_mesh_follower *follower,
                       const cavum_contour *contour) {
  if (!same_pieces(&follower->base, contour)) return false;
  memcpy(mesh->curves, contour->curves, (size_t)contour->num_curves * sizeof *mesh->curves);
  move_boundary(mesh, follower);
  move_inside(mesh, follower);
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    cavum_follow_shape now = measure(mesh, e), base = follower->shape[e];
    if (!(now.sine >= SINE_LEFT * base.sine)) return false;
    if (!(now.jacobian_ratio >= RATIO_LEFT * base.jacobian_ratio)) return false;
  }
  return true;
}

// The rounds of move_inside() backwards.
CAVUM_FAST static void transpose_half_round(cavum_half *restrict by, const cavum_mesh_follower *f) {
  for (cavum_index i = f->num_free - 1; i >= 0; i--) {
    cavum_half *own = &by[f->free_vertex[i]];
    cavum_half part = OVER_RELAXATION * *own;
    *own -= part;
    for (cavum_index k = f->first_neighbour[i]; k < f->first_neighbour[i + 1]; k++) {
      by[f->neighbour[k]] += f->weight[k] * part;
    }
  }
}

CAVUM_FAST static void transpose_round(cavum_lanes *restrict by, const cavum_mesh_follower *f) {
  for (cavum_index i = f->num_free - 1; i >= 0; i--) {
    cavum_lanes *own = &by[f->free_vertex[i]];
    cavum_lanes part = OVER_RELAXATION * *own;
    *own -= part;
    for (cavum_index k = f->first_neighbour[i]; k < f->first_neighbour[i + 1]; k++) {
      by[f->neighbour[k]] += f->weight[k] * part;
    }
  }
}

void cavum_mesh_follower_transpose(cavum_lanes *by, const cavum_mesh_follower *f) {
  for (int round = 0; round < ROUNDS; round++) transpose_round(by, f);
  for (cavum_index i = 0; i < f->num_free; i++) {
    by[f->nearest[i]] += by[f->free_vertex[i]];
    by[f->free_vertex[i]] = (cavum_lanes){0};
  }
}

void cavum_mesh_follower_transpose_half(cavum_half *by, const cavum_mesh_follower *f) {
  for (int round = 0; round < ROUNDS; round++) transpose_half_round(by, f);
  for (cavum_index i = 0; i < f->num_free; i++) {
    by[f->nearest[i]] += by[f->free_vertex[i]];
    by[f->free_vertex[i]] = (cavum_half){0};
  }
}
