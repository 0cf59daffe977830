// SPDX-License-Identifier: GPL-3.0-or-later
// Points of the rule of integration, in the order of the drawing's wall. Each stands for as much of
// the wall as it has weight.
#include "as_built/built_points.h"

#include <math.h>

#include "base/base.h"

// Ends of pieces that are this near to each other, or to the axis, are together.
static const double TOGETHER_M = 1e-9;

void cavum_built_points_clear(cavum_built_points *points) {
  free(points->points);
  *points = (cavum_built_points){0};
}

static int compare(const void *a, const void *b) {
  const cavum_foot *x = &((const cavum_built_point *)a)->foot;
  const cavum_foot *y = &((const cavum_built_point *)b)->foot;
  if (x->run != y->run) return x->run < y->run ? -1 : 1;
  return (x->along_m > y->along_m) - (x->along_m < y->along_m);
}

// The weights of a run one behind the other, stretched to its length.
static void set_parts(cavum_built_points *p, const cavum_survey *survey) {
  for (cavum_index i = 0, end; i < p->num_points; i = end) {
    int run = p->points[i].foot.run;
    double whole = 0.0, at = 0.0;
    for (end = i; end < p->num_points && p->points[end].foot.run == run; end++) {
      whole += p->points[end].to_m;
    }
    double stretch = survey->wall.run_length_m[run] / whole;
    for (cavum_index k = i; k < end; k++) {
      double length = stretch * p->points[k].to_m;
      p->points[k].from_m = at;
      at += length;
      p->points[k].to_m = at;
    }
  }
}

// Where two pieces of wall meet at a corner G changes with their lengths too, and where metal meets
// the axis R/Q with the length of that: no densities.
static void find_ends(bool *corner, bool *on_axis, const cavum_survey *survey) {
  const cavum_survey_wall *wall = &survey->wall;
  *corner = *on_axis = false;
  for (int run = 0; run < wall->num_runs; run++) {
    cavum_point start = cavum_survey_wall_place(NULL, wall, run, 0.0);
    cavum_point end = cavum_survey_wall_place(NULL, wall, run, wall->run_length_m[run]);
    if (start.r_m < TOGETHER_M || end.r_m < TOGETHER_M) *on_axis = true;
    for (int other = 0; other < wall->num_runs; other++) {
      cavum_point next = cavum_survey_wall_place(NULL, wall, other, 0.0);
      if (hypot(next.z_m - end.z_m, next.r_m - end.r_m) < TOGETHER_M) *corner = true;
    }
  }
}

static void take_figures(cavum_built_points *p, const cavum_mode_result *mode,
                         const cavum_survey *survey) {
  static const cavum_figure_id ids[CAVUM_NUM_BUILT_FIGURES] = {
      CAVUM_FIGURE_FREQUENCY, CAVUM_FIGURE_GEOMETRY_FACTOR, CAVUM_FIGURE_R_OVER_Q_LINAC};
  const cavum_wall_density *d = &mode->wall_density;
  const double *densities[CAVUM_NUM_BUILT_FIGURES] = {
      d->frequency_hz_per_m3, d->geometry_factor_ohm_per_m3, d->r_over_q_linac_ohm_per_m3};
  bool missing[CAVUM_NUM_BUILT_FIGURES] = {false};
  find_ends(&missing[CAVUM_BUILT_FIGURE_G], &missing[CAVUM_BUILT_FIGURE_R_OVER_Q], survey);
  for (int k = 0; k < CAVUM_NUM_BUILT_FIGURES; k++) {
    const cavum_figure *figure = &mode->figures[ids[k]];
    p->exists[k] = densities[k] && !missing[k] && figure->state == CAVUM_FIGURE_PRESENT;
    p->figures[k] = p->exists[k] ? figure->value : NAN;
    for (cavum_index i = 0; p->exists[k] && i < d->num_points; i++) {
      p->points[i].change[k] = d->area_m2[i] * densities[k][i];
    }
  }
}

cavum_status cavum_built_points_make(cavum_built_points *points, const cavum_mode_result *mode,
                                     const cavum_survey *survey, cavum_error *error) {
  const cavum_wall_density *d = &mode->wall_density;
  cavum_built_points made = {.num_points = d->num_points};
  if (d->num_points < 1) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "the mode has no densities along the wall");
  }
  made.points = cavum_alloc(d->num_points, sizeof *made.points);
  if (!made.points) return cavum_fail_memory(error);
  for (cavum_index i = 0; i < d->num_points; i++) {
    cavum_built_point *p = &made.points[i];
    p->foot = cavum_survey_wall_foot(&survey->wall, d->z_m[i], d->r_m[i]);
    p->deviation_m = cavum_survey_deviation_m(survey, p->foot.run, p->foot.along_m);
    p->to_m = d->area_m2[i] / (2.0 * CAVUM_PI * d->r_m[i]);
  }
  take_figures(&made, mode, survey);
  qsort(made.points, (size_t)made.num_points, sizeof *made.points, compare);
  set_parts(&made, survey);
  *points = made;
  return CAVUM_OK;
}

static double slope_of(const cavum_built_point *p) {
  return p->change[CAVUM_BUILT_FIGURE_F] / (p->to_m - p->from_m);
}

double cavum_built_points_slope_hz_per_m2(const cavum_built_points *points, int run,
                                          double along_m) {
  const cavum_built_point *before = NULL, *behind = NULL;
  for (cavum_index i = 0; i < points->num_points; i++) {
    const cavum_built_point *p = &points->points[i];
    if (p->foot.run != run) continue;
    if (p->foot.along_m <= along_m) before = p;
    if (p->foot.along_m >= along_m && !behind) behind = p;
  }
  if (!before || !behind) {
    const cavum_built_point *only = before ? before : behind;
    return only ? slope_of(only) : NAN;
  }
  double apart = behind->foot.along_m - before->foot.along_m;
  double part = apart > 0.0 ? (along_m - before->foot.along_m) / apart : 0.0;
  return (1.0 - part) * slope_of(before) + part * slope_of(behind);
}
