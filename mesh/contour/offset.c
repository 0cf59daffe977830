// SPDX-License-Identifier: GPL-3.0-or-later
// Parallel contours: each piece is moved, then neighbours are brought together at their joint.
#include "contour/offset.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "contour/curve_cut.h"
#include "contour/parallel.h"

// Neighbours whose directions differ by less are smooth: the gap that a move opens between them is
// far below what separates points.
static const double SMOOTH_RAD = 1e-6;
// Pieces that are smooth within that miss each other by the offset times that and by rounding.
static const double SMOOTH_GAP_M = 1e-12;
// Newton's method at a joint: quadratic, from within a small part of the pieces.
enum { MOST_ITERATIONS = 40 };
static const double SOLVED = 1e-15, NEAR = 0.75;
// Points this near to each other are one.
static const double MEETING_M = 1e-14;
// Parameters that differ less from an end are that end.
static const double SAME_PARAMETER = 1e-13;
// Curvature is looked for at so many points, then between the neighbours of the worst.
enum { CURVATURE_SAMPLES = 128, CURVATURE_HALVINGS = 60 };

static double length_of(cavum_point vector) { return hypot(vector.z_m, vector.r_m); }

static double cross(cavum_point a, cavum_point b) { return a.z_m * b.r_m - a.r_m * b.z_m; }

static double dot(cavum_point a, cavum_point b) { return a.z_m * b.z_m + a.r_m * b.r_m; }

// By how much lengths along a curve grow when it is moved to its right.
static double growth_at(const cavum_curve *curve, double t, double offset_m) {
  cavum_parallel_place at = cavum_curve_formula_at(curve, t);
  double speed = length_of(at.first);
  return 1.0 + offset_m * cross(at.first, at.second) / (speed * speed * speed);
}

// Where lengths grow least.
static double find_tightest(const cavum_curve *curve, double offset_m) {
  int worst = 0;
  double least = INFINITY;
  for (int i = 0; i <= CURVATURE_SAMPLES; i++) {
    double growth = growth_at(curve, (double)i / CURVATURE_SAMPLES, offset_m);
    if (growth < least) {
      least = growth;
      worst = i;
    }
  }
  double low = cavum_max(0.0, (worst - 1.0) / CURVATURE_SAMPLES);
  double high = cavum_min(1.0, (worst + 1.0) / CURVATURE_SAMPLES);
  for (int i = 0; i < CURVATURE_HALVINGS; i++) {
    double a = low + (high - low) / 3.0, b = high - (high - low) / 3.0;
    if (growth_at(curve, a, offset_m) < growth_at(curve, b, offset_m)) {
      high = b;
    } else {
      low = a;
    }
  }
  return 0.5 * (low + high);
}

static cavum_status check_curvature(const cavum_curve *curve, cavum_index number, double offset_m,
                                    cavum_error *error) {
  if (curve->kind == CAVUM_CURVE_LINE || offset_m == 0.0) return CAVUM_OK;
  double t = find_tightest(curve, offset_m), growth = growth_at(curve, t, offset_m);
  if (growth > 0.0) return CAVUM_OK;
  cavum_point at = cavum_curve_formula_at(curve, t).point;
  return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                    "piece %d of the contour is swallowed at z = %.6g mm, r = %.6g mm: its radius "
                    "of curvature is %.6g mm there, and it is moved by %.6g mm to that side",
                    (int)number + 1, cavum_in_mm(at.z_m), cavum_in_mm(at.r_m),
                    cavum_in_mm(fabs(offset_m / (growth - 1.0))), cavum_in_mm(fabs(offset_m)));
}

// ---- moving one piece

// The last layer that does something; -1 without any.
static int last_layer(const cavum_parallel_layer *layers, int count) {
  for (int i = count - 1; i >= 0; i--) {
    if (layers[i].offset_m != 0.0 || layers[i].lengthening != 0.0) return i;
  }
  return -1;
}

// A parallel without layers is its base again; the cubic's other members are not used then.
static void end_layers(cavum_curve *curve) {
  bool of_cubic = curve->kind == CAVUM_CURVE_PARALLEL_OF_CUBIC;
  curve->kind = of_cubic ? CAVUM_CURVE_CUBIC : CAVUM_CURVE_ELLIPSE;
  if (!of_cubic) memset(curve->cubic, 0, sizeof curve->cubic);
  if (!of_cubic) return;
  curve->centre = (cavum_point){0.0, 0.0};
  curve->axial_m = curve->radial_m = curve->angle_start_rad = curve->angle_end_rad = 0.0;
}

static cavum_status move_parallel(cavum_curve *curve, cavum_index number, double offset_m,
                                  cavum_error *error) {
  cavum_parallel_layer layers[CAVUM_PARALLEL_LAYERS];
  int count = cavum_parallel_get(layers, curve), last = last_layer(layers, count);
  // A stretch cannot be undone by an offset, but an offset that nothing followed can.
  int at = last >= 0 && layers[last].lengthening == 0.0 ? last : last + 1;
  if (at == count) {
    return cavum_fail(
        error, CAVUM_ERR_GEOMETRY,
        "piece %d of the contour was moved and stretched in turn %d times, and cannot be once more",
        (int)number + 1, count);
  }
  double sum = layers[at].offset_m + offset_m;
  // What is left of an offset and its reverse is rounding.
  double rounding = 1e-15 * (fabs(layers[at].offset_m) + fabs(offset_m));
  layers[at].offset_m = fabs(sum) > rounding ? sum : 0.0;
  cavum_parallel_set(curve, layers);
  if (last_layer(layers, count) < 0) end_layers(curve);
  return CAVUM_OK;
}

static void move_line(cavum_curve *curve, double offset_m) {
  cavum_point along = cavum_curve_derivative(curve, 0.0);
  double length = length_of(along);
  double z = offset_m * along.r_m / length, r = -offset_m * along.z_m / length;
  curve->start = (cavum_point){curve->start.z_m + z, curve->start.r_m + r};
  curve->end = (cavum_point){curve->end.z_m + z, curve->end.r_m + r};
}

// Outwards of a circle that turns left.
static void move_circle(cavum_curve *curve, double offset_m) {
  bool left = curve->angle_end_rad > curve->angle_start_rad;
  curve->axial_m += left ? offset_m : -offset_m;
  curve->radial_m = curve->axial_m;
}

static cavum_status move_piece(cavum_curve *curve, cavum_index number, double offset_m,
                               cavum_error *error) {
  if (offset_m == 0.0) return CAVUM_OK;
  cavum_status status = check_curvature(curve, number, offset_m, error);
  if (status != CAVUM_OK) return status;
  if (curve->kind == CAVUM_CURVE_LINE) {
    move_line(curve, offset_m);
  } else if (curve->kind == CAVUM_CURVE_ELLIPSE && curve->axial_m == curve->radial_m) {
    move_circle(curve, offset_m);
  } else {
    if (curve->kind == CAVUM_CURVE_ELLIPSE) {
      memset(curve->cubic, 0, sizeof curve->cubic);
      curve->kind = CAVUM_CURVE_PARALLEL_OF_ELLIPSE;
    } else if (curve->kind == CAVUM_CURVE_CUBIC) {
      static const cavum_parallel_layer none[CAVUM_PARALLEL_LAYERS] = {{0}};
      curve->kind = CAVUM_CURVE_PARALLEL_OF_CUBIC;
      cavum_parallel_set(curve, none);
    }
    status = move_parallel(curve, number, offset_m, error);
    if (status != CAVUM_OK) return status;
  }
  if (curve->kind != CAVUM_CURVE_LINE) {
    curve->start = cavum_curve_formula_at(curve, 0.0).point;
    curve->end = cavum_curve_formula_at(curve, 1.0).point;
  }
  return CAVUM_OK;
}

// ---- joints

/** Where two neighbours meet: t on the first, u on the second. */
typedef struct joint {
  double t, u;
  cavum_point point;
} joint;

static cavum_status refuse_joint(cavum_index first, cavum_index second, cavum_point at,
                                 cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                    "pieces %d and %d of the contour no longer meet once they are moved, near z = "
                    "%.6g mm, r = %.6g mm",
                    (int)first + 1, (int)second + 1, cavum_in_mm(at.z_m), cavum_in_mm(at.r_m));
}

// Newton's method for a(t) = b(u).
static bool intersect(joint *found, const cavum_curve *a, const cavum_curve *b) {
  double t = 1.0, u = 0.0;
  for (int i = 0; i < MOST_ITERATIONS; i++) {
    cavum_parallel_place on_a = cavum_curve_formula_at(a, t), on_b = cavum_curve_formula_at(b, u);
    cavum_point miss = {on_b.point.z_m - on_a.point.z_m, on_b.point.r_m - on_a.point.r_m};
    double determinant = cross(on_a.first, on_b.first);
    double dt = cross(miss, on_b.first) / determinant, du = cross(miss, on_a.first) / determinant;
    if (!isfinite(dt) || !isfinite(du)) return false;
    t += dt;
    u += du;
    if (!(fabs(t - 1.0) < NEAR) || !(fabs(u) < NEAR)) return false;
    if (fabs(dt) < SOLVED && fabs(du) < SOLVED) break;
    bool settled = fabs(dt) <= SAME_PARAMETER && fabs(du) <= SAME_PARAMETER;
    // Neighbours that nearly go on smoothly meet over a length: any place of it will do.
    if (i + 1 == MOST_ITERATIONS && !settled && length_of(miss) > MEETING_M) return false;
  }
  found->t = fabs(t - 1.0) < SAME_PARAMETER ? 1.0 : t;
  found->u = fabs(u) < SAME_PARAMETER ? 0.0 : u;
  cavum_point p = cavum_curve_formula_at(a, found->t).point,
              q = cavum_curve_formula_at(b, found->u).point;
  found->point = (cavum_point){0.5 * (p.z_m + q.z_m), 0.5 * (p.r_m + q.r_m)};
  return true;
}

// Lines along z or r keep their other coordinate to the bit: the axis and planes stay what they
// are.
static void keep_straight(cavum_point *point, const cavum_curve *curve) {
  if (curve->kind != CAVUM_CURVE_LINE) return;
  if (curve->start.z_m == curve->end.z_m) point->z_m = curve->start.z_m;
  if (curve->start.r_m == curve->end.r_m) point->r_m = curve->start.r_m;
}

static bool is_smooth(const cavum_curve *a, const cavum_curve *b) {
  cavum_point from = cavum_curve_derivative(a, 1.0), to = cavum_curve_derivative(b, 0.0);
  return fabs(atan2(cross(from, to), dot(from, to))) <= SMOOTH_RAD;
}

// `was` and `next_was` are the pieces before they were moved.
static cavum_status find_joint(joint *found, const cavum_contour *was, const cavum_curve *moved,
                               cavum_index first, cavum_error *error) {
  cavum_index second = (first + 1) % was->num_curves;
  const cavum_curve *a = &moved[first], *b = &moved[second];
  cavum_point p = a->end, q = b->start;
  *found = (joint){1.0, 0.0, {0.5 * (p.z_m + q.z_m), 0.5 * (p.r_m + q.r_m)}};
  if (is_smooth(&was->curves[first], &was->curves[second])) {
    double move_m = length_of(
        (cavum_point){p.z_m - was->curves[first].end.z_m, p.r_m - was->curves[first].end.r_m});
    double gap_m = length_of((cavum_point){p.z_m - q.z_m, p.r_m - q.r_m});
    if (gap_m <= SMOOTH_GAP_M + 2.0 * SMOOTH_RAD * move_m) {
      keep_straight(&found->point, a);
      keep_straight(&found->point, b);
      return CAVUM_OK;
    }
  } else if (intersect(found, a, b)) {
    keep_straight(&found->point, a);
    keep_straight(&found->point, b);
    return CAVUM_OK;
  }
  return refuse_joint(first, second, was->curves[first].end, error);
}

static cavum_status join(cavum_curve *moved, const cavum_contour *was, joint *joints,
                         cavum_error *error) {
  cavum_index n = was->num_curves;
  for (cavum_index i = 0; i < n; i++) {
    cavum_status status = find_joint(&joints[i], was, moved, i, error);
    if (status != CAVUM_OK) return status;
  }
  for (cavum_index i = 0; i < n; i++) {
    const joint *from = &joints[(i + n - 1) % n], *to = &joints[i];
    if (!(to->t > from->u)) {
      cavum_point at = cavum_curve_point(&was->curves[i], 0.5);
      return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                        "piece %d of the contour is used up between its neighbours, at z = %.6g "
                        "mm, r = %.6g mm",
                        (int)i + 1, cavum_in_mm(at.z_m), cavum_in_mm(at.r_m));
    }
    cavum_curve_cut(&moved[i], from->u, to->t, from->point, to->point);
  }
  return CAVUM_OK;
}

cavum_status cavum_contour_join_pieces(cavum_curve *moved, const cavum_contour *was,
                                       cavum_error *error) {
  joint *joints = cavum_alloc(was->num_curves, sizeof *joints);
  if (!joints) return cavum_fail_memory(error);
  cavum_status status = join(moved, was, joints, error);
  free(joints);
  return status;
}

cavum_status cavum_contour_move_along_normals(cavum_contour *moved, const cavum_contour *contour,
                                              const double *offsets_m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index n = contour->num_curves;
  cavum_curve *curves = cavum_alloc(n, sizeof *curves);
  if (!curves) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index i = 0; i < n; i++) {
    curves[i] = contour->curves[i];
    CAVUM_TRY(move_piece(&curves[i], i, offsets_m[i], error));
  }
  CAVUM_TRY(cavum_contour_join_pieces(curves, contour, error));
  *moved = (cavum_contour){n, curves};
  curves = NULL;
done:
  free(curves);
  return status;
}

// ---- scaling

static cavum_point scaled(cavum_point point, double along_z, double along_r) {
  return (cavum_point){point.z_m * along_z, point.r_m * along_r};
}

// A parallel: the base and its offsets grow alike, the rest is a stretch behind the last layer.
static void scale_parallel(cavum_curve *curve, double along_z, double along_r) {
  cavum_parallel_layer layers[CAVUM_PARALLEL_LAYERS];
  int count = cavum_parallel_get(layers, curve), last = last_layer(layers, count);
  for (int i = 0; i < count; i++) layers[i].offset_m *= along_r;
  cavum_parallel_layer *behind = &layers[last < 0 ? 0 : last];
  // Kept as a part, so that small stretches lose no digits.
  double grown = (along_z - along_r) / along_r;
  behind->lengthening += grown + behind->lengthening * grown;
  if (curve->kind == CAVUM_CURVE_PARALLEL_OF_ELLIPSE) {
    curve->centre = scaled(curve->centre, along_r, along_r);
    curve->axial_m *= along_r;
    curve->radial_m *= along_r;
  } else {
    for (int k = 0; k < 4; k++) curve->cubic[k] = scaled(curve->cubic[k], along_r, along_r);
  }
  cavum_parallel_set(curve, layers);
}

void cavum_contour_scale(cavum_contour *contour, double along_z, double along_r) {
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    cavum_curve *curve = &contour->curves[i];
    curve->start = scaled(curve->start, along_z, along_r);
    curve->end = scaled(curve->end, along_z, along_r);
    if (cavum_curve_is_parallel(curve)) {
      scale_parallel(curve, along_z, along_r);
    } else if (curve->kind == CAVUM_CURVE_ELLIPSE) {
      curve->centre = scaled(curve->centre, along_z, along_r);
      curve->axial_m *= along_z;
      curve->radial_m *= along_r;
    } else if (curve->kind == CAVUM_CURVE_CUBIC) {
      for (int k = 0; k < 4; k++) curve->cubic[k] = scaled(curve->cubic[k], along_z, along_r);
    }
  }
}
