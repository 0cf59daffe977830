// SPDX-License-Identifier: GPL-3.0-or-later
// Element maps of a batch. Exact curves are evaluated element by element, at the points of one
// direction; the blend over both directions is done for all lanes at once.
#include "fem/batch_map.h"

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
CAVUM_FAST static void blend(cavum_batch_map *restrict map, const parts *restrict p, int n,
                             const double *restrict x) {
  for (int j = 0; j < n; j++) {
    double b = 0.5 * (1.0 - x[j]), t = 0.5 * (1.0 + x[j]);
    for (int i = 0; i < n; i++) {
      int at = j * n + i;
      double l = 0.5 * (1.0 - x[i]), r = 0.5 * (1.0 + x[i]);
      map->r[at] = b * p->bottom.r[i] + t * p->top.r[i] + l * p->left.r[j] + r * p->right.r[j];
      map->z_xi[at] =
          b * p->bottom.z_x[i] + t * p->top.z_x[i] + 0.5 * (p->right.z[j] - p->left.z[j]);
      map->r_xi[at] =
          b * p->bottom.r_x[i] + t * p->top.r_x[i] + 0.5 * (p->right.r[j] - p->left.r[j]);
      map->z_eta[at] =
          0.5 * (p->top.z[i] - p->bottom.z[i]) + l * p->left.z_x[j] + r * p->right.z_x[j];
      map->r_eta[at] =
          0.5 * (p->top.r[i] - p->bottom.r[i]) + l * p->left.r_x[j] + r * p->right.r_x[j];
    }
  }
}

static void fill_blended(cavum_batch_map *map, const cavum_discretisation *d,
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

// Elements with nodes of their own.
static void fill_from_nodes(cavum_batch_map *map, const cavum_discretisation *d,
                            const cavum_batch *batch) {
  const cavum_reference *ref = d->reference;
  cavum_map_point points[CAVUM_GRID_MOST];
  int count = cavum_reference_points(ref, batch->num_corners);
  for (int lane = 0; lane < CAVUM_LANES; lane++) {
    cavum_index e = batch->element[lane];
    if (lane < batch->count && batch->num_corners == 4) {
      cavum_element_map_tensor(points, d->mesh, e, ref->q, ref->x);
    } else if (lane < batch->count) {
      cavum_element_map_points(points, d->mesh, e, count, ref->triangle_xi, ref->triangle_eta);
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

void cavum_batch_map_fill(cavum_batch_map *map, const cavum_discretisation *discretisation,
                          const cavum_batch *batch) {
  if (discretisation->mesh->node_order == 0) {
    fill_blended(map, discretisation, batch);
  } else {
    fill_from_nodes(map, discretisation, batch);
  }
}
