// SPDX-License-Identifier: GPL-3.0-or-later
// Walls moved by a depth that varies: the pieces are cut where the points of their splines are, so
// that each span has the piece that it comes from.
#include "contour/graded.h"

#include <math.h>

#include "base/base.h"
#include "base/units.h"
#include "contour/builder.h"
#include "contour/curve_cut.h"
#include "contour/offset.h"
#include "contour/spline.h"

enum { FIRST_SPANS = 4, MOST_SPANS = 128 };

/** What is moved. */
typedef struct work {
  cavum_contour_builder before, behind;  // pieces, cut, and their moved ones
  const cavum_graded_depth *depth;
  cavum_error *error;
} work;

static double depth_at(const work *w, const cavum_curve *curve, double t) {
  return w->depth->at(curve, t, w->depth->data);
}

static cavum_point moved_point(const work *w, const cavum_curve *curve, double t) {
  cavum_parallel_place at = cavum_curve_formula_at(curve, t);
  cavum_point p = cavum_curve_point(curve, t);
  double depth_m = depth_at(w, curve, t), speed = hypot(at.first.z_m, at.first.r_m);
  return (cavum_point){p.z_m + depth_m * at.first.r_m / speed,
                       p.r_m - depth_m * at.first.z_m / speed};
}

// Largest distance of the spline from where it belongs, midway between its points: there each has
// about the parameter of its middle.
static double miss_of(const work *w, const cavum_curve *curve, const cavum_curve *spans, int n) {
  double largest = 0.0;
  for (int i = 0; i < n; i++) {
    cavum_point belongs = moved_point(w, curve, (i + 0.5) / n);
    cavum_point is = cavum_curve_point(&spans[i], 0.5);
    cavum_point along = cavum_curve_derivative(&spans[i], 0.5);
    double speed = hypot(along.z_m, along.r_m);
    double across =
        ((belongs.z_m - is.z_m) * along.r_m - (belongs.r_m - is.r_m) * along.z_m) / speed;
    largest = cavum_max(largest, fabs(across));
  }
  return largest;
}

static cavum_status append(work *w, const cavum_curve *before, const cavum_curve *behind) {
  cavum_status status = cavum_contour_builder_append(&w->before, before, "piece", w->error);
  if (status != CAVUM_OK) return status;
  return cavum_contour_builder_append(&w->behind, behind, "piece", w->error);
}

static cavum_status append_spans(work *w, const cavum_curve *curve, const cavum_curve *spans,
                                 int n) {
  for (int i = 0; i < n; i++) {
    double from = (double)i / n, to = (i + 1.0) / n;
    cavum_curve part = *curve;
    cavum_curve_cut(&part, from, to, cavum_curve_point(curve, from), cavum_curve_point(curve, to));
    cavum_status status = append(w, &part, &spans[i]);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status move_piece(work *w, const cavum_curve *curve, cavum_index number) {
  cavum_point points[MOST_SPANS + 1];
  cavum_curve spans[MOST_SPANS];
  for (int n = FIRST_SPANS; n <= MOST_SPANS; n *= 2) {
    for (int i = 0; i <= n; i++) points[i] = moved_point(w, curve, (double)i / n);
    cavum_status status =
        cavum_spline_through_points(spans, points, n + 1, curve->boundary, NULL, w->error);
    if (status != CAVUM_OK) return status;
    if (miss_of(w, curve, spans, n) <= w->depth->close_m) return append_spans(w, curve, spans, n);
  }
  cavum_point at = cavum_curve_point(curve, 0.5);
  return cavum_fail(w->error, CAVUM_ERR_GEOMETRY,
                    "piece %d of the contour, at z = %.6g mm, r = %.6g mm: the depth changes too "
                    "fast along it",
                    (int)number + 1, cavum_in_mm(at.z_m), cavum_in_mm(at.r_m));
}

static bool stays_straight(const work *w, const cavum_curve *curve) {
  if (curve->kind != CAVUM_CURVE_LINE) return false;
  double start = depth_at(w, curve, 0.0), end = depth_at(w, curve, 1.0);
  for (double t = 0.125; t < 1.0; t += 0.125) {
    double depth_m = depth_at(w, curve, t);
    if (fabs(depth_m - start - t * (end - start)) > 0.1 * w->depth->close_m) return false;
  }
  return true;
}

static cavum_status move_straight(work *w, const cavum_curve *curve) {
  cavum_curve moved = *curve;
  moved.start = moved_point(w, curve, 0.0);
  moved.end = moved_point(w, curve, 1.0);
  return append(w, curve, &moved);
}

// Where the wall turns towards the metal less than the depth to its inside.
static cavum_status check_curvature(const work *w, const cavum_curve *curve, cavum_index number) {
  enum { SAMPLES = 128 };
  for (int i = 0; i <= SAMPLES; i++) {
    double t = (double)i / SAMPLES;
    cavum_parallel_place at = cavum_curve_formula_at(curve, t);
    double speed = hypot(at.first.z_m, at.first.r_m);
    double turn = at.first.z_m * at.second.r_m - at.first.r_m * at.second.z_m;
    double depth_m = depth_at(w, curve, t);
    if (1.0 + depth_m * turn / (speed * speed * speed) > 0.0) continue;
    return cavum_fail(w->error, CAVUM_ERR_GEOMETRY,
                      "piece %d of the contour is swallowed at z = %.6g mm, r = %.6g mm",
                      (int)number + 1, cavum_in_mm(at.point.z_m), cavum_in_mm(at.point.r_m));
  }
  return CAVUM_OK;
}

cavum_status cavum_contour_move_by_depth(cavum_contour *moved, const cavum_contour *contour,
                                         const cavum_graded_depth *depth, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  work w = {.depth = depth, .error = error};
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    const cavum_curve *curve = &contour->curves[i];
    if (curve->boundary != CAVUM_BOUNDARY_METAL) {
      CAVUM_TRY(append(&w, curve, curve));
      continue;
    }
    if (stays_straight(&w, curve)) {
      CAVUM_TRY(move_straight(&w, curve));
      continue;
    }
    CAVUM_TRY(check_curvature(&w, curve, i));
    CAVUM_TRY(move_piece(&w, curve, i));
  }
  CAVUM_TRY(cavum_contour_join_pieces(w.behind.contour.curves, &w.before.contour, error));
  *moved = cavum_contour_builder_release(&w.behind);
done:
  cavum_contour_builder_clear(&w.before);
  cavum_contour_builder_clear(&w.behind);
  return status;
}
