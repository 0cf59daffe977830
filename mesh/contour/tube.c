// SPDX-License-Identifier: GPL-3.0-or-later
// A contour runs counterclockwise: at the right end its plane comes before the metal, at the left
// end behind it.
#include "contour/tube.h"

#include <math.h>

#include "base/base.h"
#include "contour/axial_length.h"
#include "contour/curve.h"

// A wall that differs by more of the radius is no tube any more.
static const double LARGEST_TAPER = 0.01;
// A piece that begins and ends this near to a plane, in parts of the length, is in it.
static const double IN_PLANE = 1e-9;
static const double FIRST_ZERO = 2.404825557695773;  // of J0
enum { SAMPLES = 8 };

static bool is_plane(const cavum_curve *curve, double z_m, double margin_m) {
  return curve->kind == CAVUM_CURVE_LINE && fabs(curve->start.z_m - z_m) <= margin_m &&
         fabs(curve->end.z_m - z_m) <= margin_m;
}

static cavum_index find_plane(const cavum_contour *contour, bool at_right, cavum_boundary close) {
  double left_m = 0.0, right_m = 0.0, margin_m = IN_PLANE * cavum_contour_length_m(contour);
  cavum_contour_find_ends(&left_m, &right_m, contour);
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    const cavum_curve *curve = &contour->curves[i];
    if (curve->boundary != close) continue;
    if (is_plane(curve, at_right ? right_m : left_m, margin_m)) return i;
  }
  return -1;
}

// Adds a piece of wall to a tube; false where it leads away.
static bool add_piece(cavum_contour_tube *tube, const cavum_curve *wall, double end_m) {
  double taper = tube->taper;
  if (wall->boundary != CAVUM_BOUNDARY_METAL) return false;
  for (int i = 0; i <= SAMPLES; i++) {
    cavum_point at = cavum_curve_point(wall, (double)i / SAMPLES);
    double change = fabs(at.r_m - tube->radius_m) / tube->radius_m;
    if (change > LARGEST_TAPER) return false;
    double decayed = exp(-2.0 * FIRST_ZERO * fabs(at.z_m - end_m) / tube->radius_m);
    taper = cavum_max(taper, change * decayed);
  }
  tube->taper = taper;
  tube->length_m += fabs(wall->end.z_m - wall->start.z_m);
  return true;
}

bool cavum_contour_find_tube(cavum_contour_tube *tube, const cavum_contour *contour, bool at_right,
                             cavum_boundary close) {
  cavum_index plane = find_plane(contour, at_right, close), n = contour->num_curves;
  if (plane < 0) return false;
  const cavum_curve *end = &contour->curves[plane];
  cavum_contour_tube found = {.radius_m = cavum_max(end->start.r_m, end->end.r_m)};
  for (cavum_index k = 1; k < n; k++) {
    const cavum_curve *wall = &contour->curves[(plane + (at_right ? k : n - k)) % n];
    if (!add_piece(&found, wall, end->start.z_m)) break;
  }
  if (!(found.length_m > 0.0)) return false;
  *tube = found;
  return true;
}
