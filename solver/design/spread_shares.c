// SPDX-License-Identifier: GPL-3.0-or-later
#include "design/spread_shares.h"

#include <math.h>
#include <stdlib.h>

#include "base/base.h"
#include "design/correlation.h"

// Functions of one dimension, and samples for each number of a fit.
enum { FUNCTIONS = 3, SAMPLES_EACH = 10, MOST_TERMS = FUNCTIONS * CAVUM_TOLERANCES_MOST };

// Sums of the normal equations, about the means.
typedef struct fit_sums {
  int terms, kept;
  double mean[MOST_TERMS], mean_y, square_y;
  double products[MOST_TERMS * MOST_TERMS], with_y[MOST_TERMS];
} fit_sums;

static bool are_independent(const cavum_spread *made) {
  int n = made->num_dimensions;
  for (int i = 0; i < n; i++) {
    for (int k = 0; k < i; k++) {
      if (made->covariance[i * n + k] != 0.0) return false;
    }
  }
  return true;
}

static void list_terms(double *terms, const cavum_spread *made, const double *values) {
  for (int j = 0; j < made->num_dimensions; j++) {
    double u =
        (values[j] - made->dimensions[j].value) / cavum_tolerance_deviation(&made->tolerances[j]);
    terms[FUNCTIONS * j] = u;
    terms[FUNCTIONS * j + 1] = u * u;
    terms[FUNCTIONS * j + 2] = fabs(u);
  }
}

static void find_means(fit_sums *s, const cavum_figure_spread *f, const cavum_spread *made,
                       const double *sample, const double *shapes, int count) {
  double terms[MOST_TERMS];
  for (int i = 0; i < count; i++) {
    if (isnan(sample[i])) continue;
    list_terms(terms, made, shapes + (int64_t)i * made->num_dimensions);
    for (int a = 0; a < s->terms; a++) s->mean[a] += terms[a];
    s->mean_y += sample[i] - f->value;
    s->kept++;
  }
  for (int a = 0; a < s->terms; a++) s->mean[a] /= s->kept;
  s->mean_y /= s->kept;
}

static void add_products(fit_sums *s, const cavum_figure_spread *f, const cavum_spread *made,
                         const double *sample, const double *shapes, int count) {
  double terms[MOST_TERMS];
  for (int i = 0; i < count; i++) {
    if (isnan(sample[i])) continue;
    double y = sample[i] - f->value - s->mean_y;
    list_terms(terms, made, shapes + (int64_t)i * made->num_dimensions);
    for (int a = 0; a < s->terms; a++) terms[a] -= s->mean[a];
    for (int a = 0; a < s->terms; a++) {
      s->with_y[a] += terms[a] * y;
      for (int b = 0; b <= a; b++) s->products[a * s->terms + b] += terms[a] * terms[b];
    }
    s->square_y += y * y;
  }
}

// The coefficients, by Cholesky's factorisation of the correlation of the terms.
static bool solve(double *coefficient, double *root, fit_sums *s) {
  int n = s->terms;
  double size[MOST_TERMS];
  for (int a = 0; a < n; a++) size[a] = sqrt(s->products[a * n + a]);
  for (int a = 0; a < n; a++) {
    if (!(size[a] > 0.0)) return false;
    for (int b = 0; b <= a; b++) s->products[a * n + b] /= size[a] * size[b];
  }
  if (!cavum_correlation_root(root, s->products, n)) return false;
  for (int a = 0; a < n; a++) {
    double sum = s->with_y[a] / size[a];
    for (int b = 0; b < a; b++) sum -= root[a * n + b] * coefficient[b];
    if (!(root[a * n + a] > 0.0)) return false;
    coefficient[a] = sum / root[a * n + a];
  }
  for (int a = n - 1; a >= 0; a--) {
    for (int b = a + 1; b < n; b++) coefficient[a] -= root[b * n + a] * coefficient[b];
    coefficient[a] /= root[a * n + a];
  }
  for (int a = 0; a < n; a++) coefficient[a] /= size[a];
  return true;
}

static void take_shares(cavum_figure_spread *f, const fit_sums *s, const double *coefficient) {
  double sum = 0.0;
  for (int j = 0; j < s->terms / FUNCTIONS; j++) {
    f->share[j] = 0.0;
    for (int a = FUNCTIONS * j; a < FUNCTIONS * (j + 1); a++) {
      f->share[j] += coefficient[a] * s->with_y[a] / s->square_y;
    }
    sum += f->share[j];
  }
  f->has_shares = f->has_sampled_shares = true;
  f->share_together = cavum_max(0.0, 1.0 - sum);
}

cavum_status cavum_spread_fill_sampled_shares(cavum_figure_spread *f, const cavum_spread *made,
                                              const double *sample, const double *shapes, int count,
                                              cavum_error *error) {
  double coefficient[MOST_TERMS];
  if (!are_independent(made)) return CAVUM_OK;
  if (made->num_dimensions == 1) {
    // All of it, whatever the function is.
    f->share[0] = 1.0;
    f->share_together = 0.0;
    f->has_shares = f->has_sampled_shares = true;
    return CAVUM_OK;
  }
  fit_sums *s = cavum_alloc(1, sizeof *s);
  double *root = cavum_alloc(MOST_TERMS * MOST_TERMS, sizeof *root);
  cavum_status status = s && root ? CAVUM_OK : cavum_fail_memory(error);
  if (status == CAVUM_OK) {
    s->terms = FUNCTIONS * made->num_dimensions;
    find_means(s, f, made, sample, shapes, count);
    if (s->kept >= SAMPLES_EACH * (s->terms + 1)) {
      add_products(s, f, made, sample, shapes, count);
      if (s->square_y > 0.0 && solve(coefficient, root, s)) take_shares(f, s, coefficient);
    }
  }
  free(root);
  free(s);
  return status;
}
