// SPDX-License-Identifier: GPL-3.0-or-later
// Walls moved by a depth that varies: the pieces are cut where cubics follow them one by one, so
// that each cubic has the piece that it comes from.
#include "contour/graded.h"

#include <math.h>

#include "base/base.h"
#include "base/units.h"
#include "contour/builder.h"
#include "contour/cubic_fit.h"
#include "contour/curve_cut.h"
#include "contour/offset.h"

// A piece has so many parts at most, the narrowest of them this part of it.
enum { MOST_PARTS = 128, NARROWEST = 4096 };
// Step in t of differences of the depth: rounding and the fourth power of it are alike small.
static const double RATE_STEP = 1e-4;

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

static cavum_status append(work *w, const cavum_curve *before, const cavum_curve *behind) {
  cavum_status status = cavum_contour_builder_append(&w->before, before, "piece", w->error);
  if (status != CAVUM_OK) return status;
  return cavum_contour_builder_append(&w->behind, behind, "piece", w->error);
}

// Rate of the depth with t: a difference of the fourth order, to one side near an end.
static double depth_rate(const work *w, const cavum_curve *curve, double t) {
  static const double central[] = {1.0, -8.0, 0.0, 8.0, -1.0},
                      ahead[] = {-25.0, 48.0, -36.0, 16.0, -3.0};
  bool first = t<2.0 * RATE_STEP, last = t> 1.0 - 2.0 * RATE_STEP;
  double sum = 0.0;
  for (int i = 0; i < 5; i++) {
    double step = last ? -i : first ? i : i - 2;
    double weight = last ? -ahead[i] : first ? ahead[i] : central[i];
    sum += weight * depth_at(w, curve, t + step * RATE_STEP);
  }
  return sum / (12.0 * RATE_STEP);
}

// Derivative by t of a moved point, of which the metal is to the right: the normal turns with the
// curve, and the depth changes along it.
static cavum_point moved_rate(const work *w, const cavum_curve *curve, double t) {
  cavum_parallel_place at = cavum_curve_formula_at(curve, t);
  double speed = hypot(at.first.z_m, at.first.r_m);
  cavum_point along = {at.first.z_m / speed, at.first.r_m / speed};
  double turn = (at.first.z_m * at.second.r_m - at.first.r_m * at.second.z_m) / (speed * speed);
  double on = speed + depth_at(w, curve, t) * turn, out = depth_rate(w, curve, t);
  return (cavum_point){on * along.z_m + out * along.r_m, on * along.r_m - out * along.z_m};
}

static double set_direction(cavum_point *along, cavum_point rate) {
  double speed = hypot(rate.z_m, rate.r_m);
  *along = (cavum_point){rate.z_m / speed, rate.r_m / speed};
  return speed;
}

// The cubic along a part of a moved piece; gives how far it is from it.
static double fit_part(cavum_curve *cubic, const work *w, const cavum_curve *curve, double from,
                       double to) {
  cavum_cubic_aim aim = {.start = moved_point(w, curve, from), .end = moved_point(w, curve, to)};
  double at_start = set_direction(&aim.from_start, moved_rate(w, curve, from));
  double at_end = set_direction(&aim.to_end, moved_rate(w, curve, to));
  aim.length_start_m = (to - from) * at_start;
  aim.length_end_m = (to - from) * at_end;
  for (int i = 0; i < CAVUM_CUBIC_FIT_POINTS; i++) {
    double part = (i + 1.0) / (CAVUM_CUBIC_FIT_POINTS + 1);
    aim.between[i] = moved_point(w, curve, from + part * (to - from));
  }
  *cubic = (cavum_curve){.kind = CAVUM_CURVE_CUBIC, .boundary = curve->boundary};
  return cavum_cubic_fit(cubic, &aim);
}

static cavum_status append_part(work *w, const cavum_curve *curve, double from, double to,
                                const cavum_curve *cubic) {
  cavum_curve part = *curve;
  cavum_curve_cut(&part, from, to, cavum_curve_point(curve, from), cavum_curve_point(curve, to));
  return append(w, &part, cubic);
}

static cavum_status refuse(const work *w, const cavum_curve *curve, double t, cavum_index number) {
  cavum_point at = cavum_curve_point(curve, t);
  return cavum_fail(w->error, CAVUM_ERR_GEOMETRY,
                    "piece %d of the contour, at z = %.6g mm, r = %.6g mm: the depth changes too "
                    "fast along it",
                    (int)number + 1, cavum_in_mm(at.z_m), cavum_in_mm(at.r_m));
}

// Halves parts until each is followed; parts begin and end at whole numbers of the narrowest.
static cavum_status move_piece(work *w, const cavum_curve *curve, cavum_index number) {
  cavum_curve cubic;
  int count = 0;
  for (int from = 0, width = NARROWEST; from < NARROWEST; from += width) {
    while (from % (2 * width) == 0 && 2 * width <= NARROWEST) width *= 2;
    double t = (double)from / NARROWEST;
    while (!(fit_part(&cubic, w, curve, t, t + (double)width / NARROWEST) <= w->depth->close_m)) {
      if (width == 1) return refuse(w, curve, t, number);
      width /= 2;
    }
    if (++count > MOST_PARTS) return refuse(w, curve, t, number);
    cavum_status status = append_part(w, curve, t, t + (double)width / NARROWEST, &cubic);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
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
