// SPDX-License-Identifier: GPL-3.0-or-later
// The order of elements and vertices of a large MSH file: along a curve that fills the plane, so
// that neighbours are near in memory, whatever order the program had that wrote the file.
#include <string.h>

#include "base/stop.h"
#include "msh/build.h"

// Meshes of fewer elements keep their order: what is computed of them stays in the caches.
enum { ORDERED_FROM = 10000 };
// Bits of a coordinate on the curve.
enum { BITS = 16 };

// Where a face is on the curve.
typedef struct face_place {
  uint64_t along;
  cavum_index face;
} face_place;

static int compare_places(const void *left, const void *right) {
  const face_place *a = left, *b = right;
  if (a->along != b->along) return a->along < b->along ? -1 : 1;
  return a->face < b->face ? -1 : a->face > b->face;
}

// Distance along the curve of Hilbert of a cell of the grid, from its largest square down: each has
// four quarters in the order of the curve, of which the first and the last are turned.
static uint64_t distance_along(uint32_t x, uint32_t y) {
  uint64_t along = 0;
  for (int bit = BITS - 1; bit >= 0; bit--) {
    uint32_t right = (x >> bit) & 1, up = (y >> bit) & 1, mask = (1u << bit) - 1;
    along = 4 * along + ((3 * right) ^ up);
    if (up) continue;
    if (right) {
      x = mask - (x & mask);
      y = mask - (y & mask);
    }
    uint32_t other = x;
    x = y;
    y = other;
  }
  return along;
}

static uint32_t on_grid(double value, double low, double scale) {
  double most = (double)((1u << BITS) - 1), at = scale * (value - low);
  return (uint32_t)cavum_min(cavum_max(at, 0.0), most);
}

// Sorts the faces by the middle of their corners.
static cavum_status sort_faces(cavum_msh_build *build) {
  cavum_status status = CAVUM_OK;
  cavum_msh_raw *raw = build->raw;
  double z_low = HUGE_VAL, scale = ((1u << BITS) - 1) / build->size_m;
  cavum_msh_element *faces = cavum_alloc(raw->num_faces, sizeof *faces);
  face_place *places = cavum_alloc(raw->num_faces, sizeof *places);
  if (!faces || !places) CAVUM_TRY(cavum_fail_memory(build->error));
  for (int64_t i = 0; i < raw->num_nodes; i++) {
    if (build->vertex[i] != 0) z_low = cavum_min(z_low, build->points[i].z_m);
  }
  for (int64_t f = 0; f < raw->num_faces; f++) {
    if (cavum_stop_asked_at(f)) CAVUM_TRY(cavum_stop_check(build->error));
    const cavum_msh_element *face = &raw->faces[f];
    double z_m = 0.0, r_m = 0.0;
    for (int k = 0; k < face->num_corners; k++) {
      const cavum_point *corner = &build->points[raw->connectivity[face->first + k]];
      z_m += corner->z_m / face->num_corners;
      r_m += corner->r_m / face->num_corners;
    }
    places[f] = (face_place){distance_along(on_grid(z_m, z_low, scale), on_grid(r_m, 0.0, scale)),
                             (cavum_index)f};
  }
  qsort(places, (size_t)raw->num_faces, sizeof *places, compare_places);
  for (int64_t f = 0; f < raw->num_faces; f++) faces[f] = raw->faces[places[f].face];
  memcpy(raw->faces, faces, (size_t)raw->num_faces * sizeof *faces);
done:
  free(faces);
  free(places);
  return status;
}

// Numbers nodes that are corners (2 in build->vertex) as the faces come to them; others become -1.
static cavum_index number_by_faces(cavum_msh_build *build) {
  const cavum_msh_raw *raw = build->raw;
  cavum_index count = 0;
  for (int64_t i = 0; i < raw->num_nodes; i++) build->vertex[i] = -1;
  for (int64_t f = 0; f < raw->num_faces; f++) {
    for (int k = 0; k < raw->faces[f].num_corners; k++) {
      cavum_index *vertex = &build->vertex[raw->connectivity[raw->faces[f].first + k]];
      if (*vertex < 0) *vertex = count++;
    }
  }
  return count;
}

cavum_status cavum_msh_build_order(cavum_index *num_vertices, cavum_msh_build *build) {
  if (build->raw->num_faces >= ORDERED_FROM) {
    cavum_status status = sort_faces(build);
    if (status != CAVUM_OK) return status;
    *num_vertices = number_by_faces(build);
    return CAVUM_OK;
  }
  cavum_index count = 0;
  for (int64_t i = 0; i < build->raw->num_nodes; i++) {
    build->vertex[i] = build->vertex[i] == 2 ? count++ : -1;
  }
  *num_vertices = count;
  return CAVUM_OK;
}
