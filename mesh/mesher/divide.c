// SPDX-License-Identifier: GPL-3.0-or-later
// From patches to quadrilaterals: every patch is divided at the middles of its sides and its
// centre. The result has quadrilaterals only and fits together whatever the patches are.
#include "mesher/divide.h"

#include <string.h>

#include "base/base.h"

// One side of one patch, by its two vertices; sides of two patches with the same pair are one.
typedef struct patch_side {
  cavum_index low, high;  // vertices
  cavum_index place;      // patch * 4 + side
} patch_side;

static int compare_sides(const void *left, const void *right) {
  const patch_side *a = left, *b = right;
  if (a->low != b->low) return a->low < b->low ? -1 : 1;
  if (a->high != b->high) return a->high < b->high ? -1 : 1;
  return a->place < b->place ? -1 : 1;
}

static cavum_point middle_of_side(const cavum_patches *patches, const cavum_contour *contour,
                                  cavum_index place) {
  const cavum_patch *patch = &patches->patches[place / 4];
  int k = place % 4;
  const cavum_segment *side = &patch->side[k];
  if (side->curve >= 0) return cavum_curve_point(&contour->curves[side->curve], side->t[1]);
  cavum_point a = patches->vertices[patch->vertex[k]];
  cavum_point b = patches->vertices[patch->vertex[(k + 1) % patch->num_corners]];
  return (cavum_point){0.5 * (a.z_m + b.z_m), 0.5 * (a.r_m + b.r_m)};
}

// Adds a vertex for the middle of every side; middles[patch * 4 + side] is its index.
static cavum_status add_middles(cavum_quads *quads, cavum_index *middles,
                                const cavum_patches *patches, cavum_error *error) {
  cavum_index count = 0;
  patch_side *sides = cavum_alloc(4 * (int64_t)patches->num_patches, sizeof *sides);
  if (!sides) return cavum_fail_memory(error);
  for (cavum_index p = 0; p < patches->num_patches; p++) {
    const cavum_patch *patch = &patches->patches[p];
    for (int k = 0; k < patch->num_corners; k++) {
      cavum_index a = patch->vertex[k], b = patch->vertex[(k + 1) % patch->num_corners];
      sides[count++] = (patch_side){a < b ? a : b, a < b ? b : a, 4 * p + k};
    }
  }
  qsort(sides, (size_t)count, sizeof *sides, compare_sides);
  cavum_index vertex = -1;
  for (cavum_index i = 0; i < count; i++) {
    bool again = i > 0 && sides[i - 1].low == sides[i].low && sides[i - 1].high == sides[i].high;
    if (!again) {
      vertex =
          cavum_quads_add_vertex(quads, middle_of_side(patches, quads->contour, sides[i].place));
    }
    if (vertex < 0) break;
    middles[sides[i].place] = vertex;
  }
  free(sides);
  return vertex < 0 ? cavum_fail_memory(error) : CAVUM_OK;
}

// Centre by blending the curved sides: middles count fully, corners are taken off.
static cavum_point centre_of_patch(const cavum_quads *quads, const cavum_patch *patch,
                                   const cavum_index *middle) {
  double middle_weight = patch->num_corners == 4 ? 0.5 : 2.0 / 3.0;
  double corner_weight = patch->num_corners == 4 ? -0.25 : -1.0 / 3.0;
  cavum_point centre = {0.0, 0.0};
  for (int k = 0; k < patch->num_corners; k++) {
    cavum_point m = quads->vertices[middle[k]], c = quads->vertices[patch->vertex[k]];
    centre.z_m += middle_weight * m.z_m + corner_weight * c.z_m;
    centre.r_m += middle_weight * m.r_m + corner_weight * c.r_m;
  }
  return centre;
}

// Puts half a segment under a side of a quadrilateral.
static void set_half(cavum_quad *quad, int k, const cavum_segment *side, int half) {
  if (side->curve < 0) return;
  quad->curve[k] = side->curve;
  quad->t[k][0] = side->t[half];
  quad->t[k][1] = side->t[half + 1];
}

static cavum_status divide_patch(cavum_quads *quads, const cavum_patch *patch,
                                 const cavum_index *middle, cavum_error *error) {
  cavum_index centre = cavum_quads_add_vertex(quads, centre_of_patch(quads, patch, middle));
  if (centre < 0) return cavum_fail_memory(error);
  for (int k = 0; k < patch->num_corners; k++) {
    int before = (k + patch->num_corners - 1) % patch->num_corners;
    cavum_quad quad = {
        {patch->vertex[k], middle[k], centre, middle[before]}, {-1, -1, -1, -1}, {{0}}};
    set_half(&quad, 0, &patch->side[k], 0);
    set_half(&quad, 3, &patch->side[before], 1);
    if (!cavum_quads_add(quads, &quad)) return cavum_fail_memory(error);
  }
  return CAVUM_OK;
}

cavum_status cavum_divide_patches(cavum_quads *quads, const cavum_patches *patches,
                                  const cavum_contour *contour, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  quads->num_vertices = quads->num_quads = 0;
  quads->contour = contour;
  cavum_index *middles = cavum_alloc(4 * (int64_t)patches->num_patches, sizeof *middles);
  if (!middles) return cavum_fail_memory(error);
  for (cavum_index i = 0; i < patches->num_vertices; i++) {
    if (cavum_quads_add_vertex(quads, patches->vertices[i]) < 0) {
      CAVUM_TRY(cavum_fail_memory(error));
    }
  }
  CAVUM_TRY(add_middles(quads, middles, patches, error));
  for (cavum_index p = 0; p < patches->num_patches; p++) {
    CAVUM_TRY(divide_patch(quads, &patches->patches[p], &middles[4 * p], error));
  }
done:
  free(middles);
  return status;
}
