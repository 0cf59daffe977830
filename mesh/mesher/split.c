// SPDX-License-Identifier: GPL-3.0-or-later
// Every quadrilateral into m x m equal divisions of its reference square: the refinement that keeps
// the layout of the mesh.
#include "mesher/split.h"

#include <string.h>

#include "base/base.h"

// One side of one quadrilateral; sides of two with the same pair of vertices are one.
typedef struct quad_side {
  cavum_index low, high;  // vertices
  cavum_index place;      // quad * 4 + side
} quad_side;

static int compare_sides(const void *left, const void *right) {
  const quad_side *a = left, *b = right;
  if (a->low != b->low) return a->low < b->low ? -1 : 1;
  if (a->high != b->high) return a->high < b->high ? -1 : 1;
  return a->place < b->place ? -1 : 1;
}

// Point at i / m of the way along side k.
static cavum_point point_on_side(const cavum_quads *quads, const cavum_quad *quad, int k,
                                 double way) {
  if (quad->curve[k] >= 0) {
    double t = quad->t[k][0] + way * (quad->t[k][1] - quad->t[k][0]);
    return cavum_curve_point(&quads->contour->curves[quad->curve[k]], t);
  }
  cavum_point a = quads->vertices[quad->vertex[k]];
  cavum_point b = quads->vertices[quad->vertex[(k + 1) & 3]];
  return (cavum_point){a.z_m + way * (b.z_m - a.z_m), a.r_m + way * (b.r_m - a.r_m)};
}

// New vertices on all sides, m - 1 each, from the lower to the higher vertex; first[quad * 4 +
// side] is the first of them.
static cavum_status split_sides(cavum_index *first, cavum_quads *quads, int m, cavum_error *error) {
  cavum_index count = 4 * quads->num_quads, start = 0;
  quad_side *sides = cavum_alloc(count, sizeof *sides);
  if (!sides) return cavum_fail_memory(error);
  for (cavum_index i = 0; i < count; i++) {
    const cavum_quad *quad = &quads->quads[i / 4];
    cavum_index a = quad->vertex[i % 4], b = quad->vertex[(i + 1) % 4];
    sides[i] = (quad_side){a < b ? a : b, a < b ? b : a, i};
  }
  qsort(sides, (size_t)count, sizeof *sides, compare_sides);
  cavum_status status = CAVUM_OK;
  for (cavum_index i = 0; i < count && status == CAVUM_OK; i++) {
    cavum_index place = sides[i].place;
    bool again = i > 0 && sides[i - 1].low == sides[i].low && sides[i - 1].high == sides[i].high;
    if (!again) start = quads->num_vertices;
    first[place] = start;
    for (int step = 1; !again && step < m && status == CAVUM_OK; step++) {
      const cavum_quad *quad = &quads->quads[place / 4];
      bool forward = quad->vertex[place % 4] == sides[i].low;
      double way = (double)(forward ? step : m - step) / m;
      cavum_point point = point_on_side(quads, quad, place % 4, way);
      if (cavum_quads_add_vertex(quads, point) < 0) status = cavum_fail_memory(error);
    }
  }
  free(sides);
  return status;
}

// What the divisions of one quadrilateral share.
typedef struct grid {
  cavum_quad whole;
  const cavum_index *first;  // of its four sides
  cavum_index inner;         // first new vertex inside
  int m;
} grid;

static cavum_index side_vertex(const grid *divisions, int k, int step) {
  cavum_index a = divisions->whole.vertex[k], b = divisions->whole.vertex[(k + 1) & 3];
  if (step == 0) return a;
  if (step == divisions->m) return b;
  return divisions->first[k] + (a < b ? step - 1 : divisions->m - 1 - step);
}

static cavum_index grid_vertex(const grid *divisions, int i, int j) {
  if (j == 0) return side_vertex(divisions, 0, i);
  if (i == divisions->m) return side_vertex(divisions, 1, j);
  if (j == divisions->m) return side_vertex(divisions, 2, divisions->m - i);
  if (i == 0) return side_vertex(divisions, 3, divisions->m - j);
  return divisions->inner + (j - 1) * (divisions->m - 1) + i - 1;
}

// Puts the part of a curved side from step to step + 1 under side k.
static void set_part(cavum_quad *part, int k, const grid *divisions, int step) {
  const cavum_quad *whole = &divisions->whole;
  part->curve[k] = whole->curve[k];
  double t0 = whole->t[k][0], rise = whole->t[k][1] - t0;
  part->t[k][0] = step == 0 ? t0 : t0 + (double)step / divisions->m * rise;
  part->t[k][1] =
      step + 1 == divisions->m ? whole->t[k][1] : t0 + (double)(step + 1) / divisions->m * rise;
}

static cavum_status split_quad(cavum_quads *quads, cavum_index q, grid *divisions,
                               cavum_error *error) {
  int m = divisions->m;
  divisions->whole = quads->quads[q];
  divisions->inner = quads->num_vertices;
  for (int j = 1; j < m; j++) {
    for (int i = 1; i < m; i++) {
      cavum_point point =
          cavum_quads_map(quads, &divisions->whole, 2.0 * i / m - 1.0, 2.0 * j / m - 1.0);
      if (cavum_quads_add_vertex(quads, point) < 0) return cavum_fail_memory(error);
    }
  }
  for (int j = 0; j < m; j++) {
    for (int i = 0; i < m; i++) {
      cavum_quad part = {{grid_vertex(divisions, i, j), grid_vertex(divisions, i + 1, j),
                          grid_vertex(divisions, i + 1, j + 1), grid_vertex(divisions, i, j + 1)},
                         {-1, -1, -1, -1},
                         {{0}}};
      if (j == 0) set_part(&part, 0, divisions, i);
      if (i == m - 1) set_part(&part, 1, divisions, j);
      if (j == m - 1) set_part(&part, 2, divisions, m - 1 - i);
      if (i == 0) set_part(&part, 3, divisions, m - 1 - j);
      if (i == 0 && j == 0) {
        quads->quads[q] = part;
      } else if (!cavum_quads_add(quads, &part)) {
        return cavum_fail_memory(error);
      }
    }
  }
  return CAVUM_OK;
}

cavum_status cavum_split_quads(cavum_quads *quads, int divisions, cavum_error *error) {
  cavum_index count = quads->num_quads;
  if (divisions < 2) return CAVUM_OK;
  cavum_index *first = cavum_alloc(4 * (int64_t)count, sizeof *first);
  if (!first) return cavum_fail_memory(error);
  cavum_status status = split_sides(first, quads, divisions, error);
  for (cavum_index q = 0; q < count && status == CAVUM_OK; q++) {
    grid pieces = {.first = &first[4 * q], .m = divisions};
    status = split_quad(quads, q, &pieces, error);
  }
  free(first);
  return status;
}
