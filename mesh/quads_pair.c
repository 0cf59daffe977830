// SPDX-License-Identifier: GPL-3.0-or-later
// From triangles to quadrilaterals: pairs of triangles are joined, best first, and every cell (pair
// or single triangle) is divided at the middles of its sides and its centre. The result has
// quadrilaterals only and fits together whatever the pairs are.
#include "base.h"
#include "quads.h"

// Least quality of a pair: corners between 31 and 149 degrees.
static const double least_pair_quality = 0.35;

// A cell of the coarse mesh: 3 or 4 sides, each a triangle edge t * 3 + k, counterclockwise.
typedef struct cell {
  int count;
  cavum_index side[4];
} cell;

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

static cell joined_cell(const cavum_coarse *coarse, cavum_index edge) {
  cavum_index other = twin(coarse, edge);
  return (cell){4,
                {next_side(other, 1), next_side(other, 2), next_side(edge, 1), next_side(edge, 2)}};
}

// 1 for four right angles, 0 when a corner is 0 or 180 degrees.
static double pair_quality(const cavum_coarse *coarse, cavum_index edge) {
  cell quad = joined_cell(coarse, edge);
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
      if (quality >= least_pair_quality) pairs[count++] = (pair){3 * t + k, quality};
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

static cavum_point middle_of_side(const cavum_coarse *coarse, cavum_index side) {
  cavum_index segment = cavum_coarse_segment(coarse, side / 3, side % 3);
  if (segment >= 0) {
    const cavum_segment *piece = &coarse->chain->segments[segment];
    return cavum_curve_point(&coarse->contour->curves[piece->curve], piece->t[1]);
  }
  const cavum_triangulation *mesh = &coarse->triangulation;
  const cavum_index *v = mesh->triangles[side / 3].vertex;
  cavum_point a = mesh->points[v[side % 3]], b = mesh->points[v[(side % 3 + 1) % 3]];
  return (cavum_point){0.5 * (a.z_m + b.z_m), 0.5 * (a.r_m + b.r_m)};
}

// Puts half a segment under a side of a quadrilateral.
static void set_half(cavum_quad *quad, int k, const cavum_coarse *coarse, cavum_index side,
                     int half) {
  cavum_index segment = cavum_coarse_segment(coarse, side / 3, side % 3);
  if (segment < 0) return;
  const cavum_segment *piece = &coarse->chain->segments[segment];
  quad->curve[k] = piece->curve;
  quad->t[k][0] = piece->t[half];
  quad->t[k][1] = piece->t[half + 1];
}

// Centre of a cell by blending its curved sides: middles count fully, corners are taken off.
static cavum_point centre_of_cell(const cavum_quads *quads, const cell *sides,
                                  const cavum_index corner[4], const cavum_index middle[4]) {
  double middle_weight = sides->count == 4 ? 0.5 : 2.0 / 3.0;
  double corner_weight = sides->count == 4 ? -0.25 : -1.0 / 3.0;
  cavum_point centre = {0.0, 0.0};
  for (int k = 0; k < sides->count; k++) {
    cavum_point m = quads->vertices[middle[k]], c = quads->vertices[corner[k]];
    centre.z_m += middle_weight * m.z_m + corner_weight * c.z_m;
    centre.r_m += middle_weight * m.r_m + corner_weight * c.r_m;
  }
  return centre;
}

static cavum_status divide_cell(cavum_quads *quads, const cavum_coarse *coarse, const cell *sides,
                                cavum_index *middles, cavum_error *error) {
  cavum_index corner[4], middle[4];
  for (int k = 0; k < sides->count; k++) {
    cavum_index side = sides->side[k], other = twin(coarse, side);
    corner[k] = coarse->triangulation.triangles[side / 3].vertex[side % 3];
    if (middles[side] < 0) {
      middles[side] = cavum_quads_add_vertex(quads, middle_of_side(coarse, side));
      if (middles[side] < 0) return cavum_fail_memory(error);
      if (other >= 0) middles[other] = middles[side];
    }
    middle[k] = middles[side];
  }
  cavum_index centre = cavum_quads_add_vertex(quads, centre_of_cell(quads, sides, corner, middle));
  if (centre < 0) return cavum_fail_memory(error);
  for (int k = 0; k < sides->count; k++) {
    int before = (k + sides->count - 1) % sides->count;
    cavum_quad quad = {{corner[k], middle[k], centre, middle[before]}, {-1, -1, -1, -1}, {{0}}};
    set_half(&quad, 0, coarse, sides->side[k], 0);
    set_half(&quad, 3, coarse, sides->side[before], 1);
    if (!cavum_quads_add(quads, &quad)) return cavum_fail_memory(error);
  }
  return CAVUM_OK;
}

cavum_status cavum_quads_from_coarse(cavum_quads *quads, const cavum_coarse *coarse,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_triangulation *mesh = &coarse->triangulation;
  cavum_index n = mesh->num_triangles;
  cavum_quads_clear(quads);
  quads->contour = coarse->contour;
  cavum_index *mate = cavum_alloc(n, sizeof *mate);
  cavum_index *middles = cavum_alloc(3 * (int64_t)n, sizeof *middles);
  if (!mate || !middles) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index i = 0; i < 3 * n; i++) middles[i] = -1;
  for (cavum_index i = 0; i < mesh->num_points; i++) {
    if (cavum_quads_add_vertex(quads, mesh->points[i]) < 0) CAVUM_TRY(cavum_fail_memory(error));
  }
  CAVUM_TRY(choose_pairs(mate, coarse, error));
  for (cavum_index t = 0; t < n; t++) {
    cell sides = {3, {3 * t, 3 * t + 1, 3 * t + 2, -1}};
    if (mate[t] >= 0) {
      if (twin(coarse, mate[t]) / 3 < t) continue;  // already divided with its mate
      sides = joined_cell(coarse, mate[t]);
    }
    CAVUM_TRY(divide_cell(quads, coarse, &sides, middles, error));
  }
done:
  free(mate);
  free(middles);
  return status;
}
