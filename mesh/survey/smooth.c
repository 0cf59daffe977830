// SPDX-License-Identifier: GPL-3.0-or-later
// Penalised least squares in bands, GSL's Cholesky factorisation under them.
#include "survey/smooth.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>

#include "base/base.h"

enum { ORDER = CAVUM_SMOOTH_ORDER, MOST_INTERVALS = 400, POINTS_PER_INTERVAL = 1 };
// The penalty's weight is looked for over so many decades, then between three neighbours.
enum { DECADES_BELOW = 12, DECADES_ABOVE = 8, REFINEMENTS = 12 };

// More degrees of freedom than this part of the values leave no scatter to be found.
static const double MOST_FREEDOM_PART = 0.75;

/** Normal equations. */
typedef struct normal {
  int n; /**< Coefficients. */
  int64_t num_points;
  bool by_validation;           /**< Smoothed by cross-validation, else for the stated scatter. */
  double *gram, *penalty;       /**< Lower bands, shape [n, ORDER]. */
  double *right;                /**< Shape [n]. */
  double squares;               /**< Of the values. */
  double *factor, *inverse, *c; /**< Work. */
} normal;

void cavum_smooth_clear(cavum_smooth *smooth) {
  free(smooth->coefficients);
  free(smooth->matrix);
  free(smooth->gram);
  *smooth = (cavum_smooth){0};
}

static int intervals_of(const cavum_smooth *s) { return s->num_coefficients - ORDER + 1; }

// Where the end is level, the first and the third coefficient there are the same: the first spline
// is added to the third, and its own coefficient stays 0.
static void level(double values[ORDER], const cavum_smooth *smooth, int interval) {
  if (smooth->level_start && interval == 0) {
    values[2] += values[0];
    values[0] = 0.0;
  }
  if (smooth->level_end && interval == intervals_of(smooth) - 1) {
    values[1] += values[3];
    values[3] = 0.0;
  }
}

// Even knots that go on beyond both ends: all splines are the same one, shifted.
int cavum_smooth_basis(double values[ORDER], const cavum_smooth *smooth, double along_m) {
  int m = intervals_of(smooth);
  double x = along_m / smooth->length_m * m;
  int k = (int)cavum_max(0.0, cavum_min(m - 1.0, floor(x)));
  double t = x - k, u = 1.0 - t;
  values[0] = u * u * u / 6.0;
  values[1] = (3.0 * t * t * t - 6.0 * t * t + 4.0) / 6.0;
  values[2] = (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0;
  values[3] = t * t * t / 6.0;
  level(values, smooth, k);
  return k;
}

double cavum_smooth_at(const cavum_smooth *smooth, double along_m) {
  double b[ORDER], sum = 0.0;
  int k = cavum_smooth_basis(b, smooth, along_m);
  for (int i = 0; i < ORDER; i++) sum += b[i] * smooth->coefficients[k + i];
  return sum;
}

static void add_outer(double *bands, int first, const double v[ORDER], double weight) {
  for (int i = 0; i < ORDER; i++) {
    for (int j = 0; j <= i; j++) {
      bands[(first + j) * ORDER + (i - j)] += weight * v[i] * v[j];
    }
  }
}

enum { BENDS = 2 };
// Second derivatives are linear between knots: two Gauss points integrate their squares.
static const double bend_at[BENDS] = {0.5 - 0.28867513459481288, 0.5 + 0.28867513459481288};
static const double BEND_WEIGHT = 0.5;

// Second derivatives of the splines of an interval at one of its points.
static void bend(double second[ORDER], const cavum_smooth *s, int interval, int point) {
  double t = bend_at[point], u = 1.0 - t;
  second[0] = u;
  second[1] = 3.0 * t - 2.0;
  second[2] = 3.0 * u - 2.0;
  second[3] = t;
  level(second, s, interval);
}

int cavum_smooth_num_bends(const cavum_smooth *smooth) { return BENDS * intervals_of(smooth); }

// Lengths are in intervals: a weight of 1 is about that of one value an interval.
static void add_penalty(double *bands, const cavum_smooth *s) {
  int num_intervals = intervals_of(s), last = s->num_coefficients - 1;
  for (int k = 0; k < num_intervals; k++) {
    for (int g = 0; g < BENDS; g++) {
      double second[ORDER];
      bend(second, s, k, g);
      add_outer(bands, k, second, BEND_WEIGHT);
    }
  }
  // Coefficients that stay 0.
  if (s->level_start) bands[0] = 1.0;
  if (s->level_end) bands[last * ORDER] = 1.0;
}

// Factorises gram + weight penalty.
static bool factorise(double *factor, const normal *e, double weight) {
  for (int i = 0; i < e->n * ORDER; i++) factor[i] = e->gram[i] + weight * e->penalty[i];
  gsl_matrix_view view = gsl_matrix_view_array(factor, (size_t)e->n, ORDER);
  return gsl_linalg_cholesky_band_decomp(&view.matrix) == GSL_SUCCESS;
}

static bool solve(double *x, double *factor, int n) {
  gsl_matrix_view view = gsl_matrix_view_array(factor, (size_t)n, ORDER);
  gsl_vector_view right = gsl_vector_view_array(x, (size_t)n);
  return gsl_linalg_cholesky_band_svx(&view.matrix, &right.vector) == GSL_SUCCESS;
}

static double times(const double *bands, int n, const double *x, const double *y) {
  double sum = 0.0;
  for (int j = 0; j < n; j++) {
    sum += bands[j * ORDER] * x[j] * y[j];
    for (int d = 1; d < ORDER && j + d < n; d++) {
      sum += bands[j * ORDER + d] * (x[j] * y[j + d] + x[j + d] * y[j]);
    }
  }
  return sum;
}

// tr(H) = tr(A^-1 G), for which the bands of A^-1 are enough: from the last column on, by the bands
// of the factor [Hutchinson1985].
static double trace(const normal *e) {
  double sum = 0.0;
  double *inverse = e->inverse;
  for (int j = e->n - 1; j >= 0; j--) {
    const double *column = e->factor + j * ORDER;
    int last = e->n - 1 - j < ORDER - 1 ? e->n - 1 - j : ORDER - 1;
    for (int d = last; d >= 0; d--) {
      double z = d == 0 ? 1.0 / column[0] : 0.0;
      for (int k = 1; k <= last; k++) {
        int low = k < d ? k : d, apart = k < d ? d - k : k - d;
        z -= column[k] * inverse[(j + low) * ORDER + apart];
      }
      inverse[j * ORDER + d] = z / column[0];
      sum += (d == 0 ? 1.0 : 2.0) * inverse[j * ORDER + d] * e->gram[j * ORDER + d];
    }
  }
  return sum;
}

/** A fit with some weight of the penalty. */
typedef struct trial {
  double misfit, freedom; /**< Squares about it, in units of the scatter; tr(H). */
  double value;           /**< What is to be least. */
} trial;

// Fits with 10^decade as the weight of the penalty; the coefficients are in c.
static bool try_decade(trial *made, const normal *e, double decade) {
  if (!factorise(e->factor, e, pow(10.0, decade))) return false;
  memcpy(e->c, e->right, (size_t)e->n * sizeof *e->c);
  if (!solve(e->c, e->factor, e->n)) return false;
  made->freedom = trace(e);
  double cross = 0.0;
  for (int j = 0; j < e->n; j++) cross += e->c[j] * e->right[j];
  made->misfit = e->squares - 2.0 * cross + times(e->gram, e->n, e->c, e->c);
  made->value = made->misfit + 2.0 * made->freedom;
  if (!e->by_validation) return true;
  double left = (double)e->num_points - made->freedom;
  made->value = cavum_max(made->misfit, 0.0) / (left * left);
  return made->freedom <= MOST_FREEDOM_PART * (double)e->num_points;
}

// A weight so small that rounding makes the matrix singular is none that could be wanted.
static bool choose(double *decade, const normal *e) {
  trial made;
  double best = INFINITY, step = 1.0;
  for (int d = -DECADES_BELOW; d <= DECADES_ABOVE; d++) {
    if (!try_decade(&made, e, d) || !(made.value < best)) continue;
    best = made.value;
    *decade = d;
  }
  for (int i = 0; i < REFINEMENTS && isfinite(best); i++) {
    if (i % 2 == 0) step *= 0.5;
    double sign = i % 2 == 0 ? step : -step;
    if (!try_decade(&made, e, *decade + sign) || !(made.value < best)) continue;
    best = made.value;
    *decade += sign;
  }
  return isfinite(best);
}

static void fill(normal *e, const cavum_smooth *s, const double *along_m, const double *y_m,
                 int64_t n) {
  for (int64_t i = 0; i < n; i++) {
    double b[ORDER], y = y_m[i] / s->scatter_m;
    int k = cavum_smooth_basis(b, s, along_m[i]);
    add_outer(e->gram, k, b, 1.0);
    for (int j = 0; j < ORDER; j++) e->right[k + j] += b[j] * y;
    e->squares += y * y;
  }
  add_penalty(e->penalty, s);
}

static cavum_status fit(cavum_smooth *s, const normal *e, cavum_error *error) {
  double decade = 0.0;
  trial made;
  bool good = choose(&decade, e) && try_decade(&made, e, decade);
  if (!good) return cavum_fail(error, CAVUM_ERR_LIBRARY, "GSL found no smoothing spline");
  s->degrees_of_freedom = made.freedom;
  for (int j = 0; j < e->n; j++) s->coefficients[j] = s->scatter_m * e->c[j];
  s->weight = pow(10.0, decade);
  memcpy(s->matrix, e->factor, (size_t)e->n * ORDER * sizeof *s->matrix);
  memcpy(s->gram, e->gram, (size_t)e->n * ORDER * sizeof *s->gram);
  return CAVUM_OK;
}

// A spline without coefficients yet, and its equations; `work` is to be freed.
static cavum_status prepare(cavum_smooth *made, normal *e, double **work, const double *along_m,
                            const double *y_m, int64_t num_points,
                            const cavum_smooth_settings *settings, cavum_error *error) {
  int64_t intervals = num_points / POINTS_PER_INTERVAL;
  intervals = intervals < 1 ? 1 : intervals > MOST_INTERVALS ? MOST_INTERVALS : intervals;
  *made = (cavum_smooth){.length_m = settings->length_m,
                         .scatter_m = settings->scatter_m,
                         .level_start = settings->level_start,
                         .level_end = settings->level_end,
                         .num_coefficients = (int)intervals + ORDER - 1};
  *e = (normal){.n = made->num_coefficients, .num_points = num_points};
  *work = cavum_alloc((int64_t)e->n * (4 * ORDER + 2), sizeof **work);
  if (!*work) return cavum_fail_memory(error);
  e->gram = *work;
  e->penalty = e->gram + e->n * ORDER;
  e->factor = e->penalty + e->n * ORDER;
  e->inverse = e->factor + e->n * ORDER;
  e->right = e->inverse + e->n * ORDER;
  e->c = e->right + e->n;
  fill(e, made, along_m, y_m, num_points);
  return CAVUM_OK;
}

cavum_status cavum_smooth_fit(cavum_smooth *smooth, const double *along_m, const double *y_m,
                              int64_t num_points, const cavum_smooth_settings *settings,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_smooth made = {0};
  normal e;
  double *work = NULL;
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  CAVUM_TRY(prepare(&made, &e, &work, along_m, y_m, num_points, settings, error));
  made.coefficients = cavum_alloc(e.n, sizeof *made.coefficients);
  made.matrix = cavum_alloc((int64_t)e.n * ORDER, sizeof *made.matrix);
  made.gram = cavum_alloc((int64_t)e.n * ORDER, sizeof *made.gram);
  if (!made.coefficients || !made.matrix || !made.gram) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(fit(&made, &e, error));
  *smooth = made;
  made = (cavum_smooth){0};
done:
  gsl_set_error_handler(handler);
  free(work);
  cavum_smooth_clear(&made);
  return status;
}

cavum_status cavum_smooth_find_scatter(cavum_smooth_scatter *scatter, const double *along_m,
                                       const double *y_m, int64_t num_points,
                                       const cavum_smooth_settings *settings, cavum_error *error) {
  cavum_smooth unused;
  normal e;
  trial made, rougher;
  double *work = NULL, decade = 0.0;
  cavum_status status = prepare(&unused, &e, &work, along_m, y_m, num_points, settings, error);
  if (status != CAVUM_OK) return status;
  e.by_validation = true;
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  // The least is where one decade less is no better, and allowed: else the values leave no scatter.
  bool good = choose(&decade, &e) && try_decade(&rougher, &e, decade - 1.0) &&
              try_decade(&made, &e, decade);
  gsl_set_error_handler(handler);
  free(work);
  double unit = settings->scatter_m * settings->scatter_m;
  *scatter = (cavum_smooth_scatter){.squares_m2 = good ? unit * cavum_max(made.misfit, 0.0) : 0.0,
                                    .degrees_of_freedom = good ? made.freedom : NAN};
  return CAVUM_OK;
}

cavum_status cavum_smooth_rows(double *rows, const cavum_smooth *smooth, const double *along_m,
                               int64_t num_points, const double *weights, cavum_error *error) {
  int n = smooth->num_coefficients;
  double *v = cavum_alloc(n, sizeof *v);
  if (!v) return cavum_fail_memory(error);
  memcpy(v, weights, (size_t)n * sizeof *v);
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  bool solved = solve(v, smooth->matrix, n);
  gsl_set_error_handler(handler);
  for (int64_t i = 0; i < num_points && solved; i++) {
    double b[ORDER];
    int k = cavum_smooth_basis(b, smooth, along_m[i]);
    rows[i] = 0.0;
    for (int j = 0; j < ORDER; j++) rows[i] += b[j] * v[k + j];
  }
  free(v);
  return solved ? CAVUM_OK : cavum_fail(error, CAVUM_ERR_LIBRARY, "GSL solved no spline");
}

// The value is b^T c with c = A^-1 B^T y: its variance is v^T G v, v = A^-1 b.
double cavum_smooth_deviation_m(const cavum_smooth *smooth, double along_m) {
  double v[MOST_INTERVALS + ORDER] = {0}, b[ORDER];
  int k = cavum_smooth_basis(b, smooth, along_m);
  for (int i = 0; i < ORDER; i++) v[k + i] = b[i];
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  bool solved = solve(v, smooth->matrix, smooth->num_coefficients);
  gsl_set_error_handler(handler);
  double square = times(smooth->gram, smooth->num_coefficients, v, v);
  return solved ? smooth->scatter_m * sqrt(cavum_max(square, 0.0)) : NAN;
}

static void add_bends(double *right, const cavum_smooth *s, const double *bends_m) {
  double size = sqrt(BEND_WEIGHT * s->weight);
  for (int i = 0; i < cavum_smooth_num_bends(s); i++) {
    double second[ORDER];
    bend(second, s, i / BENDS, i % BENDS);
    for (int j = 0; j < ORDER; j++) right[i / BENDS + j] += size * second[j] * bends_m[i];
  }
}

cavum_status cavum_smooth_add(double *added, const cavum_smooth *smooth, const double *along_m,
                              const double *more_m, int64_t num_points, const double *bends_m,
                              cavum_error *error) {
  int n = smooth->num_coefficients;
  memset(added, 0, (size_t)n * sizeof *added);
  for (int64_t i = 0; i < num_points; i++) {
    double b[ORDER];
    int k = cavum_smooth_basis(b, smooth, along_m[i]);
    for (int j = 0; j < ORDER; j++) added[k + j] += b[j] * more_m[i];
  }
  if (bends_m) add_bends(added, smooth, bends_m);
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  bool solved = solve(added, smooth->matrix, n);
  gsl_set_error_handler(handler);
  return solved ? CAVUM_OK : cavum_fail(error, CAVUM_ERR_LIBRARY, "GSL solved no spline");
}
