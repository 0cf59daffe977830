// SPDX-License-Identifier: GPL-3.0-or-later
// Best fit, outliers and splines of the runs in turn, until the same points stay.
#include "survey/survey.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "contour/check.h"
#include "contour/graded.h"
#include "survey/gaps.h"
#include "survey/outliers.h"

enum { ROUNDS = 12 };
// Scatter beyond the stated one by more than so many of its own standard deviations is none of
// chance.
static const double BEYOND_CHANCE = 3.0;
// Rounds end when points are moved by less than this part of their scatter.
static const double SETTLED_PART = 0.02;
// The curves of the contour follow the fit to this part of the scatter, or to this.
static const double FOLLOWED_PART = 4e-3, FOLLOWED_M = 4e-9, LOOSER = 4.0, LOOSEST_M = 5e-8;
// Points are of another drawing, or in other units, when half of them are this far off.
static const double OTHER_PART = 0.05;
// More outliers than this are no outliers.
static const double MOST_OUTLIERS_PART = 0.2;

void cavum_survey_clear(cavum_survey *survey) {
  for (int i = 0; survey->runs && i < survey->wall.num_runs; i++) {
    cavum_smooth_clear(&survey->runs[i]);
  }
  free(survey->runs);
  free(survey->deviation_m);
  free(survey->used);
  cavum_survey_view_clear(&survey->view);
  cavum_survey_wall_clear(&survey->wall);
  cavum_contour_clear(&survey->drawing);
  *survey = (cavum_survey){0};
}

// Points of a run that are used: places and deviations one behind the other; gives how many.
static int64_t gather(double *along_m, double *y_m, const cavum_survey *p, int run) {
  int64_t n = 0;
  for (int64_t i = 0; i < p->view.num_points; i++) {
    if (!p->used[i] || p->view.feet[i].run != run) continue;
    along_m[n] = p->view.feet[i].along_m;
    y_m[n++] = p->deviation_m[i];
  }
  return n;
}

static cavum_status fit_runs(cavum_survey *p, cavum_smooth_scatter *scatter, double *work,
                             const char *name, cavum_error *error) {
  *scatter = (cavum_smooth_scatter){0};
  double *along_m = work, *y_m = work + p->view.num_points;
  for (int run = 0; run < p->wall.num_runs; run++) {
    int64_t n = gather(along_m, y_m, p, run);
    cavum_status status =
        cavum_survey_check_gaps(along_m, n, &p->wall, run, p->settings.largest_gap_m, name, error);
    if (status != CAVUM_OK) return status;
    n = gather(along_m, y_m, p, run);  // sorted meanwhile
    cavum_smooth made;
    const cavum_smooth_settings settings = {.length_m = p->wall.run_length_m[run],
                                            .scatter_m = p->scatter_m,
                                            .level_start = p->wall.ends[run].level_start,
                                            .level_end = p->wall.ends[run].level_end};
    status = cavum_smooth_fit(&made, along_m, y_m, n, &settings, error);
    if (status != CAVUM_OK) return status;
    cavum_smooth_clear(&p->runs[run]);
    p->runs[run] = made;
    cavum_smooth_scatter of_run;
    status = cavum_smooth_find_scatter(&of_run, along_m, y_m, n, &settings, error);
    if (status != CAVUM_OK) return status;
    scatter->squares_m2 += of_run.squares_m2;
    scatter->degrees_of_freedom += of_run.degrees_of_freedom;
  }
  return CAVUM_OK;
}

double cavum_survey_deviation_m(const cavum_survey *survey, int run, double along_m) {
  return cavum_smooth_at(&survey->runs[run], along_m);
}

// Distances of the points from the fit.
static void set_residuals(double *residual_m, const cavum_survey *p) {
  for (int64_t i = 0; i < p->view.num_points; i++) {
    const cavum_foot *foot = &p->view.feet[i];
    residual_m[i] = p->deviation_m[i] - cavum_survey_deviation_m(p, foot->run, foot->along_m);
  }
}

// The scatter about the fit where the points do not tell it without one.
static void take_residuals(cavum_smooth_scatter *scatter, const cavum_survey *p,
                           const double *residual_m) {
  *scatter = (cavum_smooth_scatter){0};
  for (int64_t i = 0; i < p->view.num_points; i++) {
    if (p->used[i]) scatter->squares_m2 += residual_m[i] * residual_m[i];
  }
  for (int run = 0; run < p->wall.num_runs; run++) {
    scatter->degrees_of_freedom += p->runs[run].degrees_of_freedom;
  }
}

// The scatter of the points, and which of it and the stated one is carried; true where that has
// become larger.
static bool set_scatter(cavum_survey *p, cavum_smooth_scatter scatter, double *residual_m) {
  double was_m = p->scatter_m;
  set_residuals(residual_m, p);
  p->num_used = p->num_outliers = p->num_beyond = 0;
  for (int64_t i = 0; i < p->view.num_points; i++) {
    p->num_beyond += p->view.feet[i].beyond;
    p->num_outliers += !p->used[i] && !p->view.feet[i].beyond;
    p->num_used += p->used[i];
  }
  if (isnan(scatter.degrees_of_freedom)) take_residuals(&scatter, p, residual_m);
  double left =
      cavum_max(1.0, (double)p->num_used - scatter.degrees_of_freedom - p->view.num_columns);
  p->found_scatter_m = sqrt(scatter.squares_m2 / left);
  double chance = 1.0 + BEYOND_CHANCE / sqrt(2.0 * left);
  if (p->found_scatter_m > chance * was_m) p->scatter_m = p->found_scatter_m;
  return p->scatter_m > was_m;
}

static cavum_status check_counts(const cavum_survey *p, const char *name, cavum_error *error) {
  int64_t seen = p->view.num_points - p->num_beyond;
  if ((double)p->num_outliers <= MOST_OUTLIERS_PART * (double)seen) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%s: %lld of %lld points are far from their neighbours, expected at most a "
                    "fifth",
                    name, (long long)p->num_outliers, (long long)seen);
}

static void set_deviations(cavum_survey *p) {
  for (int64_t i = 0; i < p->view.num_points; i++) {
    p->deviation_m[i] = p->view.feet[i].distance_m + p->settings.probe_radius_m;
  }
}

static cavum_status fit_rounds(cavum_survey *p, const cavum_survey_points *points, const char *name,
                               cavum_error *error) {
  int64_t n = p->view.num_points;
  cavum_status status = CAVUM_OK;
  double *work = cavum_alloc(3 * n, sizeof *work), moved_m = 0.0;
  if (!work) return cavum_fail_memory(error);
  p->scatter_m = p->settings.scatter_m;
  CAVUM_TRY(cavum_survey_screen(p->used, &p->view, p->deviation_m, p->scatter_m, error));
  for (int round = 0; round < ROUNDS; round++) {
    cavum_smooth_scatter scatter;
    CAVUM_TRY(fit_runs(p, &scatter, work, name, error));
    set_residuals(work, p);
    const cavum_survey_misfit misfit = {.value_m = p->deviation_m, .residual_m = work};
    bool changed = false;
    CAVUM_TRY(
        cavum_survey_reject(p->used, &changed, &p->view, &misfit, p->settings.scatter_m, error));
    // A stated scatter that is too small would have the spline follow the noise.
    bool larger = set_scatter(p, scatter, work);
    CAVUM_TRY(cavum_survey_view_refit(&moved_m, &p->view, points, &p->wall, p->used, work, error));
    set_deviations(p);
    if (!changed && !larger && moved_m <= SETTLED_PART * p->scatter_m) break;
  }
  status = check_counts(p, name, error);
done:
  free(work);
  return status;
}

static cavum_status check_distance(const cavum_survey *p, const char *name, cavum_error *error) {
  double limit_m = OTHER_PART * cavum_contour_size_m(&p->drawing);
  int64_t far = 0, beyond = 0, n = p->view.num_points;
  for (int64_t i = 0; i < n; i++) {
    far += fabs(p->deviation_m[i]) > limit_m;
    beyond += p->view.feet[i].beyond;
  }
  if (2 * far <= n && 2 * beyond <= n) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%s: half of the points or more are farther than %.3g mm from the drawing or "
                    "beyond its ends: another cell, other units, or axes that are far off",
                    name, cavum_in_mm(limit_m));
}

static cavum_status copy_contour(cavum_contour *copy, const cavum_contour *contour,
                                 cavum_error *error) {
  copy->curves = cavum_alloc(contour->num_curves, sizeof *copy->curves);
  if (!copy->curves) return cavum_fail_memory(error);
  copy->num_curves = contour->num_curves;
  memcpy(copy->curves, contour->curves, (size_t)contour->num_curves * sizeof *copy->curves);
  return CAVUM_OK;
}

cavum_status cavum_survey_fit(cavum_survey *survey, const cavum_contour *drawing,
                              const cavum_survey_points *points,
                              const cavum_survey_settings *settings, const char *name,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t n = points->num_points;
  cavum_survey made = {.settings = *settings};
  CAVUM_TRY(copy_contour(&made.drawing, drawing, error));
  CAVUM_TRY(cavum_survey_wall_make(&made.wall, &made.drawing, error));
  CAVUM_TRY(cavum_survey_view_fit(&made.view, points, &made.wall, settings->motion, error));
  made.deviation_m = cavum_alloc(n, sizeof *made.deviation_m);
  made.used = cavum_alloc(n, 1);
  made.runs = cavum_alloc(made.wall.num_runs, sizeof *made.runs);
  if (!made.deviation_m || !made.used || !made.runs) CAVUM_TRY(cavum_fail_memory(error));
  set_deviations(&made);
  CAVUM_TRY(check_distance(&made, name, error));
  CAVUM_TRY(fit_rounds(&made, points, name, error));
  *survey = made;
  made = (cavum_survey){0};
done:
  cavum_survey_clear(&made);
  return status;
}

// ---- the contour

static double depth_at(const cavum_curve *curve, double t, const void *data) {
  const cavum_survey *p = data;
  cavum_index number = (cavum_index)(curve - p->drawing.curves);
  for (int i = 0; i < p->wall.num_curves; i++) {
    if (p->wall.curves[i].curve != number) continue;
    return cavum_survey_deviation_m(p, p->wall.curves[i].run,
                                    cavum_survey_wall_along(&p->wall, i, t));
  }
  return 0.0;
}

// Where drawing and wall join their pieces at other places, the curvature of the deviation jumps;
// what cannot be followed so closely is followed less closely.
cavum_status cavum_survey_contour(cavum_contour *contour, const cavum_survey *survey,
                                  cavum_error *error) {
  cavum_contour moved = {0};
  cavum_graded_depth depth = {depth_at, survey,
                              cavum_max(FOLLOWED_M, FOLLOWED_PART * survey->scatter_m)};
  cavum_status status = cavum_contour_move_by_depth(&moved, &survey->drawing, &depth, error);
  while (status == CAVUM_ERR_GEOMETRY && depth.close_m < LOOSEST_M) {
    depth.close_m *= LOOSER;
    status = cavum_contour_move_by_depth(&moved, &survey->drawing, &depth, error);
  }
  if (status == CAVUM_OK) status = cavum_contour_check(&moved, NULL, NULL, error);
  if (status == CAVUM_OK) {
    *contour = moved;
  } else {
    cavum_contour_clear(&moved);
  }
  return status;
}

// ---- uncertainty

static cavum_status rows_of_run(double *rows, const cavum_survey *p, int run,
                                const cavum_foot *places, const double *weights, int64_t num_places,
                                double *work, cavum_error *error) {
  const cavum_smooth *s = &p->runs[run];
  int64_t n = p->view.num_points;
  double *along_m = work, *y_m = work + n, *of_run = work + 2 * n;
  double *sums = cavum_alloc(s->num_coefficients, sizeof *sums);
  if (!sums) return cavum_fail_memory(error);
  for (int64_t i = 0; i < num_places; i++) {
    double b[CAVUM_SMOOTH_ORDER];
    if (places[i].run != run) continue;
    int k = cavum_smooth_basis(b, s, places[i].along_m);
    for (int j = 0; j < CAVUM_SMOOTH_ORDER; j++) sums[k + j] += weights[i] * b[j];
  }
  int64_t count = gather(along_m, y_m, p, run), at = 0;
  cavum_status status = cavum_smooth_rows(of_run, s, along_m, count, sums, error);
  for (int64_t i = 0; status == CAVUM_OK && i < n; i++) {
    if (p->used[i] && p->view.feet[i].run == run) rows[i] = of_run[at++];
  }
  free(sums);
  return status;
}

cavum_status cavum_survey_uncertainty(double *standard, const cavum_survey *survey,
                                      const cavum_foot *places, const double *weights,
                                      int64_t num_places, cavum_error *error) {
  int64_t n = survey->view.num_points;
  double squares = 0.0;
  cavum_status status = CAVUM_OK;
  double *work = cavum_alloc(4 * n, sizeof *work), *rows = work;
  if (!work) return cavum_fail_memory(error);
  for (int run = 0; run < survey->wall.num_runs; run++) {
    CAVUM_TRY(rows_of_run(rows, survey, run, places, weights, num_places, work + n, error));
  }
  CAVUM_TRY(cavum_survey_view_project(rows, &survey->view, survey->used, error));
  for (int64_t i = 0; i < n; i++) squares += rows[i] * rows[i];
  *standard = survey->scatter_m * sqrt(squares);
done:
  free(work);
  return status;
}
