// SPDX-License-Identifier: GPL-3.0-or-later
// Gauss-Newton steps for the few numbers of a motion; each is a robust linear fit.
#include "survey/align.h"

#include <gsl/gsl_eigen.h>
#include <gsl/gsl_errno.h>
#include <math.h>
#include <string.h>

#include "base/base.h"
#include "contour/check.h"

enum { MOST = CAVUM_MOTION_MOST, ALL = MOST + 1, STEPS = 20, BLOCKS = 20 };
enum { SHIFT_X = 0, SHIFT_Y, SHIFT_Z, TILT_X, TILT_Y };
// Tukey's weights end at so many robust deviations, for an efficiency of 95 % [Huber2009].
static const double TUKEY = 4.685, DEVIATIONS_OF_MAD = 1.4826;
// A motion that moves the points less than this part of the one that moves them most is none.
static const double NO_MOTION = 1e-6;
static const double SETTLED_M = 1e-11;

void cavum_survey_view_clear(cavum_survey_view *view) {
  free(view->feet);
  free(view->columns);
  *view = (cavum_survey_view){0};
}

/** Where a point is and what of it a motion changes. */
typedef struct place {
  double x, y, z;
} place;

static place moved(const cavum_survey_points *p, int64_t i, const double m[MOST], double middle) {
  double x = p->x_m[i], y = p->y_m[i], z = p->z_m[i] - middle;
  double cx = cos(m[TILT_X]), sx = sin(m[TILT_X]), cy = cos(m[TILT_Y]), sy = sin(m[TILT_Y]);
  double y1 = cx * y - sx * z, z1 = sx * y + cx * z;
  double x2 = cy * x + sy * z1, z2 = -sy * x + cy * z1;
  return (place){x2 + m[SHIFT_X], y1 + m[SHIFT_Y], z2 + m[SHIFT_Z] + middle};
}

static void look(cavum_survey_view *view, const cavum_survey_points *points,
                 const cavum_survey_wall *wall) {
  for (int64_t i = 0; i < view->num_points; i++) {
    place p = moved(points, i, view->motion, view->middle_m);
    double r = points->in_space ? hypot(p.x, p.y) : p.x;
    cavum_foot *foot = &view->feet[i];
    *foot = cavum_survey_wall_foot(wall, p.z, r);
    double nx = r > 0.0 ? foot->normal_r * p.x / r : 0.0,
           ny = r > 0.0 ? foot->normal_r * p.y / r : 0.0;
    double nz = foot->normal_z, z = p.z - view->middle_m;
    const double by[MOST] = {nx, ny, nz, nz * p.y - ny * z, nx * z - nz * p.x};
    for (int c = 0; c < view->num_columns; c++) {
      view->columns[i * view->num_columns + c] = by[view->kinds[c]];
    }
  }
}

static int compare(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

// Robust deviation of the distances about their median, and the median.
static double spread_of(double *median, double *work, const cavum_survey_view *view) {
  int64_t n = 0;
  for (int64_t i = 0; i < view->num_points; i++) {
    if (!view->feet[i].beyond) work[n++] = view->feet[i].distance_m;
  }
  if (n == 0) return 0.0;
  qsort(work, (size_t)n, sizeof *work, compare);
  *median = work[n / 2];
  for (int64_t i = 0; i < n; i++) work[i] = fabs(work[i] - *median);
  qsort(work, (size_t)n, sizeof *work, compare);
  return DEVIATIONS_OF_MAD * work[n / 2];
}

// Least squares of a few unknowns through the eigenvectors of their normal matrix: what does not
// move the points stays 0.
static bool solve(double x[ALL], double *normal, const double right[ALL], int n) {
  bool good = false;
  gsl_matrix_view a = gsl_matrix_view_array(normal, (size_t)n, (size_t)n);
  gsl_eigen_symmv_workspace *work = gsl_eigen_symmv_alloc((size_t)n);
  gsl_vector *values = gsl_vector_alloc((size_t)n);
  gsl_matrix *vectors = gsl_matrix_alloc((size_t)n, (size_t)n);
  if (work && values && vectors && gsl_eigen_symmv(&a.matrix, values, vectors, work) == 0) {
    double largest = gsl_vector_max(values);
    good = true;
    for (int i = 0; i < n; i++) x[i] = 0.0;
    for (int k = 0; k < n; k++) {
      double value = gsl_vector_get(values, (size_t)k), along = 0.0;
      if (!(value > NO_MOTION * largest)) continue;
      for (int i = 0; i < n; i++) along += gsl_matrix_get(vectors, (size_t)i, (size_t)k) * right[i];
      for (int i = 0; i < n; i++) {
        x[i] += along / value * gsl_matrix_get(vectors, (size_t)i, (size_t)k);
      }
    }
  }
  gsl_matrix_free(vectors);
  gsl_vector_free(values);
  gsl_eigen_symmv_free(work);
  return good;
}

// Sums over the points that count: of the columns times each other, the last one being that of a
// wall that is off by the same everywhere, which is fitted and left alone.
static void add_normal(double *normal, const cavum_survey_view *view, const double *weights,
                       const double size[ALL]) {
  int n = view->num_columns;
  for (int64_t i = 0; i < view->num_points; i++) {
    double row[ALL];
    for (int a = 0; a < n; a++) row[a] = view->columns[i * n + a] / size[a];
    row[n] = 1.0;
    for (int a = 0; a <= n; a++) {
      for (int b = 0; b <= n; b++) normal[a * (n + 1) + b] += weights[i] * row[a] * row[b];
    }
  }
}

// Sums of columns times values; values and weights are 0 for points that do not count.
static void add_right(double right[ALL], const cavum_survey_view *view, const double *values,
                      const double *weights, const double size[ALL]) {
  int n = view->num_columns;
  for (int64_t i = 0; i < view->num_points; i++) {
    double v = weights[i] * values[i];
    for (int a = 0; a < n; a++) right[a] += v * view->columns[i * n + a] / size[a];
    right[n] += v;
  }
}

static cavum_status solve_sums(double x[ALL], double *normal, const double right[ALL], int n,
                               const double size[ALL], cavum_error *error) {
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  bool good = solve(x, normal, right, n + 1);
  gsl_set_error_handler(handler);
  if (!good) return cavum_fail(error, CAVUM_ERR_LIBRARY, "GSL found no best fit of the points");
  for (int a = 0; a < n; a++) x[a] /= size[a];
  return CAVUM_OK;
}

// Tilts are taken times the size of the wall, so that all columns are alike.
static void set_sizes(double size[ALL], const cavum_survey_view *view) {
  for (int c = 0; c < ALL; c++) size[c] = 1.0;
  for (int c = 0; c < view->num_columns; c++) {
    double sum = 0.0;
    for (int64_t i = 0; i < view->num_points; i++) {
      double v = view->columns[i * view->num_columns + c];
      sum += v * v;
    }
    // Shifts keep their own size, so that one that moves nothing is seen to.
    size[c] = c < 3 || sum <= 0.0 ? 1.0 : sqrt(sum / (double)view->num_points);
  }
}

static double tukey(double distance, double spread) {
  double u = spread > 0.0 ? distance / (TUKEY * spread) : 0.0;
  return fabs(u) < 1.0 ? (1.0 - u * u) * (1.0 - u * u) : 0.0;
}

static int motion_columns(int kinds[MOST], bool in_space, cavum_survey_motion motion) {
  int n = 0;
  if (motion == CAVUM_MOTION_NONE) return 0;
  if (in_space) {
    kinds[n++] = SHIFT_X;
    kinds[n++] = SHIFT_Y;
  }
  kinds[n++] = SHIFT_Z;
  if (in_space && motion == CAVUM_MOTION_SHIFT_AND_TILT) {
    kinds[n++] = TILT_X;
    kinds[n++] = TILT_Y;
  }
  return n;
}

// Adds to the motion; gives about how far points are moved.
static double move(cavum_survey_view *view, const double x[ALL], const double size[ALL]) {
  double largest = 0.0;
  for (int c = 0; c < view->num_columns; c++) {
    view->motion[view->kinds[c]] += x[c];
    largest = cavum_max(largest, fabs(x[c]) * (view->kinds[c] >= TILT_X ? size[c] : 1.0));
  }
  return largest;
}

// Distances from their median and their weights.
static void weigh(double *distances, double *weights, double *sorted,
                  const cavum_survey_view *view) {
  double median = 0.0, spread = spread_of(&median, sorted, view);
  for (int64_t i = 0; i < view->num_points; i++) {
    double off_m = view->feet[i].distance_m - median;
    distances[i] = -off_m;
    weights[i] = view->feet[i].beyond ? 0.0 : tukey(off_m, spread + SETTLED_M);
  }
}

static int column_of_shift(const cavum_survey_view *view) {
  for (int c = 0; c < view->num_columns; c++) {
    if (view->kinds[c] == SHIFT_Z) return c;
  }
  return -1;
}

// One block of the wall left out after the other.
static cavum_status jackknife(cavum_survey_view *view, const cavum_survey_wall *wall, double *work,
                              cavum_error *error) {
  double *distances = work, *weights = work + view->num_points;
  double *left = weights + view->num_points, shifts[BLOCKS], mean = 0.0, squares = 0.0, size[ALL];
  double whole_m = wall->run_start_m[wall->num_runs - 1] + wall->run_length_m[wall->num_runs - 1];
  int column = column_of_shift(view);
  if (column < 0) return CAVUM_OK;
  weigh(distances, weights, left, view);
  set_sizes(size, view);
  for (int block = 0; block < BLOCKS; block++) {
    double normal[ALL * ALL] = {0}, right[ALL] = {0}, x[ALL];
    for (int64_t i = 0; i < view->num_points; i++) {
      double along_m = wall->run_start_m[view->feet[i].run] + view->feet[i].along_m;
      left[i] = (int)(BLOCKS * along_m / whole_m) == block ? 0.0 : weights[i];
    }
    add_normal(normal, view, left, size);
    add_right(right, view, distances, left, size);
    cavum_status status = solve_sums(x, normal, right, view->num_columns, size, error);
    if (status != CAVUM_OK) return status;
    shifts[block] = x[column];
    mean += x[column] / BLOCKS;
  }
  for (int block = 0; block < BLOCKS; block++) {
    squares += (shifts[block] - mean) * (shifts[block] - mean);
  }
  view->shift_uncertainty_m = sqrt((BLOCKS - 1.0) / BLOCKS * squares);
  return CAVUM_OK;
}

static cavum_status refine(cavum_survey_view *view, const cavum_survey_points *points,
                           const cavum_survey_wall *wall, double *work, cavum_error *error) {
  double *distances = work, *weights = work + view->num_points;
  double *sorted = weights + view->num_points;
  for (int step = 0; step < STEPS && view->num_columns > 0; step++) {
    double normal[ALL * ALL] = {0}, right[ALL] = {0}, size[ALL], x[ALL];
    double largest = 0.0;
    weigh(distances, weights, sorted, view);
    set_sizes(size, view);
    add_normal(normal, view, weights, size);
    add_right(right, view, distances, weights, size);
    cavum_status status = solve_sums(x, normal, right, view->num_columns, size, error);
    if (status != CAVUM_OK) return status;
    largest = move(view, x, size);
    look(view, points, wall);
    if (largest < SETTLED_M) break;
  }
  return CAVUM_OK;
}

cavum_status cavum_survey_view_fit(cavum_survey_view *view, const cavum_survey_points *points,
                                   const cavum_survey_wall *wall, cavum_survey_motion motion,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_survey_view made = {.num_points = points->num_points,
                            .middle_m = cavum_contour_middle_m(&wall->drawing)};
  made.num_columns = motion_columns(made.kinds, points->in_space, motion);
  double *work = cavum_alloc(3 * points->num_points, sizeof *work);
  made.feet = cavum_alloc(points->num_points, sizeof *made.feet);
  made.columns = cavum_alloc(points->num_points * MOST, sizeof *made.columns);
  if (!work || !made.feet || !made.columns) CAVUM_TRY(cavum_fail_memory(error));
  look(&made, points, wall);
  CAVUM_TRY(refine(&made, points, wall, work, error));
  CAVUM_TRY(jackknife(&made, wall, work, error));
  *view = made;
  made = (cavum_survey_view){0};
done:
  free(work);
  cavum_survey_view_clear(&made);
  return status;
}

// Coefficients of the columns that fit values of the used points best. x[num_columns] belongs to
// the constant: without it, its right-hand side is zero.
static cavum_status fit_used(double x[ALL], const cavum_survey_view *view,
                             const unsigned char *used, const double *values, bool with_constant,
                             cavum_error *error) {
  double normal[ALL * ALL] = {0}, right[ALL] = {0}, size[ALL];
  double *weights = cavum_alloc(view->num_points, sizeof *weights);
  if (!weights) return cavum_fail_memory(error);
  for (int64_t i = 0; i < view->num_points; i++) weights[i] = used[i] ? 1.0 : 0.0;
  set_sizes(size, view);
  add_normal(normal, view, weights, size);
  add_right(right, view, values, weights, size);
  free(weights);
  if (!with_constant) right[view->num_columns] = 0.0;
  return solve_sums(x, normal, right, view->num_columns, size, error);
}

cavum_status cavum_survey_view_refit(double *moved_m, cavum_survey_view *view,
                                     const cavum_survey_points *points,
                                     const cavum_survey_wall *wall, const unsigned char *used,
                                     const double *residual_m, cavum_error *error) {
  double size[ALL], x[ALL];
  *moved_m = 0.0;
  if (view->num_columns <= 1) return CAVUM_OK;
  set_sizes(size, view);
  cavum_status status = fit_used(x, view, used, residual_m, true, error);
  if (status != CAVUM_OK) return status;
  for (int c = 0; c < view->num_columns; c++) x[c] = view->kinds[c] == SHIFT_Z ? 0.0 : -x[c];
  *moved_m = move(view, x, size);
  look(view, points, wall);
  return CAVUM_OK;
}

// Takes what a motion makes of values from them: of the used points alone, with the constant, or
// its transpose, of all of them, in which that is fitted as well and stays.
static cavum_status take_motion(double *values, const cavum_survey_view *view,
                                const unsigned char *used, bool transposed, cavum_error *error) {
  double x[ALL];
  int n = view->num_columns;
  if (n == 0) return CAVUM_OK;
  cavum_status status = fit_used(x, view, used, values, transposed, error);
  for (int64_t i = 0; status == CAVUM_OK && i < view->num_points; i++) {
    if (!transposed && !used[i]) continue;
    for (int c = 0; c < n; c++) values[i] -= view->columns[i * n + c] * x[c];
    if (!transposed) values[i] -= x[n];
  }
  return status;
}

// The motion is E (A^T A)^+ A^T y of values y, with A the columns and E those of the motion; rows
// then see y - C motion.
cavum_status cavum_survey_view_project(double *rows, const cavum_survey_view *view,
                                       const unsigned char *used, cavum_error *error) {
  return take_motion(rows, view, used, false, error);
}

cavum_status cavum_survey_view_settle(double *values, const cavum_survey_view *view,
                                      const unsigned char *used, cavum_error *error) {
  return take_motion(values, view, used, true, error);
}
