// SPDX-License-Identifier: GPL-3.0-or-later
// Steps as maps of a contour: parallels, scalings, lengths that are cut off or lost in a weld.
#include "steps/shape_step.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "steps/shape.h"

// Places this near to each other are the same.
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

static cavum_status add_length(cavum_cell *shape, cavum_wall_place place, double length_m,
                               cavum_error *error) {
  const cavum_cell_move move = {.kind = CAVUM_MOVE_STRAIGHT, .place = place, .amount_m = length_m};
  return cavum_cell_take_move(shape, &move, true, error);
}

cavum_status cavum_shape_draw(cavum_cell *shape, const cavum_steps *steps, cavum_error *error) {
  cavum_cell made;
  cavum_status status = cavum_shape_start(&made, &steps->cell, error);
  if (status != CAVUM_OK) return status;
  CAVUM_TRY(add_length(&made, CAVUM_AT_EQUATOR, steps->equator_allowance_m, error));
  CAVUM_TRY(add_length(&made, CAVUM_AT_IRIS, steps->iris_allowance_m, error));
done:
  if (status == CAVUM_OK) {
    *shape = made;
  } else {
    cavum_cell_clear(&made);
  }
  return status;
}

// ---- steps

bool cavum_shape_step_move(cavum_cell_move *move, const cavum_chain_step *step, double amount_m) {
  *move = (cavum_cell_move){.kind = CAVUM_MOVE_WALL, .amount_m = amount_m, .depth = step->depth};
  switch (step->kind) {
    case CAVUM_STEP_REMOVE:
      return true;
    case CAVUM_STEP_PRESSURE:
      return step->depth.num_places > 0;
    case CAVUM_STEP_DEPOSIT:
      move->amount_m = -amount_m;
      return true;
    case CAVUM_STEP_TRIM:
    case CAVUM_STEP_WELD:
      move->kind = CAVUM_MOVE_STRAIGHT;
      move->place = step->place;
      move->amount_m = -amount_m;
      return true;
    case CAVUM_STEP_STRETCH:
    case CAVUM_STEP_PRELOAD:
      move->kind = CAVUM_MOVE_LONGER;
      move->amount_m = step->whole_over_cell * step->plastic_share * amount_m;
      return true;
    case CAVUM_STEP_COOL:
      move->kind = CAVUM_MOVE_SHRINK;
      move->contraction[0] = step->axial_factor * step->contraction.value;
      move->contraction[1] = step->contraction.value;
      return true;
    default:
      return false;
  }
}

static cavum_status take(cavum_cell *shape, const cavum_chain_step *step, double amount_m,
                         cavum_error *error) {
  cavum_cell_move move;
  return cavum_shape_step_move(&move, step, amount_m)
             ? cavum_cell_take_move(shape, &move, true, error)
             : CAVUM_OK;
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
  if (step->place == CAVUM_AT_EQUATOR) {
    return bend_at(&shape->path, cavum_contour_equator_m(&shape->path), SAME_M);
  }
  cavum_contour_find_ends(&left_m, &right_m, &shape->path);
  double left = step->place != CAVUM_AT_RIGHT_IRIS ? bend_at(&shape->path, left_m, SAME_M) : 0.0;
  double right = step->place != CAVUM_AT_LEFT_IRIS ? bend_at(&shape->path, right_m, SAME_M) : 0.0;
  return cavum_max(left, right);
}
