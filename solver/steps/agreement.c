// SPDX-License-Identifier: GPL-3.0-or-later
// Chi-square of measurements, and what each of them adds to it.
#include "steps/agreement.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

#include "base/base.h"

// What is left of a weight below this part is rounding: only that measurement says it.
static const double NOTHING_LEFT = 1e-6;

static double dot(const double *a, const double *b, int n) {
  double sum = 0.0;
  for (int i = 0; i < n; i++) sum += a[i] * b[i];
  return sum;
}

static void set_covariance(double *c, const cavum_measured_set *set) {
  int n = set->num_measured, m = set->num_sources;
  for (int i = 0; i < n; i++) {
    for (int k = 0; k < n; k++) {
      c[i * n + k] =
          dot(set->rows + i * m, set->rows + k * m, m) + (i == k ? set->variance[i] : 0.0);
    }
  }
}

// In place, of a symmetric positive definite matrix, by Gauss and Jordan; no pivots are needed.
static bool invert(double *a, int n) {
  for (int p = 0; p < n; p++) {
    double pivot = a[p * n + p];
    if (!(pivot > 0.0)) return false;
    a[p * n + p] = 1.0;
    for (int k = 0; k < n; k++) a[p * n + k] /= pivot;
    for (int i = 0; i < n; i++) {
      double factor = a[i * n + p];
      if (i == p) continue;
      a[i * n + p] = 0.0;
      for (int k = 0; k < n; k++) a[i * n + k] -= factor * a[p * n + k];
    }
  }
  return true;
}

static void multiply(double *product, const double *w, const double *vector, int n) {
  for (int i = 0; i < n; i++) product[i] = dot(w + i * n, vector, n);
}

// Takes out of the weights what an unstated drawing takes up; true where there is one.
static bool take_out_drawing(double *w, double *work, const cavum_measured_set *set) {
  int n = set->num_measured;
  multiply(work, w, set->by_drawing, n);
  double known = dot(work, set->by_drawing, n);
  if (!(known > 0.0)) return false;
  for (int i = 0; i < n; i++) {
    for (int k = 0; k < n; k++) w[i * n + k] -= work[i] * work[k] / known;
  }
  return true;
}

static void judge_measured(cavum_agreement *made, const double *w, const double *inverse_diagonal,
                           const double *weighted, int n) {
  for (int i = 0; i < n; i++) {
    double weight = w[i * n + i];
    bool alone = !(weight > NOTHING_LEFT * inverse_diagonal[i]);
    made->deviation_hz[i] = alone ? NAN : weighted[i] / weight;
    made->deviation[i] = alone ? NAN : weighted[i] / sqrt(weight);
  }
}

// The derivative of chi-square by a source over its root of variance: what freeing it would gain.
static void judge_sources(cavum_agreement *made, const cavum_measured_set *set, const double *w,
                          const double *weighted, double *column, double *work) {
  int n = set->num_measured, m = set->num_sources;
  for (int s = 0; s < m; s++) {
    for (int i = 0; i < n; i++) column[i] = set->rows[i * m + s];
    multiply(work, w, column, n);
    double known = dot(work, column, n);
    made->source[s] = known > NOTHING_LEFT ? dot(column, weighted, n) / sqrt(known) : 0.0;
  }
}

cavum_status cavum_agreement_judge(cavum_agreement *agreement, const cavum_measured_set *set,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int n = set->num_measured;
  cavum_agreement made = {0};
  double *w = cavum_alloc((int64_t)n * n, sizeof *w),
         *vectors = cavum_alloc(4 * n, sizeof *vectors);
  made.deviation_hz = cavum_alloc(n, sizeof(double));
  made.deviation = cavum_alloc(n, sizeof(double));
  made.source = cavum_alloc(set->num_sources, sizeof(double));
  if (!w || !vectors || !made.deviation_hz || !made.deviation || !made.source) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  double *weighted = vectors, *diagonal = vectors + n, *column = vectors + 2 * n;
  double *work = vectors + 3 * n;
  set_covariance(w, set);
  if (n > 0 && invert(w, n)) {
    for (int i = 0; i < n; i++) diagonal[i] = w[i * n + i];
    made.freedom = n - (take_out_drawing(w, work, set) ? 1 : 0);
    multiply(weighted, w, set->off_hz, n);
    if (made.freedom > 0) {
      made.chi_square = cavum_max(0.0, dot(weighted, set->off_hz, n));
      made.probability = gsl_cdf_chisq_Q(made.chi_square, made.freedom);
      judge_measured(&made, w, diagonal, weighted, n);
      judge_sources(&made, set, w, weighted, column, work);
    }
  }
  *agreement = made;
  made = (cavum_agreement){0};
done:
  cavum_agreement_clear(&made);
  free(w);
  free(vectors);
  return status;
}

void cavum_agreement_clear(cavum_agreement *agreement) {
  free(agreement->deviation_hz);
  free(agreement->deviation);
  free(agreement->source);
  *agreement = (cavum_agreement){0};
}
