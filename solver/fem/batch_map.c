// SPDX-License-Identifier: GPL-3.0-or-later
// Element maps of a batch. Exact curves are evaluated element by element, at the points of one
// direction; the blend over both directions is done for all lanes at once.
#include "fem/batch_map.h"

#include "base/base.h"
#include "base/fast.h"
#include "element/element_map.h"

// Parts of the blended maps, one element to a lane.
typedef struct part {
  cavum_lanes z[CAVUM_POINTS_MOST], r[CAVUM_POINTS_MOST];
  cavum_lanes z_x[CAVUM_POINTS_MOST], r_x[CAVUM_POINTS_MOST];
} part;

typedef struct parts {
  part bottom, top, left, right;
} parts;

static void set_lane(part *to, int lane, const cavum_edge_position *from, int n) {
  for (int i = 0; i < n; i++) {
    to->z[i][lane] = from[i].z;
    to->r[i][lane] = from[i].r;
    to->z_x[i][lane] = from[i].z_x;
    to->r_x[i][lane] = from[i].r_x;
  }
}

// The formula of cavum_blend_edges and its derivatives.
CAVUM_FAST static void blend(const cavum_batch_map *restrict map, const parts *restrict p, int n,
                             const double *restrict x) {
  cavum_lanes *restrict to_r = map->r;
  cavum_lanes *restrict z_xi = map->z_xi, *restrict r_xi = map->r_xi;
  cavum_lanes *restrict z_eta = map->z_eta, *restrict r_eta = map->r_eta;
  for (int j = 0; j < n; j++) {
    double b = 0.5 * (1.0 - x[j]), t = 0.5 * (1.0 + x[j]);
    for (int i = 0; i < n; i++) {
      int at = j * n + i;
      double l = 0.5 * (1.0 - x[i]), r = 0.5 * (1.0 + x[i]);
      to_r[at] = b * p->bottom.r[i] + t * p->top.r[i] + l * p->left.r[j] + r * p->right.r[j];
      z_xi[at] = b * p->bottom.z_x[i] + t * p->top.z_x[i] + 0.5 * (p->right.z[j] - p->left.z[j]);
      r_xi[at] = b * p->bottom.r_x[i] + t * p->top.r_x[i] + 0.5 * (p->right.r[j] - p->left.r[j]);
      z_eta[at] = 0.5 * (p->top.z[i] - p->bottom.z[i]) + l * p->left.z_x[j] + r * p->right.z_x[j];
      r_eta[at] = 0.5 * (p->top.r[i] - p->bottom.r[i]) + l * p->left.r_x[j] + r * p->right.r_x[j];
    }
  }
}

static void fill_blended(const cavum_batch_map *map, const cavum_discretisation *d,
                         const cavum_batch *batch) {
  const cavum_reference *ref = d->reference;
  cavum_blend_edges one;
  parts all;
  for (int lane = 0; lane < CAVUM_LANES; lane++) {
    if (lane < batch->count) {
      cavum_element_blend_edges(&one, d->mesh, batch->element[lane], ref->q, ref->x);
    }
    set_lane(&all.bottom, lane, one.bottom, ref->q);
    set_lane(&all.top, lane, one.top, ref->q);
    set_lane(&all.left, lane, one.left, ref->q);
    set_lane(&all.right, lane, one.right, ref->q);
  }
  blend(map, &all, ref->q, ref->x);
}

enum { NODES_TRIANGLE = (CAVUM_MAP_LARGEST_ORDER + 1) * (CAVUM_MAP_LARGEST_ORDER + 2) / 2 };

// The nodes of the triangles of a batch, one triangle to a lane.
typedef struct nodes {
  int count;
  cavum_lanes z[NODES_TRIANGLE], r[NODES_TRIANGLE];
} nodes;

static void gather_nodes(nodes *to, const cavum_mesh *mesh, const cavum_batch *batch) {
  to->count = cavum_element_lattice_count(3, mesh->node_order);
  for (int lane = 0; lane < CAVUM_LANES; lane++) {
    const cavum_point *from = &mesh->nodes[mesh->elements[batch->element[lane]].first_node];
    for (int k = 0; k < to->count; k++) {
      to->z[k][lane] = from[k].z_m;
      to->r[k][lane] = from[k].r_m;
    }
  }
}

// All lanes at point `at` from the values of the functions of the lattice there.
CAVUM_FAST static void sum_nodes(const cavum_batch_map *restrict map, int at,
                                 const nodes *restrict lattice, const double *restrict value,
                                 const double *restrict d_xi, const double *restrict d_eta) {
  cavum_sum r = {0}, z_xi = {0}, r_xi = {0}, z_eta = {0}, r_eta = {0};
  for (int k = 0; k < lattice->count; k++) {
    cavum_sum_add(&r, value[k], &lattice->r[k]);
    cavum_sum_add(&z_xi, d_xi[k], &lattice->z[k]);
    cavum_sum_add(&r_xi, d_xi[k], &lattice->r[k]);
    cavum_sum_add(&z_eta, d_eta[k], &lattice->z[k]);
    cavum_sum_add(&r_eta, d_eta[k], &lattice->r[k]);
  }
  cavum_sum_store(&map->r[at], &r);
  cavum_sum_store(&map->z_xi[at], &z_xi);
  cavum_sum_store(&map->r_xi[at], &r_xi);
  cavum_sum_store(&map->z_eta[at], &z_eta);
  cavum_sum_store(&map->r_eta[at], &r_eta);
}

static void fill_triangles(const cavum_batch_map *map, const cavum_discretisation *d,
                           const cavum_batch *batch) {
  nodes lattice;
  gather_nodes(&lattice, d->mesh, batch);
  const double *at = d->lattice;
  for (int i = 0; i < d->reference->triangle_points; i++, at += 3 * lattice.count) {
    sum_nodes(map, i, &lattice, at, at + lattice.count, at + 2 * lattice.count);
  }
}

cavum_status cavum_batch_map_tabulate(double **lattice, const cavum_mesh *mesh,
                                      const cavum_reference *ref, cavum_error *error) {
  int count = cavum_element_lattice_count(3, mesh->node_order);
  double *table = cavum_alloc((int64_t)ref->triangle_points * 3 * count, sizeof *table),
         *at = table;
  if (!table) return cavum_fail_memory(error);
  for (int i = 0; i < ref->triangle_points; i++, at += 3 * count) {
    cavum_element_triangle_lattice(at, at + count, at + 2 * count, mesh->node_order,
                                   ref->triangle_xi[i], ref->triangle_eta[i]);
  }
  free(*lattice);
  *lattice = table;
  return CAVUM_OK;
}

// Quadrilaterals with nodes of their own.
static void fill_quadrilaterals(const cavum_batch_map *map, const cavum_discretisation *d,
                                const cavum_batch *batch) {
  const cavum_reference *ref = d->reference;
  cavum_map_point points[CAVUM_GRID_MOST];
  int count = cavum_reference_points(ref, batch->num_corners);
  for (int lane = 0; lane < CAVUM_LANES; lane++) {
    if (lane < batch->count) {
      cavum_element_map_tensor(points, d->mesh, batch->element[lane], ref->q, ref->x);
    }
    for (int i = 0; i < count; i++) {
      map->r[i][lane] = points[i].r;
      map->z_xi[i][lane] = points[i].z_xi;
      map->r_xi[i][lane] = points[i].r_xi;
      map->z_eta[i][lane] = points[i].z_eta;
      map->r_eta[i][lane] = points[i].r_eta;
    }
  }
}

void cavum_batch_map_fill(const cavum_batch_map *map, const cavum_discretisation *discretisation,
                          const cavum_batch *batch) {
  if (discretisation->mesh->node_order == 0) {
    fill_blended(map, discretisation, batch);
  } else if (batch->num_corners == 3) {
    fill_triangles(map, discretisation, batch);
  } else {
    fill_quadrilaterals(map, discretisation, batch);
  }
}

cavum_batch_map cavum_batch_map_of(cavum_batch_map_room *room,
                                   const cavum_discretisation *discretisation,
                                   const cavum_batch *batch) {
  int points = cavum_reference_points(discretisation->reference, batch->num_corners);
  if (discretisation->maps) {
    return cavum_batch_map_in(discretisation->maps + batch->first_coeff / 4 * CAVUM_MAP_PARTS,
                              points);
  }
  cavum_batch_map map = cavum_batch_map_in(room->parts, points);
  cavum_batch_map_fill(&map, discretisation, batch);
  return map;
}
