// SPDX-License-Identifier: GPL-3.0-or-later
// Lengths along the axis taken out of a contour and put into it.
#include "contour/band.h"

#include <math.h>

#include "base/base.h"
#include "base/units.h"
#include "contour/builder.h"
#include "contour/curve.h"
#include "contour/curve_cut.h"

// A piece that runs straight through the plane is found by its ends; others by samples that turn
// less than a half between two of them.
enum { SAMPLES = 64, HALVINGS = 80 };
// Planes this near to an end of a piece, or radii this near to each other, are the same.
static const double SAME_M = 1e-12;

static double z_at(const cavum_curve *curve, double t) { return cavum_curve_point(curve, t).z_m; }

static double find_root(const cavum_curve *curve, double z_m, double low, double high) {
  bool rises = z_at(curve, high) > z_at(curve, low);
  for (int i = 0; i < HALVINGS; i++) {
    double middle = 0.5 * (low + high);
    if ((z_at(curve, middle) < z_m) == rises) {
      low = middle;
    } else {
      high = middle;
    }
  }
  return 0.5 * (low + high);
}

// Crossings from one side to the other, in [0, 1): the end of a piece belongs to the next.
static void look_at_piece(cavum_wall_cut *cut, int *count, const cavum_contour *contour,
                          cavum_index index, double z_m) {
  const cavum_curve *curve = &contour->curves[index];
  for (int i = 0; i < SAMPLES; i++) {
    double a = (double)i / SAMPLES, b = (i + 1.0) / SAMPLES;
    bool before = z_at(curve, a) > z_m + SAME_M, behind = z_at(curve, b) > z_m + SAME_M;
    if (before == behind) continue;
    double t = find_root(curve, z_m, a, b);
    *cut = (cavum_wall_cut){index, t, cavum_curve_point(curve, t).r_m};
    *count += 1;
  }
}

cavum_status cavum_contour_cut_wall(cavum_wall_cut *cut, const cavum_contour *contour, double z_m,
                                    cavum_error *error) {
  cavum_wall_cut found = {0};
  int count = 0;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    if (contour->curves[i].boundary == CAVUM_BOUNDARY_AXIS) continue;
    look_at_piece(&found, &count, contour, i, z_m);
  }
  if (count != 1) {
    return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                      "the plane z = %.6g mm meets the wall %d times, expected once",
                      cavum_in_mm(z_m), count);
  }
  *cut = found;
  return CAVUM_OK;
}

/** A contour that is put together anew. */
typedef struct work {
  cavum_contour_builder builder;
  const cavum_contour *contour;
  cavum_index axis;
  cavum_error *error;
} work;

static cavum_status append(work *w, const cavum_curve *curve) {
  // What is left of a piece that ends at the plane is rounding.
  double length = hypot(curve->end.z_m - curve->start.z_m, curve->end.r_m - curve->start.r_m);
  if (length <= SAME_M) return CAVUM_OK;
  return cavum_contour_builder_append(&w->builder, curve, "piece", w->error);
}

static cavum_point shifted(cavum_point point, double shift_m) {
  return (cavum_point){point.z_m + shift_m, point.r_m};
}

// A shift of a parallel goes to its base, where its stretches have not yet made it larger.
static void shift_piece(cavum_curve *curve, double shift_m) {
  double of_base_m = shift_m;
  if (cavum_curve_is_parallel(curve)) {
    cavum_parallel_layer layers[CAVUM_PARALLEL_LAYERS];
    int count = cavum_parallel_get(layers, curve);
    for (int i = 0; i < count; i++) of_base_m /= 1.0 + layers[i].lengthening;
  }
  curve->start = shifted(curve->start, shift_m);
  curve->end = shifted(curve->end, shift_m);
  if (cavum_curve_is_of_ellipse(curve)) curve->centre = shifted(curve->centre, of_base_m);
  if (cavum_curve_is_of_cubic(curve)) curve->cubic[0] = shifted(curve->cubic[0], of_base_m);
}

// Part of a piece from t to its end, or from its beginning to t, and moved.
static cavum_curve part_of(const cavum_curve *curve, double from, double to, double shift_m) {
  cavum_curve part = *curve;
  cavum_curve_cut(&part, from, to, from == 0.0 ? curve->start : cavum_curve_point(curve, from),
                  to == 1.0 ? curve->end : cavum_curve_point(curve, to));
  shift_piece(&part, shift_m);
  return part;
}

static cavum_index next(const work *w, cavum_index i) { return (i + 1) % w->contour->num_curves; }

static cavum_status start(work *w, const cavum_contour *contour, cavum_error *error) {
  *w = (work){.contour = contour, .axis = -1, .error = error};
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    if (contour->curves[i].boundary != CAVUM_BOUNDARY_AXIS) continue;
    if (w->axis >= 0) return cavum_fail(error, CAVUM_ERR_GEOMETRY, "the axis is in several pieces");
    w->axis = i;
  }
  if (w->axis < 0) return cavum_fail(error, CAVUM_ERR_GEOMETRY, "the contour has no axis");
  return CAVUM_OK;
}

static double left_end(const work *w) { return w->contour->curves[w->axis].start.z_m; }
static double right_end(const work *w) { return w->contour->curves[w->axis].end.z_m; }

static cavum_status append_axis(work *w, double from_m, double to_m) {
  cavum_curve axis = cavum_curve_make_line((cavum_point){from_m, 0.0}, (cavum_point){to_m, 0.0},
                                           CAVUM_BOUNDARY_AXIS);
  return append(w, &axis);
}

// Pieces from the right end of the axis up to the cut, moved.
static cavum_status append_right(work *w, const cavum_wall_cut *cut, double shift_m) {
  cavum_status status = CAVUM_OK;
  for (cavum_index i = next(w, w->axis); status == CAVUM_OK; i = next(w, i)) {
    cavum_curve part =
        part_of(&w->contour->curves[i], 0.0, i == cut->curve ? cut->t : 1.0, shift_m);
    status = append(w, &part);
    if (i == cut->curve) break;
  }
  return status;
}

// Pieces from the cut to the left end of the axis.
static cavum_status append_left(work *w, const cavum_wall_cut *cut, double shift_m) {
  cavum_status status = CAVUM_OK;
  for (cavum_index i = cut->curve; status == CAVUM_OK && i != w->axis; i = next(w, i)) {
    cavum_curve part =
        part_of(&w->contour->curves[i], i == cut->curve ? cut->t : 0.0, 1.0, shift_m);
    status = append(w, &part);
  }
  return status;
}

// What closes the contour at an end: of the boundary that is there next to the axis.
static cavum_boundary boundary_at(const work *w, bool right) {
  cavum_index n = w->contour->num_curves;
  cavum_index i = right ? next(w, w->axis) : (w->axis + n - 1) % n;
  return w->contour->curves[i].boundary;
}

static cavum_status append_plane(work *w, double z_m, double r_m, bool right) {
  const cavum_point foot = {z_m, 0.0}, top = {z_m, r_m};
  cavum_curve plane = right ? cavum_curve_make_line(foot, top, boundary_at(w, true))
                            : cavum_curve_make_line(top, foot, boundary_at(w, false));
  return append(w, &plane);
}

// The end of each piece becomes the start of the next to the bit; planes and axis keep theirs.
static void close_joints(cavum_contour *contour) {
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    cavum_curve *a = &contour->curves[i], *b = &contour->curves[(i + 1) % contour->num_curves];
    bool keep_b = b->kind == CAVUM_CURVE_LINE && b->boundary != CAVUM_BOUNDARY_METAL;
    if (keep_b) {
      a->end = b->start;
    } else {
      b->start = a->end;
    }
  }
}

static cavum_status take_out_of_end(work *w, double low_m, double high_m, bool right) {
  cavum_wall_cut cut;
  cavum_status status = cavum_contour_cut_wall(&cut, w->contour, right ? low_m : high_m, w->error);
  if (status == CAVUM_OK) {
    status = append_axis(w, right ? left_end(w) : high_m, right ? low_m : right_end(w));
  }
  if (status != CAVUM_OK) return status;
  if (!right) {
    status = append_right(w, &cut, 0.0);
    return status == CAVUM_OK ? append_plane(w, high_m, cut.r_m, false) : status;
  }
  status = append_plane(w, low_m, cut.r_m, true);
  return status == CAVUM_OK ? append_left(w, &cut, 0.0) : status;
}

static cavum_status take_out_of_middle(work *w, double low_m, double high_m) {
  cavum_wall_cut low, high;
  double shift_m = low_m - high_m;
  cavum_status status = cavum_contour_cut_wall(&low, w->contour, low_m, w->error);
  if (status == CAVUM_OK) {
    status = cavum_contour_cut_wall(&high, w->contour, high_m, w->error);
  }
  if (status != CAVUM_OK) return status;
  if (fabs(high.r_m - low.r_m) > SAME_M) {
    return cavum_fail(w->error, CAVUM_ERR_GEOMETRY,
                      "the sides have radii of %.9g mm and %.9g mm where they are to be joined",
                      cavum_in_mm(low.r_m), cavum_in_mm(high.r_m));
  }
  status = append_axis(w, left_end(w), right_end(w) + shift_m);
  if (status == CAVUM_OK) status = append_right(w, &high, shift_m);
  return status == CAVUM_OK ? append_left(w, &low, 0.0) : status;
}

cavum_status cavum_contour_take_out(cavum_contour *joined, const cavum_contour *contour,
                                    double low_m, double high_m, cavum_error *error) {
  work w;
  cavum_status status = start(&w, contour, error);
  if (status != CAVUM_OK) return status;
  bool right = high_m >= right_end(&w) - SAME_M, left = low_m <= left_end(&w) + SAME_M;
  if (right && left) {
    return cavum_fail(error, CAVUM_ERR_GEOMETRY, "nothing would be left of the cell");
  }
  if (right || left) {
    status = take_out_of_end(&w, low_m, high_m, right);
  } else {
    status = take_out_of_middle(&w, low_m, high_m);
  }
  if (status == CAVUM_OK) {
    *joined = cavum_contour_builder_release(&w.builder);
    close_joints(joined);
  }
  cavum_contour_builder_clear(&w.builder);
  return status;
}

cavum_status cavum_contour_put_in(cavum_contour *longer, const cavum_contour *contour, double z_m,
                                  double length_m, cavum_error *error) {
  work w;
  cavum_wall_cut cut = {0};
  cavum_status status = start(&w, contour, error);
  if (status != CAVUM_OK) return status;
  bool right = fabs(z_m - right_end(&w)) <= SAME_M, left = fabs(z_m - left_end(&w)) <= SAME_M;
  cavum_index n = contour->num_curves;
  if (right || left) {  // the wall begins where the plane at the end does not go on
    cavum_index plane = right ? next(&w, w.axis) : (w.axis + n - 1) % n;
    const cavum_curve *p = &contour->curves[plane];
    double r_m = right ? p->end.r_m : p->start.r_m, to_m = z_m + (right ? length_m : -length_m);
    const cavum_point inner = {z_m, r_m}, outer = {to_m, r_m};
    cavum_curve tube = right ? cavum_curve_make_line(outer, inner, CAVUM_BOUNDARY_METAL)
                             : cavum_curve_make_line(inner, outer, CAVUM_BOUNDARY_METAL);
    CAVUM_TRY(append_axis(&w, left ? to_m : left_end(&w), right ? to_m : right_end(&w)));
    if (right) CAVUM_TRY(append_plane(&w, to_m, r_m, true));
    if (right) CAVUM_TRY(append(&w, &tube));
    for (cavum_index i = next(&w, w.axis); i != w.axis; i = next(&w, i)) {
      if (i != plane) CAVUM_TRY(append(&w, &contour->curves[i]));
    }
    if (left) CAVUM_TRY(append(&w, &tube));
    if (left) CAVUM_TRY(append_plane(&w, to_m, r_m, false));
  } else {
    CAVUM_TRY(cavum_contour_cut_wall(&cut, contour, z_m, error));
    const cavum_point from = {z_m + length_m, cut.r_m}, to = {z_m, cut.r_m};
    cavum_curve tube = cavum_curve_make_line(from, to, CAVUM_BOUNDARY_METAL);
    CAVUM_TRY(append_axis(&w, left_end(&w), right_end(&w) + length_m));
    CAVUM_TRY(append_right(&w, &cut, length_m));
    CAVUM_TRY(append(&w, &tube));
    CAVUM_TRY(append_left(&w, &cut, 0.0));
  }
  *longer = cavum_contour_builder_release(&w.builder);
  close_joints(longer);
done:
  cavum_contour_builder_clear(&w.builder);
  return status;
}
