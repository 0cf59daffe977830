// SPDX-License-Identifier: GPL-3.0-or-later
// Points beside a mirror plane: what is odd about the plane is no deviation of a mirrored wall.
#include "survey/planes.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit.h>
#include <math.h>

#include "base/base.h"
#include "contour/check.h"

// Chance moves a plane by more than so many of its uncertainties in one of a million surveys.
static const double ELSEWHERE = 5.0;

enum { TERMS = 4, FEWEST_POINTS = 12 };
// As far as the even terms describe what walls do, and the odd one differs from them.
static const double TURN_MOST_RAD = 1.0;
// A wall that bends less beside the plane looks alike wherever the plane is.
static const double BEND_LEAST = 0.3;
// The wall runs along the axis where it meets a plane across it.
static const double ACROSS = 1e-2, ON_AXIS_M = 1e-9;

/** Rows of the fit. */
typedef struct rows {
  double *place_m, *outward, *deviation_m; /**< Owned as one, shape [num_points]. */
  int64_t n;
} rows;

// The side on which the plane is, along the axis: -1, 1; 0 where there is none.
static double side_of(const cavum_survey *s, int run, bool at_end) {
  const cavum_wall_ends *ends = &s->wall.ends[run];
  if (!(at_end ? ends->level_end : ends->level_start)) return 0.0;
  double length_m = s->wall.run_length_m[run], aside_m = 1e-4 * length_m;
  cavum_point end = cavum_survey_wall_place(NULL, &s->wall, run, at_end ? length_m : 0.0);
  cavum_point beside =
      cavum_survey_wall_place(NULL, &s->wall, run, at_end ? length_m - aside_m : aside_m);
  double along = (end.z_m - beside.z_m) / hypot(end.z_m - beside.z_m, end.r_m - beside.r_m);
  if (fabs(along) < 1.0 - ACROSS || end.r_m < ON_AXIS_M) return 0.0;
  return along > 0.0 ? 1.0 : -1.0;
}

static void gather(rows *r, const cavum_survey *s, int run, bool at_end, double side) {
  double length_m = s->wall.run_length_m[run], whole, turned;
  cavum_survey_wall_place(&whole, &s->wall, run, at_end ? length_m : 0.0);
  for (int64_t i = 0; i < s->view.num_points; i++) {
    const cavum_foot *foot = &s->view.feet[i];
    if (!s->used[i] || foot->run != run) continue;
    cavum_survey_wall_place(&turned, &s->wall, run, foot->along_m);
    if (fabs(turned - whole) > TURN_MOST_RAD) continue;
    r->place_m[r->n] = at_end ? length_m - foot->along_m : foot->along_m;
    r->outward[r->n] = side * foot->normal_z;
    r->deviation_m[r->n++] = s->deviation_m[i];
  }
}

static double largest_of(const double *values, int64_t n) {
  double largest = 0.0;
  for (int64_t i = 0; i < n; i++) largest = cavum_max(largest, fabs(values[i]));
  return largest;
}

// Least squares; misfit that is larger than the scatter makes the uncertainty larger.
static bool fit(cavum_survey_plane *plane, const rows *r, double scatter_m) {
  size_t n = (size_t)r->n;
  double squares = 0.0, far_m = largest_of(r->place_m, r->n);
  gsl_matrix *x = gsl_matrix_alloc(n, TERMS), *covariance = gsl_matrix_alloc(TERMS, TERMS);
  gsl_vector *c = gsl_vector_alloc(TERMS);
  gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(n, TERMS);
  gsl_vector_view y = gsl_vector_view_array(r->deviation_m, n);
  bool good = x && covariance && c && work;
  for (size_t i = 0; good && i < n; i++) {
    double even = r->place_m[i] / far_m;
    even *= even;
    const double terms[TERMS] = {r->outward[i], 1.0, even, even * even};
    for (size_t k = 0; k < TERMS; k++) gsl_matrix_set(x, i, k, terms[k]);
  }
  good = good && gsl_multifit_linear(x, &y.vector, c, covariance, &squares, work) == GSL_SUCCESS;
  if (good) {
    // gsl_multifit_linear() takes the scatter from the misfit.
    double found_m = sqrt(squares / (double)(n - TERMS));
    double larger = found_m > 0.0 ? cavum_max(1.0, scatter_m / found_m) : 1.0;
    *plane = (cavum_survey_plane){.is_known = true,
                                  .beyond_m = gsl_vector_get(c, 0),
                                  .uncertainty_m = larger * sqrt(gsl_matrix_get(covariance, 0, 0))};
  }
  gsl_multifit_linear_free(work);
  gsl_vector_free(c);
  gsl_matrix_free(covariance);
  gsl_matrix_free(x);
  return good;
}

cavum_status cavum_survey_plane_find(cavum_survey_plane *plane, const cavum_survey *survey, int run,
                                     bool at_end, cavum_error *error) {
  double side = side_of(survey, run, at_end);
  int64_t n = survey->view.num_points;
  cavum_survey_plane found = {0};
  bool good = true;
  if (side != 0.0) {
    rows r = {.place_m = cavum_alloc(3 * n, sizeof *r.place_m)};
    if (!r.place_m) return cavum_fail_memory(error);
    r.outward = r.place_m + n;
    r.deviation_m = r.outward + n;
    gather(&r, survey, run, at_end, side);
    if (r.n >= FEWEST_POINTS && largest_of(r.outward, r.n) >= BEND_LEAST) {
      gsl_error_handler_t *handler = gsl_set_error_handler_off();
      good = fit(&found, &r, survey->scatter_m);
      gsl_set_error_handler(handler);
    }
    free(r.place_m);
  }
  if (!good) {
    return cavum_fail(error, CAVUM_ERR_LIBRARY, "GSL found no mirror plane of the points");
  }
  *plane = found;
  return CAVUM_OK;
}

cavum_status cavum_survey_ends_find(cavum_survey_ends *ends, const cavum_survey *survey,
                                    cavum_error *error) {
  cavum_survey_ends made = {.z_m = {NAN, NAN}};
  double middle_m = cavum_contour_middle_m(&survey->drawing);
  for (int run = 0; run < survey->wall.num_runs; run++) {
    for (int end = 0; end < 2; end++) {
      cavum_survey_plane found = {0};
      double at_m = end ? survey->wall.run_length_m[run] : 0.0;
      cavum_status status = cavum_survey_plane_find(&found, survey, run, end == 1, error);
      if (status != CAVUM_OK) return status;
      if (!found.is_known) continue;
      double z_m = cavum_survey_wall_place(NULL, &survey->wall, run, at_m).z_m;
      bool is_right = z_m > middle_m;
      made.plane[is_right] = found;
      made.z_m[is_right] = z_m;
      made.is_elsewhere[is_right] = fabs(found.beyond_m) > ELSEWHERE * found.uncertainty_m;
    }
  }
  *ends = made;
  return CAVUM_OK;
}
