// SPDX-License-Identifier: GPL-3.0-or-later
// From triangles to patches: pairs of triangles are joined, best first, as long as they make good
// quadrilaterals.
#include "mesher/pair.h"

#include "base/base.h"

// Least quality of a pair: corners between 31 and 149 degrees.
static const double LEAST_PAIR_QUALITY = 0.35;

// A triangle or a pair of them as one polygon: 3 or 4 sides, each a triangle edge t * 3 + k,
// counterclockwise.
typedef struct polygon {
  int count;
  cavum_index side[4];
} polygon;

typedef struct pair {
  cavum_index edge;  // t * 3 + k with t below its neighbour
  double quality;
} pair;

static cavum_index next_side(cavum_index side, int steps) {
  return side - side % 3 + (side % 3 + steps) % 3;
}

static cavum_index twin(const cavum_coarse *coarse, cavum_index side) {
  const cavum_triangle *triangles = coarse->triangulation.triangles;
  cavum_index u = triangles[side / 3].neighbour[side % 3];
  return u < 0 ? -1 : 3 * u + cavum_delaunay_edge_towards(&triangles[u], side / 3);
}

static polygon joined_polygon(const cavum_coarse *coarse, cavum_index edge) {
  cavum_index other = twin(coarse, edge);
  return (polygon){
      4, {next_side(other, 1), next_side(other, 2), next_side(edge, 1), next_side(edge, 2)}};
}

// 1 for four right angles, 0 when a corner is 0 or 180 degrees.
static double pair_quality(const cavum_coarse *coarse, cavum_index edge) {
  polygon quad = joined_polygon(coarse, edge);
  double worst = 0.0;
  for (int k = 0; k < 4; k++) {
    double angle = cavum_coarse_angle(coarse, quad.side[k], quad.side[(k + 3) % 4]);
    worst = cavum_max(worst, fabs(angle - 0.5 * CAVUM_PI));
  }
  return 1.0 - worst / (0.5 * CAVUM_PI);
}

static int compare_pairs(const void *left, const void *right) {
  const pair *a = left, *b = right;
  if (a->quality != b->quality) return a->quality > b->quality ? -1 : 1;
  return a->edge < b->edge ? -1 : 1;
}

// Sets mate[t] to the edge by which t is joined, or -1.
static cavum_status choose_pairs(cavum_index *mate, const cavum_coarse *coarse,
                                 cavum_error *error) {
  cavum_index n = coarse->triangulation.num_triangles, count = 0;
  pair *pairs = cavum_alloc(3 * (int64_t)n, sizeof *pairs);
  if (!pairs) return cavum_fail_memory(error);
  for (cavum_index t = 0; t < n; t++) {
    mate[t] = -1;
    for (int k = 0; k < 3; k++) {
      if (coarse->triangulation.triangles[t].neighbour[k] < t) continue;
      double quality = pair_quality(coarse, 3 * t + k);
      if (quality < LEAST_PAIR_QUALITY) continue;
      const cavum_index *v = coarse->triangulation.triangles[t].vertex;
      if (cavum_coarse_is_narrow_corner(coarse, v[k]) ||
          cavum_coarse_is_narrow_corner(coarse, v[(k + 1) % 3])) {
        quality += 1.0;  // first: this makes a corner whole
      }
      pairs[count++] = (pair){3 * t + k, quality};
    }
  }
  qsort(pairs, (size_t)count, sizeof *pairs, compare_pairs);
  for (cavum_index i = 0; i < count; i++) {
    cavum_index edge = pairs[i].edge, other = twin(coarse, edge);
    if (mate[edge / 3] >= 0 || mate[other / 3] >= 0) continue;
    mate[edge / 3] = edge;
    mate[other / 3] = other;
  }
  free(pairs);
  return CAVUM_OK;
}

static cavum_status add_polygon(cavum_patches *patches, const cavum_coarse *coarse,
                                const polygon *sides, cavum_error *error) {
  cavum_patch patch = {.num_corners = sides->count};
  for (int k = 0; k < sides->count; k++) {
    cavum_index t = sides->side[k] / 3;
    int edge = sides->side[k] % 3;
    cavum_index segment = cavum_coarse_segment(coarse, t, edge);
    patch.vertex[k] = coarse->triangulation.triangles[t].vertex[edge];
    patch.side[k] = segment >= 0 ? coarse->segments->segments[segment] : (cavum_segment){-1, {0}};
  }
  return cavum_patches_add(patches, &patch) ? CAVUM_OK : cavum_fail_memory(error);
}

cavum_status cavum_pair_triangles(cavum_patches *patches, const cavum_coarse *coarse,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_triangulation *mesh = &coarse->triangulation;
  cavum_index n = mesh->num_triangles;
  patches->num_vertices = patches->num_patches = 0;
  cavum_index *mate = cavum_alloc(n, sizeof *mate);
  if (!mate) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index i = 0; i < mesh->num_points; i++) {
    if (cavum_patches_add_vertex(patches, mesh->points[i]) < 0) {
      CAVUM_TRY(cavum_fail_memory(error));
    }
  }
  CAVUM_TRY(choose_pairs(mate, coarse, error));
  for (cavum_index t = 0; t < n; t++) {
    polygon sides = {3, {3 * t, 3 * t + 1, 3 * t + 2, -1}};
    if (mate[t] >= 0) {
      if (twin(coarse, mate[t]) / 3 < t) continue;  // already there with its mate
      sides = joined_polygon(coarse, mate[t]);
    }
    CAVUM_TRY(add_polygon(patches, coarse, &sides, error));
  }
done:
  free(mate);
  return status;
}
