// SPDX-License-Identifier: GPL-3.0-or-later
// Shapes as paths: exact maps of their curves, checked like the path of a file.
#include "steps/shape.h"

#include <math.h>

#include "base/base.h"
#include "contour/offset.h"

// A point this near to a plane is in it.
static const double IN_PLANE_M = 1e-9;

// Slopes of a cut that miss its change by less than this part of it are good ones; so are those
// that miss it by this part of what their difference makes: the slope does not rise evenly then. An
// error of a slope counts ten times as much.
static const double ADDS_UP_PART = 1e-3, UNEVEN_PART = 0.1;

cavum_status cavum_shape_start(cavum_cell *shape, const cavum_cell *cell, cavum_error *error) {
  cavum_contour contour = {0};
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "a cell from a mesh file has no exact contour that a step could move");
  }
  cavum_status status = cavum_cell_make_contour(&contour, cell, CAVUM_PART_WHOLE, error);
  if (status != CAVUM_OK) return status;
  cavum_cell made;
  cavum_cell_set_defaults(&made);
  made.title = cavum_copy_text(cell->title);
  if (!made.title) {
    cavum_contour_clear(&contour);
    return cavum_fail_memory(error);
  }
  made.kind = CAVUM_CONTOUR_PATH;
  made.path = contour;
  made.beta = cell->beta;
  made.accelerating_length_m = cell->accelerating_length_m;
  if (made.accelerating_length_m <= 0.0 && cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE) {
    made.accelerating_length_m = cell->left.half_length_m + cell->right.half_length_m;
  }
  made.left_end = cell->left_end;  // the accelerating length is that between the tubes
  made.right_end = cell->right_end;
  made.num_modes = cell->num_modes;
  made.near_hz = cell->near_hz;
  made.accuracy_frequency = cell->accuracy_frequency;
  made.accuracy_other_figures = cell->accuracy_other_figures;
  made.wall = cell->wall;
  *shape = made;
  return CAVUM_OK;
}

double cavum_shape_slope_of_depth(const cavum_mode_result *mode, const cavum_cell *shape,
                                  const cavum_depth_shape *along) {
  const cavum_wall_density *d = &mode->wall_density;
  const cavum_wall_depth of_one = cavum_wall_depth_make(&shape->path, along, 1.0);
  double sum = 0.0;
  for (cavum_index i = 0; i < d->num_points; i++) {
    double share = cavum_wall_depth_of((cavum_point){d->z_m[i], d->r_m[i]}, &of_one);
    sum += share * d->frequency_hz_per_m3[i] * d->area_m2[i];
  }
  return sum;
}

double cavum_shape_slope_of_stretch(const cavum_mode_result *mode, double frequency_hz) {
  const cavum_wall_density *d = &mode->wall_density;
  double across = 0.0;
  for (cavum_index i = 0; i < d->num_points; i++) {
    across += d->frequency_hz_per_m3[i] * d->area_m2[i] * d->r_m[i] * d->normal_r[i];
  }
  return -frequency_hz - across;
}

// Change of the frequency when all that is beyond a plane moves along z, by metre.
static double slope_of_rest(const cavum_wall_density *d, double end_plane_hz_per_m, double z_m) {
  double sum = end_plane_hz_per_m;
  for (cavum_index i = 0; i < d->num_points; i++) {
    if (d->z_m[i] > z_m) sum += d->frequency_hz_per_m3[i] * d->area_m2[i] * d->normal_z[i];
  }
  return sum;
}

// Change of the frequency when the plane at the right end alone moves along z, by metre.
static double slope_of_right_plane(const cavum_wall_density *d, double frequency_hz,
                                   const double ends_m[2]) {
  double about_left = 0.0;
  for (cavum_index i = 0; i < d->num_points; i++) {
    double moves = d->r_m[i] * d->normal_r[i] + (d->z_m[i] - ends_m[0]) * d->normal_z[i];
    about_left += d->frequency_hz_per_m3[i] * d->area_m2[i] * moves;
  }
  // Enlarged about the left end, the right one moves by the whole length.
  return (-frequency_hz - about_left) / (ends_m[1] - ends_m[0]);
}

double cavum_shape_slope_of_end(const cavum_mode_result *mode, double frequency_hz,
                                const double ends_m[2], bool at_right) {
  const cavum_wall_density *d = &mode->wall_density;
  double plane = slope_of_right_plane(d, frequency_hz, ends_m);
  return -slope_of_rest(d, plane, at_right ? ends_m[1] - IN_PLANE_M : ends_m[0] + IN_PLANE_M);
}

double cavum_shape_slope_of_cut(const cavum_mode_result *mode, double frequency_hz,
                                const cavum_cell *shape, cavum_wall_place place) {
  const cavum_wall_density *d = &mode->wall_density;
  double ends_m[2] = {0.0, 0.0};
  cavum_contour_find_ends(&ends_m[0], &ends_m[1], &shape->path);
  if (place == CAVUM_AT_EQUATOR) {
    double plane = slope_of_right_plane(d, frequency_hz, ends_m);
    return -2.0 * slope_of_rest(d, plane, cavum_contour_equator_m(&shape->path));
  }
  double slope = 0.0;
  if (place != CAVUM_AT_RIGHT_IRIS) {
    slope += cavum_shape_slope_of_end(mode, frequency_hz, ends_m, false);
  }
  if (place != CAVUM_AT_LEFT_IRIS) {
    slope += cavum_shape_slope_of_end(mode, frequency_hz, ends_m, true);
  }
  return slope;
}

bool cavum_shape_slopes_add_up(const double slopes[2], double amount_m, double change_hz,
                               double unsure_hz) {
  double missing_hz = change_hz - 0.5 * (slopes[0] + slopes[1]) * amount_m;
  double uneven_hz = UNEVEN_PART * 0.5 * fabs((slopes[1] - slopes[0]) * amount_m);
  return fabs(missing_hz) <= ADDS_UP_PART * fabs(change_hz) + unsure_hz + uneven_hz;
}

double cavum_shape_radiation_change_hz(const cavum_mode_result *mode, double frequency_hz,
                                       const cavum_cell *shape, double equator_m,
                                       const cavum_chain_step *step) {
  const cavum_wall_density *d = &mode->wall_density;
  double by_table = 0.0, force_n = 0.0, change_hz = 0.0;
  for (cavum_index i = 0; i < d->num_points; i++) {
    double outwards_n = d->pressure_pa[i] * d->area_m2[i];
    if (step->compliance_m_per_pa > 0.0) {
      by_table +=
          cavum_depth_share_at(&step->depth, d->z_m[i]) * outwards_n * d->frequency_hz_per_m3[i];
    }
    force_n += (d->z_m[i] > equator_m ? 0.5 : -0.5) * outwards_n * d->normal_z[i];
  }
  change_hz = step->compliance_m_per_pa * by_table;
  if (step->stiffness_n_per_m.value > 0.0) {
    change_hz += step->whole_over_cell * cavum_shape_slope_of_stretch(mode, frequency_hz) /
                 cavum_contour_length_m(&shape->path) * force_n / step->stiffness_n_per_m.value;
  }
  return change_hz;
}
