// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file measured_wall.h
 * Points of a wall whose deviation from its drawing is known, with noise, a probe, wild points and
 * axes that are off.
 */
#ifndef CAVUM_TEST_MEASURED_WALL_H
#define CAVUM_TEST_MEASURED_WALL_H

#include "base/base.h"
#include "contour/graded.h"
#include "random_cells.h"
#include "solving.h"
#include "survey/survey.h"

/** How points are made. */
typedef struct measured_wall {
  const cavum_contour *drawing;
  cavum_graded_depth truth; /**< Deviation of the wall, outwards. */
  int64_t num_points;
  double noise_m, probe_radius_m;
  bool even; /**< Places at even distances, each off by up to a fifth of them; else at random. */
  double wild_part, wild_m; /**< So many points are off by up to this. */
  bool in_space;
  double motion[CAVUM_MOTION_MOST]; /**< x, y, z in m, tilts about x and y in rad, in space. */
  double gap_from_m, gap_to_m;      /**< Along the first run: no points there. */
} measured_wall;

/** A deviation that varies smoothly along z, and as the mirror planes at its ends have it. */
typedef struct measured_wave {
  double size_m, half_length_m; /**< Planes are at z = -half_length_m and half_length_m. */
} measured_wave;

/** Depth of a measured_wave, *data, which both planes mirror into itself. */
static inline double measured_wall_wave(const cavum_curve *curve, double t, const void *data) {
  const measured_wave *w = data;
  double u = 0.5 * CAVUM_PI * (cavum_curve_point(curve, t).z_m / w->half_length_m + 1.0);
  return w->size_m * (cos(3.0 * u) + 0.6 * cos(5.0 * u));
}

/** A number of the normal distribution (Box and Muller). */
static inline double measured_wall_normal(random_state *state) {
  double u = random_between(state, 1e-300, 1.0), v = random_between(state, 0.0, 1.0);
  return sqrt(-2.0 * log(u)) * cos(2.0 * CAVUM_PI * v);
}

static inline void measured_wall_place(cavum_survey_points *points, int64_t i,
                                       const measured_wall *w, double z, double r, double angle) {
  double x = r, y = 0.0;
  if (w->in_space) {
    x = r * cos(angle);
    y = r * sin(angle);
    double a = w->motion[3], b = w->motion[4];
    double y1 = cos(a) * y - sin(a) * z, z1 = sin(a) * y + cos(a) * z;
    double x2 = cos(b) * x + sin(b) * z1, z2 = cos(b) * z1 - sin(b) * x;
    x = x2 + w->motion[0];
    y = y1 + w->motion[1];
    z = z2;
  }
  points->x_m[i] = x;
  points->y_m[i] = y;
  points->z_m[i] = z + w->motion[2];
}

/** Points of the metal; owned by the caller. */
static inline cavum_survey_points measured_wall_points(const measured_wall *w,
                                                       random_state *state) {
  cavum_survey_wall wall = {0};
  cavum_error error = {0};
  int64_t n = w->num_points;
  cavum_survey_points points = {.num_points = n, .in_space = w->in_space};
  // Benchmarks use it too, where nothing checks.
  if (cavum_survey_wall_make(&wall, w->drawing, &error) != CAVUM_OK) abort();
  points.x_m = cavum_alloc(3 * n, sizeof(double));
  if (!points.x_m) abort();
  points.y_m = points.x_m + n;
  points.z_m = points.y_m + n;
  double whole = 0.0;
  for (int k = 0; k < wall.num_curves; k++) whole += wall.curves[k].length_m[CAVUM_WALL_PANELS];
  for (int64_t i = 0; i < n; i++) {
    double s = w->even ? whole / (double)n * ((double)i + random_between(state, 0.3, 0.7))
                       : random_between(state, 0.0, whole);
    int k = 0;
    while (k + 1 < wall.num_curves && s > wall.curves[k].length_m[CAVUM_WALL_PANELS]) {
      s -= wall.curves[k++].length_m[CAVUM_WALL_PANELS];
    }
    double along = wall.curves[k].start_m + s;
    if (along > w->gap_from_m && along < w->gap_to_m) {
      i--;
      continue;
    }
    const cavum_curve *curve = &w->drawing->curves[wall.curves[k].curve];
    double t = cavum_min(1.0, s / wall.curves[k].length_m[CAVUM_WALL_PANELS]);
    cavum_point p, d;
    cavum_curve_at(&p, &d, curve, t);
    double speed = hypot(d.z_m, d.r_m);
    double off = w->truth.at ? w->truth.at(curve, t, w->truth.data) : 0.0;
    off += w->noise_m * measured_wall_normal(state) - w->probe_radius_m;
    if (random_happens(state, w->wild_part)) off += random_between(state, -w->wild_m, w->wild_m);
    measured_wall_place(&points, i, w, p.z_m + off * d.r_m / speed, p.r_m - off * d.z_m / speed,
                        random_between(state, 0.0, 2.0 * CAVUM_PI));
  }
  cavum_survey_wall_clear(&wall);
  return points;
}

/** A cell whose outline is another contour, which it takes over. */
static inline cavum_cell measured_wall_cell(const cavum_cell *drawing, cavum_contour *contour) {
  cavum_cell cell;
  cavum_cell_set_defaults(&cell);
  cell.kind = CAVUM_CONTOUR_PATH;
  cell.path = *contour;
  *contour = (cavum_contour){0};
  cell.accelerating_length_m = drawing->left.half_length_m + drawing->right.half_length_m;
  cell.accuracy_frequency = 1e-10;
  cell.accuracy_other_figures = 1e-2;
  return cell;
}

#endif
