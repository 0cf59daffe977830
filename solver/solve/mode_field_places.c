// SPDX-License-Identifier: GPL-3.0-or-later
// A raster over the mesh: for each of its cells the elements that may reach into it. The pieces of
// each element's lattice are put on it, a little larger than their corners say, since their sides
// may be curved.
#include <math.h>

#include "base/base.h"
#include "element/element_map.h"
#include "solve/mode_field.h"

// Cells of the raster for each piece of a lattice, and how many there are at least and at most.
static const double CELLS_PER_PIECE = 2.0, CELLS_LEAST = 4096.0, CELLS_MOST = 4e6;
// Share of its size by which a piece is enlarged on each side.
static const double MARGIN = 0.3;

typedef struct box {
  double low_z, high_z, low_r, high_r;
} box;

static box empty_box(void) { return (box){HUGE_VAL, -HUGE_VAL, HUGE_VAL, -HUGE_VAL}; }

static void extend(box *b, double z, double r) {
  b->low_z = fmin(b->low_z, z);
  b->high_z = fmax(b->high_z, z);
  b->low_r = fmin(b->low_r, r);
  b->high_r = fmax(b->high_r, r);
}

static cavum_status lay_raster(cavum_field_places *places, const cavum_field_polynomials *all,
                               const cavum_field_grid *grid, cavum_error *error) {
  box b = empty_box();
  for (cavum_index i = 0; i < grid->num_points; i++) extend(&b, grid->z_m[i], grid->r_m[i]);
  double margin = 1e-6 * all->size_m;
  double width = b.high_z - b.low_z + 2.0 * margin, height = b.high_r - b.low_r + 2.0 * margin;
  double pieces = (double)all->num_elements * grid->order * grid->order;
  double cells = fmin(fmax(CELLS_PER_PIECE * pieces, CELLS_LEAST), CELLS_MOST);
  places->cells_per_m = sqrt(cells / (width * height));
  // A long thin cell still gets one row.
  places->cells_per_m = fmin(places->cells_per_m, CELLS_MOST / fmax(width, height));
  places->z_m = b.low_z - margin;
  places->r_m = b.low_r - margin;
  places->num_z = (int)(width * places->cells_per_m) + 1;
  places->num_r = (int)(height * places->cells_per_m) + 1;
  int64_t count = (int64_t)places->num_z * places->num_r;
  places->first = cavum_alloc(count, sizeof *places->first);
  if (!places->first) return cavum_fail_memory(error);
  for (int64_t i = 0; i < count; i++) places->first[i] = -1;
  return CAVUM_OK;
}

// Keeps the places of a cell in rising distance, and each element once.
static bool add_place(cavum_field_places *places, int64_t cell, cavum_field_place place) {
  int32_t *link = &places->first[cell];
  for (int32_t k = *link; k >= 0; k = places->places[k].next) {
    cavum_field_place *other = &places->places[k];
    if (other->element != place.element) continue;
    if (place.distance < other->distance) {
      place.next = other->next;
      *other = place;
    }
    return true;
  }
  if (places->count >= INT32_MAX ||
      !cavum_grow((void **)&places->places, &places->capacity, places->count + 1, sizeof place)) {
    return false;
  }
  while (*link >= 0 && places->places[*link].distance <= place.distance) {
    link = &places->places[*link].next;
  }
  place.next = *link;
  places->places[places->count] = place;
  *link = (int32_t)places->count++;
  return true;
}

static int clamp(double x, int most) {
  if (x < 0.0) return 0;
  return x > most ? most : (int)x;
}

// One piece of a lattice, between its middle in reference coordinates and its box.
static bool add_piece(cavum_field_places *places, const box *b, cavum_index element, double x,
                      double y) {
  double z = 0.5 * (b->low_z + b->high_z), r = 0.5 * (b->low_r + b->high_r);
  double margin = MARGIN * fmax(b->high_z - b->low_z, b->high_r - b->low_r);
  double scale = places->cells_per_m;
  int i0 = clamp((b->low_z - margin - places->z_m) * scale, places->num_z - 1);
  int i1 = clamp((b->high_z + margin - places->z_m) * scale, places->num_z - 1);
  int j0 = clamp((b->low_r - margin - places->r_m) * scale, places->num_r - 1);
  int j1 = clamp((b->high_r + margin - places->r_m) * scale, places->num_r - 1);
  for (int j = j0; j <= j1; j++) {
    for (int i = i0; i <= i1; i++) {
      double dz = (z - places->z_m) * scale - (i + 0.5), dr = (r - places->r_m) * scale - (j + 0.5);
      cavum_field_place place = {
          .element = element, .x = (float)x, .y = (float)y, .distance = (float)(dz * dz + dr * dr)};
      if (!add_place(places, (int64_t)j * places->num_z + i, place)) return false;
    }
  }
  return true;
}

// Node (i, j) of a lattice.
static int node(int corners, int order, int i, int j) {
  return corners == 4 ? j * (order + 1) + i : j * (2 * order + 3 - j) / 2 + i;
}

static bool add_element(cavum_field_places *places, cavum_index element, int corners, int order,
                        const double *z, const double *r) {
  for (int j = 0; j < order; j++) {
    for (int i = 0; i < order && (corners == 4 || i + j < order); i++) {
      box b = empty_box();
      bool whole = corners == 4 || i + j + 1 < order;
      for (int k = 0; k < (whole ? 4 : 3); k++) {
        int at = node(corners, order, i + (k & 1), j + (k >> 1));
        extend(&b, z[at], r[at]);
      }
      double middle = whole ? 0.5 : 1.0 / 3.0;
      if (!add_piece(places, &b, element, 2.0 * (i + middle) / order - 1.0,
                     2.0 * (j + middle) / order - 1.0)) {
        return false;
      }
    }
  }
  return true;
}

cavum_status cavum_field_places_create(cavum_field_places *places,
                                       const cavum_field_polynomials *all,
                                       const cavum_field_grid *grid, cavum_error *error) {
  *places = (cavum_field_places){0};
  cavum_status status = lay_raster(places, all, grid, error);
  if (status != CAVUM_OK) return status;
  cavum_index at = 0;
  for (cavum_index e = 0; e < all->num_elements; e++) {
    int corners = all->elements[e].num_corners;
    if (!add_element(places, e, corners, grid->order, grid->z_m + at, grid->r_m + at)) {
      return cavum_fail_memory(error);
    }
    at += cavum_element_lattice_count(corners, grid->order);
  }
  return CAVUM_OK;
}

void cavum_field_places_clear(cavum_field_places *places) {
  if (!places) return;
  free(places->first);
  free(places->places);
  *places = (cavum_field_places){0};
}
