// SPDX-License-Identifier: GPL-3.0-or-later
#include "optimum/vanishing.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cell/dimension.h"
#include "contour/check.h"

// Least lengths: a part of the size of the cell, or of what the piece was.
static const double OF_SIZE = 1e-4, OF_PIECE = 0.1;

static bool is_of_curve(const cavum_cell_dimension *d, cavum_index curve) {
  if (!d->of_path) return false;
  bool of_spline = d->count[0] > 0 && curve >= d->first[0] && curve < d->first[0] + d->count[0];
  return d->curve == curve || of_spline;
}

// The entry of the path that a curve is made from: the numbers of an entry have its name in front.
static cavum_status name_entry(char key[CAVUM_OPTIMUM_NAME_SIZE], const cavum_cell *cell,
                               cavum_index curve, cavum_error *error) {
  cavum_cell_dimensions dimensions = {0};
  snprintf(key, CAVUM_OPTIMUM_NAME_SIZE, "a piece");
  cavum_status status = cavum_cell_dimensions_list(&dimensions, cell, error);
  for (int i = 0; i < dimensions.count; i++) {
    const cavum_cell_dimension *d = &dimensions.list[i];
    const char *name = strstr(d->key, "path["), *end = name ? strchr(name, ']') : NULL;
    if (!is_of_curve(d, curve) || !end) continue;
    snprintf(key, CAVUM_OPTIMUM_NAME_SIZE, "%.*s", (int)(end + 1 - name), name);
    break;
  }
  cavum_cell_dimensions_clear(&dimensions);
  return status;
}

cavum_status cavum_vanishing_find(cavum_optimum_piece *piece, const cavum_cell *cell,
                                  const cavum_cell *base, double times, cavum_error *error) {
  cavum_index found = -1;
  double least_part = times;
  piece->key[0] = '\0';
  if (cell->kind != CAVUM_CONTOUR_PATH || base->kind != CAVUM_CONTOUR_PATH) return CAVUM_OK;
  if (cell->path.num_curves != base->path.num_curves) return CAVUM_OK;
  double size = cavum_contour_size_m(&base->path);
  for (cavum_index i = 0; i < cell->path.num_curves; i++) {
    double length = cavum_curve_length(&cell->path.curves[i], 0.0, 1.0);
    double before = cavum_curve_length(&base->path.curves[i], 0.0, 1.0);
    double least = cavum_min(OF_SIZE * size, OF_PIECE * before);
    if (!(length < least_part * least)) continue;
    least_part = length / least;
    found = i;
    piece->length_m = length;
    piece->least_m = least;
  }
  if (found < 0) return CAVUM_OK;
  const cavum_curve *curve = &cell->path.curves[found];
  piece->z_m = curve->start.z_m;
  piece->r_m = curve->start.r_m;
  piece->in_right_half =
      0.5 * (curve->start.z_m + curve->end.z_m) > cavum_contour_middle_m(&cell->path);
  return name_entry(piece->key, cell, found, error);
}

void cavum_vanishing_tell(char text[CAVUM_VANISHING_SIZE], const cavum_optimum_piece *piece) {
  text[0] = '\0';
  if (!piece->key[0]) return;
  snprintf(text, CAVUM_VANISHING_SIZE,
           "%s in the %s half vanishes at z = %.3f mm, r = %.3f mm (%.3g um left, least %.3g um)",
           piece->key, piece->in_right_half ? "right" : "left", cavum_in_mm(piece->z_m),
           cavum_in_mm(piece->r_m), cavum_in_unit(piece->length_m, CAVUM_UNIT_UM),
           cavum_in_unit(piece->least_m, CAVUM_UNIT_UM));
}
