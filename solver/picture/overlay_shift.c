// SPDX-License-Identifier: GPL-3.0-or-later
// Two cells over each other, by their equators or as they were drawn.
#include "picture/overlay_shift.h"

#include <math.h>

#include "base/base.h"

// Points of the metal of a cell that are looked at, at least where it has so many.
enum { SAMPLES = 300 };
// Of the largest radius: outlines that are so near to each other are the same.
static const double SAME_SHARE = 1e-9;
// Of the largest radius: an equator is no longer, a cylinder is.
static const double EQUATOR_SHARE = 1e-2;

// Where the outline is widest: the middle, and how long it is so.
static double equator_m(double *length_m, const cavum_scene *scene) {
  double low = HUGE_VAL, high = -HUGE_VAL, widest = scene->r_high_m * (1.0 - SAME_SHARE);
  for (int l = 0; l < scene->num_loops; l++) {
    const cavum_scene_loop *loop = &scene->loops[l];
    for (int i = 0; i < loop->num_points; i++) {
      if (loop->r_m[i] < widest) continue;
      low = cavum_min(low, loop->z_m[i]);
      high = cavum_max(high, loop->z_m[i]);
    }
  }
  *length_m = high - low;
  return 0.5 * (low + high);
}

bool cavum_overlay_has_equator(const cavum_scene *scene) {
  double length_m;
  (void)equator_m(&length_m, scene);
  return length_m <= EQUATOR_SHARE * scene->r_high_m;
}

// Distance in metres of a place from the metal of a cell.
static double distance_m(const cavum_scene *scene, double z_m, double r_m) {
  double nearest = HUGE_VAL;
  for (int l = 0; l < scene->num_loops; l++) {
    const cavum_scene_loop *loop = &scene->loops[l];
    for (int i = 0; i < loop->num_points; i++) {
      int k = (i + 1) % loop->num_points;
      if (loop->boundary[i] != CAVUM_BOUNDARY_METAL) continue;
      double dz = loop->z_m[k] - loop->z_m[i], dr = loop->r_m[k] - loop->r_m[i];
      double to_z = z_m - loop->z_m[i], to_r = r_m - loop->r_m[i], square = dz * dz + dr * dr;
      double t = square > 0.0 ? (to_z * dz + to_r * dr) / square : 0.0;
      t = cavum_max(0.0, cavum_min(1.0, t));
      nearest = cavum_min(nearest, hypot(to_z - t * dz, to_r - t * dr));
    }
  }
  return nearest;
}

// Mean distance in metres of the metal of a cell, moved by a shift, from that of another.
static double mean_distance_m(const cavum_scene *scene, const cavum_scene *other, double shift_m) {
  double sum = 0.0;
  int count = 0;
  for (int l = 0; l < scene->num_loops; l++) {
    const cavum_scene_loop *loop = &scene->loops[l];
    int step = loop->num_points > SAMPLES ? loop->num_points / SAMPLES : 1;
    for (int i = 0; i < loop->num_points; i += step) {
      if (loop->boundary[i] != CAVUM_BOUNDARY_METAL) continue;
      sum += distance_m(other, loop->z_m[i] + shift_m, loop->r_m[i]);
      count++;
    }
  }
  return count > 0 ? sum / count : 0.0;
}

double cavum_overlay_shift_m(const cavum_scene *scene, const cavum_scene *first) {
  double length_m, own = equator_m(&length_m, scene);
  if (!first) return -own;
  double of_first = equator_m(&length_m, first);
  double as_drawn = mean_distance_m(scene, first, 0.0);
  double by_equator = mean_distance_m(scene, first, of_first - own);
  return as_drawn <= by_equator + SAME_SHARE * first->r_high_m ? -of_first : -own;
}
