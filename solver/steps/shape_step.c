// SPDX-License-Identifier: GPL-3.0-or-later
// Steps as maps of a contour: parallels, scalings, lengths that are cut off or lost in a weld.
#include "steps/shape_step.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "contour/band.h"
#include "contour/check.h"
#include "contour/mirror.h"
#include "steps/shape.h"

// The widest place of a wall is looked for at so many points of a piece, then between them.
enum { SAMPLES = 64, THIRDS = 60 };
// Radii this near to each other are the same.
static const double SAME_M = 1e-12;

cavum_status cavum_shape_copy(cavum_cell *copy, const cavum_cell *shape, cavum_error *error) {
  cavum_cell made = *shape;
  made.text = NULL;
  made.files = (cavum_files){0};
  made.title = cavum_copy_text(shape->title);
  made.path.curves = cavum_alloc(shape->path.num_curves, sizeof *made.path.curves);
  if (!made.title || !made.path.curves) {
    free(made.title);
    free(made.path.curves);
    return cavum_fail_memory(error);
  }
  memcpy(made.path.curves, shape->path.curves,
         (size_t)shape->path.num_curves * sizeof *made.path.curves);
  *copy = made;
  return CAVUM_OK;
}

// ---- the equator

static double r_at(const cavum_curve *curve, double t) { return cavum_curve_point(curve, t).r_m; }

static double find_widest(const cavum_curve *curve) {
  int best = 0;
  for (int i = 0; i <= SAMPLES; i++) {
    if (r_at(curve, (double)i / SAMPLES) > r_at(curve, (double)best / SAMPLES)) best = i;
  }
  double low = cavum_max(0.0, (best - 1.0) / SAMPLES);
  double high = cavum_min(1.0, (best + 1.0) / SAMPLES);
  for (int i = 0; i < THIRDS; i++) {
    double a = low + (high - low) / 3.0, b = high - (high - low) / 3.0;
    if (r_at(curve, a) < r_at(curve, b)) {
      low = a;
    } else {
      high = b;
    }
  }
  double ends = r_at(curve, 0.0) >= r_at(curve, 1.0) ? 0.0 : 1.0, t = 0.5 * (low + high);
  return r_at(curve, t) > r_at(curve, ends) + SAME_M ? t : ends;
}

// The mirror plane, or the widest place: of a straight piece its middle.
static double find_equator(const cavum_contour *contour) {
  cavum_contour_mirror mirror;
  if (cavum_contour_find_mirror(&mirror, contour)) return mirror.plane_m;
  cavum_point widest = {0.0, -1.0};
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    const cavum_curve *curve = &contour->curves[i];
    if (curve->boundary != CAVUM_BOUNDARY_METAL) continue;
    bool level = curve->kind == CAVUM_CURVE_LINE && curve->start.r_m == curve->end.r_m;
    cavum_point at = cavum_curve_point(curve, level ? 0.5 : find_widest(curve));
    if (at.r_m > widest.r_m + (level ? -SAME_M : SAME_M)) widest = at;
  }
  return widest.z_m;
}

static void find_ends(double *left_m, double *right_m, const cavum_contour *contour) {
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    if (contour->curves[i].boundary != CAVUM_BOUNDARY_AXIS) continue;
    *left_m = contour->curves[i].start.z_m;
    *right_m = contour->curves[i].end.z_m;
  }
}

double cavum_shape_equator_m(const cavum_cell *shape) { return find_equator(&shape->path); }

void cavum_shape_find_ends(double *left_m, double *right_m, const cavum_cell *shape) {
  find_ends(left_m, right_m, &shape->path);
}

// ---- lengths that are lost and allowed for

// Puts a new contour into a shape, once it is found to be one.
static cavum_status put(cavum_cell *shape, cavum_contour *contour, cavum_error *error) {
  double was_m = cavum_shape_length_m(shape);
  cavum_status status = cavum_contour_check(contour, NULL, NULL, error);
  if (status == CAVUM_OK) {
    cavum_contour_clear(&shape->path);
    shape->path = *contour;
    *contour = (cavum_contour){0};
    if (shape->accelerating_length_m > 0.0) {
      shape->accelerating_length_m *= cavum_shape_length_m(shape) / was_m;
    }
  }
  cavum_contour_clear(contour);
  return status;
}

static cavum_status take_out(cavum_cell *shape, double low_m, double high_m, cavum_error *error) {
  cavum_contour joined = {0};
  cavum_status status = cavum_contour_take_out(&joined, &shape->path, low_m, high_m, error);
  return status == CAVUM_OK ? put(shape, &joined, error) : status;
}

static cavum_status put_in(cavum_cell *shape, double z_m, double length_m, cavum_error *error) {
  cavum_contour longer = {0};
  cavum_status status = cavum_contour_put_in(&longer, &shape->path, z_m, length_m, error);
  return status == CAVUM_OK ? put(shape, &longer, error) : status;
}

static cavum_status lose(cavum_cell *shape, const cavum_chain_step *step, double amount_m,
                         cavum_error *error) {
  double left_m = 0.0, right_m = 0.0;
  if (amount_m == 0.0) return CAVUM_OK;
  if (step->place == CAVUM_PLACE_EQUATOR) {
    double equator_m = find_equator(&shape->path);
    return take_out(shape, equator_m - amount_m, equator_m + amount_m, error);
  }
  find_ends(&left_m, &right_m, &shape->path);
  if (2.0 * amount_m >= right_m - left_m) {
    return cavum_fail(error, CAVUM_ERR_GEOMETRY, "more is taken than the length of the cell, %g mm",
                      cavum_in_mm(right_m - left_m));
  }
  cavum_status status = CAVUM_OK;
  if (step->place != CAVUM_PLACE_LEFT_IRIS) {
    status = take_out(shape, right_m - amount_m, right_m, error);
  }
  if (status == CAVUM_OK && step->place != CAVUM_PLACE_RIGHT_IRIS) {
    status = take_out(shape, left_m, left_m + amount_m, error);
  }
  return status;
}

cavum_status cavum_shape_draw(cavum_cell *shape, const cavum_steps *steps, cavum_error *error) {
  cavum_cell made;
  double left_m = 0.0, right_m = 0.0;
  cavum_status status = cavum_shape_start(&made, &steps->cell, error);
  if (status != CAVUM_OK) return status;
  if (steps->equator_allowance_m > 0.0) {
    double equator_m = find_equator(&made.path);
    CAVUM_TRY(put_in(&made, equator_m, 2.0 * steps->equator_allowance_m, error));
  }
  if (steps->iris_allowance_m > 0.0) {
    find_ends(&left_m, &right_m, &made.path);
    CAVUM_TRY(put_in(&made, right_m, steps->iris_allowance_m, error));
    CAVUM_TRY(put_in(&made, left_m, steps->iris_allowance_m, error));
  }
done:
  if (status == CAVUM_OK) {
    *shape = made;
  } else {
    cavum_cell_clear(&made);
  }
  return status;
}

// ---- steps

static cavum_status take(cavum_cell *shape, const cavum_chain_step *step, double amount_m,
                         cavum_error *error) {
  double length_m = cavum_shape_length_m(shape), factor = 1.0;
  switch (step->kind) {
    case CAVUM_STEP_REMOVE:
      return cavum_shape_move_wall(shape, amount_m, &step->depth, error);
    case CAVUM_STEP_PRESSURE:
      return step->depth.num_places > 0
                 ? cavum_shape_move_wall(shape, amount_m, &step->depth, error)
                 : CAVUM_OK;
    case CAVUM_STEP_DEPOSIT:
      return cavum_shape_move_wall(shape, -amount_m, &step->depth, error);
    case CAVUM_STEP_TRIM:
    case CAVUM_STEP_WELD:
      return lose(shape, step, amount_m, error);
    case CAVUM_STEP_STRETCH:
    case CAVUM_STEP_PRELOAD:
      factor += step->plastic_share * amount_m / length_m;
      if (!(factor > 0.0)) {
        return cavum_fail(error, CAVUM_ERR_GEOMETRY, "squeezed by more than its length, %.6g mm",
                          cavum_in_mm(length_m));
      }
      cavum_shape_scale(shape, factor, 1.0);
      break;
    case CAVUM_STEP_COOL:
      cavum_shape_scale(shape, 1.0 - step->axial_factor * step->contraction.value,
                        1.0 - step->contraction.value);
      break;
    default:
      break;
  }
  return CAVUM_OK;
}

cavum_status cavum_shape_take_step(cavum_cell *shape, const cavum_chain_step *step, double amount_m,
                                   cavum_error *error) {
  cavum_cell moved;
  cavum_status status = cavum_shape_copy(&moved, shape, error);
  if (status == CAVUM_OK) {
    status = take(&moved, step, amount_m, error);
    if (status != CAVUM_OK) cavum_cell_clear(&moved);
  }
  if (status != CAVUM_OK) return status;
  cavum_cell_clear(shape);
  *shape = moved;
  return CAVUM_OK;
}

// Twice the angle of the wall with the axis.
static double bend_at(const cavum_contour *contour, double z_m, double nearest_m) {
  double bend = 0.0;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    const cavum_curve *curve = &contour->curves[i];
    if (curve->boundary != CAVUM_BOUNDARY_METAL) continue;
    for (int end = 0; end < 2; end++) {
      if (fabs((end ? curve->end : curve->start).z_m - z_m) > nearest_m) continue;
      cavum_point along = cavum_curve_derivative(curve, end);
      bend = cavum_max(bend, 2.0 * atan2(fabs(along.r_m), fabs(along.z_m)));
    }
  }
  return bend;
}

double cavum_shape_edge_rad(const cavum_cell *shape, const cavum_chain_step *step) {
  double left_m = 0.0, right_m = 0.0;
  if (step->kind != CAVUM_STEP_TRIM && step->kind != CAVUM_STEP_WELD) return 0.0;
  if (step->place == CAVUM_PLACE_EQUATOR) {
    return bend_at(&shape->path, find_equator(&shape->path), SAME_M);
  }
  find_ends(&left_m, &right_m, &shape->path);
  double left = step->place != CAVUM_PLACE_RIGHT_IRIS ? bend_at(&shape->path, left_m, SAME_M) : 0.0;
  double right =
      step->place != CAVUM_PLACE_LEFT_IRIS ? bend_at(&shape->path, right_m, SAME_M) : 0.0;
  return cavum_max(left, right);
}
